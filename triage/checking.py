"""What each of many candidate checks would say, from one compiled case.

`check_values` is `triage.exact.posterior` for both outcomes of every candidate
at once: the case is compiled once, each candidate is a lane or two over it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats
from triage.compiling import WIDTH_BUDGET
from triage.exact import stand
from triage.model import Network
from triage.reading import Evidence
from triage.what_if import both_sides

__all__ = ["CheckValue", "check_values"]


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
    state = stand(network, evidence, all_causes=True, budget=budget)
    compiled, rows, index = state.compiled, state.rows, network.arrays.index
    open_ = [key for key in asked if compiled.seen[index[key]] < 0]
    looked = both_sides(compiled, state.chance, state.log_evidence, open_)
    nothing = np.full(rows.shape, np.nan)
    out = {}
    for key in asked:
        if key in looked:
            view = looked[key]
            on, off = view.on[rows], view.off[rows]
            own = rows == index[key]
            on = np.where(own & ~np.isnan(on), 1.0, on)
            off = np.where(own & ~np.isnan(off), 0.0, off)
            out[key] = _value(network, view.probability_on, on, off)
        else:
            there = bool(compiled.seen[index[key]])
            sides = (state.q, nothing) if there else (nothing, state.q)
            out[key] = _value(network, float(there), *sides)
    return out


def _value(network: Network, chance: float, on: Floats, off: Floats) -> CheckValue:
    """Return the arrays by cause."""
    return CheckValue(
        chance,
        dict(zip(network.causes, on.tolist(), strict=True)),
        dict(zip(network.causes, off.tolist(), strict=True)),
    )
