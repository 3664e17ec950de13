"""What each of many candidate checks would say, from one compiled case.

`check_values` is `triage.exact.posterior` for both outcomes of every candidate
at once: the case is compiled once, each candidate is a lane or two over it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats
from triage.compiling import WIDTH_BUDGET, Evidence
from triage.errors import ImpossibleEvidenceError
from triage.exact import posterior, stand
from triage.model import Network
from triage.what_if import views

__all__ = ["CheckValue", "check_values"]

#: Below this chance an outcome is computed by itself, not by total probability.
_RARE = 1e-5


@dataclass(frozen=True, slots=True)
class CheckValue:
    """What would be known after a check came out on, and after it came out off.

    A side that cannot happen has `nan` for every cause.
    """

    probability_on: float
    causes_on: Mapping[str, float]
    causes_off: Mapping[str, float]


def check_values(
    network: Network, evidence: Evidence, checks: Iterable[str], *, budget: int = WIDTH_BUDGET
) -> dict[str, CheckValue]:
    """Return, for each candidate node, its chance and what either outcome would say.

    Parameters
    ----------
    network, evidence, budget : as in `triage.exact.posterior`
    checks : ids of the candidate nodes; any node of the network may be one

    Raises
    ------
    UnknownTermError, ParameterError, ImpossibleEvidenceError, InferenceTooLargeError
        As `triage.exact.posterior` does.

    Examples
    --------
    >>> from triage.model import Node, Parent
    >>> network = Network([
    ...     Node("play", "cause", 0.1),
    ...     Node("shake", "finding", 0.0, (Parent("play", 0.5),)),
    ... ])
    >>> value = check_values(network, {}, ["shake"])["shake"]
    >>> round(value.probability_on, 12), value.causes_on["play"]
    (0.05, 1.0)
    """
    asked = [network.require(key, where="checks").id for key in dict.fromkeys(checks)]
    state = stand(network, evidence, budget=budget)
    compiled, rows, index = state.compiled, state.rows, network.arrays.index
    open_ = [key for key in asked if compiled.seen[index[key]] < 0]
    looked = views(compiled, state.chance, state.log_evidence, open_)
    nothing = np.full(rows.shape, np.nan)
    out = {}
    for key in asked:
        if key not in looked:
            there = bool(compiled.seen[index[key]])
            known = state.q
            sides = (known, nothing) if there else (nothing, known)
            out[key] = _value(network, float(there), *sides)
            continue
        view = looked[key]
        on, off = view.on[rows], view.off[rows]
        if view.probability_on < _RARE:
            chance, on = _by_itself(network, evidence, key, state.log_evidence)
            out[key] = _value(network, chance, on, off)
        else:
            out[key] = _value(network, view.probability_on, on, off)
    return out


def _value(network: Network, chance: float, on: Floats, off: Floats) -> CheckValue:
    """Return the arrays by cause."""
    return CheckValue(
        chance,
        dict(zip(network.causes, on.tolist(), strict=True)),
        dict(zip(network.causes, off.tolist(), strict=True)),
    )


def _by_itself(
    network: Network, evidence: Evidence, key: str, log_evidence: float
) -> tuple[float, Floats]:
    """Return chance and causes of a rare outcome, computed with it as evidence."""
    ratio = evidence.get(key, 1.0)
    try:
        found = posterior(network, {**evidence, key: True})
    except ImpossibleEvidenceError:
        return 0.0, np.full(len(network.causes), np.nan)
    chance = float(np.exp(found.log_evidence - log_evidence) * ratio)
    return chance, np.array([found.causes[cause] for cause in network.causes])
