"""The standing of one car: posterior and responsibility of every cause, without explanations.

The lean way through the engine: one compilation and one evaluation. A cause with parents of its
own that nothing seen depends on keeps its base; working that out is what makes an answer slow,
and no strategy looks there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from graph.compiled import CheckItem, Value
from triage.arrays import Floats, Ints
from triage.compiling import Compiled, compile_case
from triage.errors import InferenceTooLargeError
from triage.model import Network
from triage.responsibility import inhibited_ratio, responsibility

__all__ = ["OverBudgetError", "Picture", "add_answers", "judge"]


class OverBudgetError(Exception):
    """The predicted work of one evaluation is over the stated budget."""


@dataclass(frozen=True, slots=True)
class Picture:
    """What is known of the causes: (causes,) arrays in the order of `Network.causes`."""

    rows: Ints
    q: Floats
    r: Floats
    work: float  # predicted products of one evaluation


def judge(
    network: Network, evidence: Mapping[str, Value], work: float, *, parts: bool = True
) -> Picture:
    """Return posteriors, and responsibilities if `parts`, else the posteriors in their stead.

    Raises
    ------
    OverBudgetError
        If the predicted work is over `work` products; nothing was computed then.
    """
    try:
        compiled = compile_case(network, evidence)
    except InferenceTooLargeError:
        raise OverBudgetError(
            "one evaluation would take more work than the stated budget"
        ) from None
    if compiled.plan.cost > work:
        raise OverBudgetError("one evaluation would take more work than the stated budget")
    chance = _chances(compiled)
    rows = np.flatnonzero(network.arrays.is_cause == 1)
    q = chance[rows]
    if not parts:
        return Picture(rows, q, q, compiled.plan.cost)
    r = responsibility(q, inhibited_ratio(compiled, rows, 1.0 - q))
    loose = (compiled.value_axis[rows] < 0) & (compiled.seen[rows] < 0)
    r[loose] = 0.0
    return Picture(rows, q, r, compiled.plan.cost)


def _chances(compiled: Compiled) -> Floats:
    """Return P(on) of every node; its base where nothing seen depends on it."""
    chance = compiled.as_it_stands[1]
    return np.where(np.isnan(chance), compiled.network.arrays.base, chance)


def add_answers(
    evidence: dict[str, Value], offer: CheckItem, found: tuple[bool, ...], *, whole: bool
) -> None:
    """Add the answers of one check to the evidence.

    A located verdict multiplies the ratio on its target. A check with one verdict is evidence on
    its node, if `whole`; otherwise it is left out.
    """
    for verdict, here in zip(offer.verdicts, found, strict=True):
        if verdict.node is not None:
            if whole:
                evidence[verdict.node] = here
            continue
        on, off = verdict.p_found_if_on, verdict.p_found_if_off
        ratio = on / off if here else (1.0 - on) / (1.0 - off)
        before = evidence.get(verdict.target, 1.0)
        if not isinstance(before, bool):
            evidence[verdict.target] = float(before) * ratio
