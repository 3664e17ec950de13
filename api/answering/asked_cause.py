"""The account of whichever cause somebody asks about, made when it is asked for.

The one idea: the answer explains its first cause; a technician asks about the one that he would
have bet on. That account is the same arithmetic about another cause: what each statement added,
its strongest paths, why it rather than the part that a code names, and what would move it.
It is made for one cause at a time, step by step, so that whoever waits sees how far it is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from api.answering.reasons import path_rows
from api.answering.why import ORDER, added_one_by_one, changes_of, rather_than, said
from api.documents import Why
from graph.build import compile_case
from graph.case import CaseInput
from graph.compiled import CompiledCase, combine
from graph.terms import Knowledge
from triage.compiling import WIDTH_BUDGET, WORK_BUDGET
from triage.compiling import compile_case as plan_case
from triage.exact import Standing, stand
from triage.explain import leave_one_out

__all__ = ["STEPS", "AskedCause", "account_of_cause"]

#: What is counted; a step is done when the next one begins.
STEPS: Final = (
    "waiting for its turn",
    "reading the case",
    "what each statement adds",
    "what speaks for it rather than for the other",
    "what would change it",
)
_PATHS: Final = 3
_NO_BUDGET: Final = 64  # nothing is built, only planned


@dataclass(frozen=True, slots=True)
class AskedCause:
    """What somebody asks about.

    Attributes
    ----------
    cause : node id, e.g. ``rc-bearing-play@lr``
    ranked : causes that are shown, the first first
    work : products that one sweep may take; past it there are the paths alone, since the account
        of a case without some of its findings would mislead
    """

    cause: str
    ranked: tuple[str, ...] = ()
    work: float = WORK_BUDGET


def account_of_cause(
    knowledge: Knowledge,
    case: CaseInput,
    asked: AskedCause,
    step: Callable[[int], None] = lambda _number: None,
) -> Why:
    """Return the account of one cause.

    Parameters
    ----------
    knowledge, case : what the answer was made from
    asked : the cause, and what stands beside it
    step : told which of `STEPS` begins; what it raises ends the work

    Raises
    ------
    TriageError
        If the case can't be answered as a whole.
    """
    step(1)
    cause = asked.cause
    compiled = compile_case(knowledge, case)
    paths = path_rows(knowledge, compiled, (cause,), most=_PATHS)[cause]
    planned = plan_case(compiled.network, compiled.evidence, budget=_NO_BUDGET)
    if planned.width > WIDTH_BUDGET or planned.plan.cost > asked.work:
        return Why(cause=cause, paths=paths)
    state = stand(compiled.network, compiled.evidence)
    step(2)
    (prior, posterior), parts = added_one_by_one(state, compiled, cause)
    step(3)
    other = _other(state, compiled, cause, asked.ranked)
    contrast = None
    if other:
        weights = leave_one_out(state, compiled.items, said, combine, (cause, other))
        contrast = rather_than(compiled, weights, cause, other)
    step(4)
    return Why(
        cause=cause,
        order=ORDER,
        prior_decibans=prior,
        incremental=parts,
        posterior_decibans=posterior,
        paths=paths,
        contrast=contrast,
        would_change=changes_of(knowledge, compiled, state, cause),
    )


def _other(state: Standing, compiled: CompiledCase, cause: str, ranked: Sequence[str]) -> str:
    """Return the likeliest part that a code names; where that is the cause, the first other one."""
    index = compiled.network.arrays.index
    parts = [part for part in compiled.parts if part in index and part != cause]
    if parts:
        return max(parts, key=lambda node: float(state.chance[index[node]]))
    return next((one for one in ranked if one != cause and one in index), "")
