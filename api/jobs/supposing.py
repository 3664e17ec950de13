"""A job as it would stand if something were written down: nothing is.

The one idea: what may be said next is few things, and a job is the fold of what was said. So the
job after each of them can be had before anybody says it, by the same rules and without a word in
the record.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Final

from api.answering.prices import kind_of, place_of
from api.documents import Answer, CheckRow
from api.documents.case import CaseVerdict
from api.jobs.opened import PROGRAM
from api.jobs.reopening import may_reopen, reopenings
from api.store.events import Body, IntakeDone, Recorded, VerdictGiven, Who
from api.store.fold import JobState, fold
from graph.terms import Knowledge

__all__ = ["likely_next", "suppose"]

#: Things found that are thought of, the most telling first.
FINDS: Final = 3
#: How soon the others are thought of, beside chances: there is no number for them anywhere.
_INTAKE, _CANT_TELL = 0.5, 0.02


def likely_next(knowledge: Knowledge, answer: Answer) -> list[tuple[float, Body]]:
    """Return what may be written down next about the first check of a list, with its weight.

    The weight says what to think of first. Of "not found" it is the chance of it; the chance of
    finding something is shared out among what the check finds, most telling first.

    Parameters
    ----------
    answer : a list, its account made or not
    """
    said: list[tuple[float, Body]] = [
        (_INTAKE, IntakeDone(check=step)) for step in answer.intake[:1] if step in knowledge.checks
    ]
    if answer.checks:
        said += _of_check(knowledge, answer.checks[0])
    return sorted(said, key=lambda one: -one[0])


def _of_check(knowledge: Knowledge, row: CheckRow) -> list[tuple[float, Body]]:
    """Return the answers to one check, in the form in which the bay sheet writes them."""
    said: list[tuple[float, Body]] = [
        (1.0 - row.chance_found, _verdict(row, "not-found")),
        (_CANT_TELL, _verdict(row, "cant-tell")),
    ]
    if knowledge.checks[row.id].kind == "one-verdict":
        return [*said, (row.chance_found, _verdict(row, "found"))]
    for rank, node in enumerate(row.finds[:FINDS], 1):
        found = _verdict(row, "found", cause=kind_of(node), at=place_of(node))
        said.append((row.chance_found / 2**rank, found))
    return said


def _verdict(row: CheckRow, verdict: str, **about: str) -> VerdictGiven:
    given = {"check": row.id, "place": row.place, "verdict": verdict, **about}
    return VerdictGiven(verdict=CaseVerdict.model_validate(given))


def suppose(knowledge: Knowledge, state: JobState, who: Who, bodies: Sequence[Body]) -> JobState:
    """Return a job as it would stand if somebody wrote something down, and what follows on it.

    Parameters
    ----------
    state : the job as it stands
    who : in whose name
    bodies : what is written; gates that it opens again are, as `api.jobs.writing.write` does

    Raises
    ------
    ValidationError
        If the job would hold more than a case can.
    """
    after, told = _with(state, who, bodies)
    if not any(may_reopen(body) for body in bodies):
        return after
    again = [event.body for event in reopenings(knowledge, state, after, told)]
    return _with(after, PROGRAM, again)[0] if again else after


def _with(state: JobState, who: Who, bodies: Sequence[Body]) -> tuple[JobState, list[Recorded]]:
    """Return a job with events that are in no record, and the events."""
    now = datetime.now(UTC)
    told = [
        Recorded(seq, state.job, f"supposed-{seq}", body, who, now, now, "")
        for seq, body in enumerate(bodies, state.version + 1)
    ]
    before = [row.recorded for row in state.history]
    return fold(state.job, state.shop, [*before, *told]), told
