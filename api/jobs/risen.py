"""Gates that open again because a chance has risen: over its threshold since they were closed.

The one idea: a chance moves with every answer, and most of its moves mean nothing at a gate. What
means something is a crossing. A gate that is closed opens again when the chance of a trigger is
over its threshold now and was under it at some answer since the closing. So it never opens again
on the evidence that it was closed on, and a chance that stayed over all the while opens nothing:
somebody has looked, knowing it.

Each list is held against the list before it, which is at hand. Only where nobody saw a list
since the closing - a tablet sent it with what followed - the state at the closing is worked out.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from api.documents import Answer, GateChance
from api.jobs.opened import RISEN, event_id
from api.jobs.reopening import closes
from api.store.events import GateOpened, NewEvent
from api.store.fold import JobState
from graph.terms import Knowledge
from triage.gates import Opening

__all__ = ["Past", "likely_though_closed", "risen", "risen_events"]


class Stands(Protocol):
    """Returns a job of a shop as it stood at a version."""

    def __call__(self, shop: str, job: str, upto: int) -> JobState:
        """Return it."""


@dataclass(frozen=True, slots=True)
class Past:
    """How jobs stood before.

    Attributes
    ----------
    at : as it stood at a version
    shown : the list that a state was shown, if any
    holds : every trigger that holds in a state; takes an evaluation
    """

    at: Stands
    shown: Callable[[JobState], Answer | None]
    holds: Callable[[JobState], Sequence[Opening]]


def risen(knowledge: Knowledge, state: JobState, answer: Answer, past: Past) -> list[GateOpened]:
    """Return the openings of closed gates whose chance has risen since they were closed.

    Parameters
    ----------
    state : the job as it stands
    answer : its list
    past : how it stood before
    """
    over = likely_though_closed(answer)
    if not over:
        return []
    before = _before(state, past)
    return [
        GateOpened(
            gate=row.gate,
            because=f"{row.because}{RISEN}",
            level=row.level,
            corners=row.corners,
        )
        for row in over
        if _was_under((knowledge, state), row, before, past)
    ]


def risen_events(job: JobState, bodies: Sequence[GateOpened], now: datetime) -> list[NewEvent]:
    """Return the events of such openings; one for each gate, reason and version of the job."""
    out = []
    for body in bodies:
        whole = f"{event_id(job.job, body)}\0{job.version}"
        name = f"gate-{hashlib.sha256(whole.encode()).hexdigest()[:40]}"
        out.append(NewEvent(id=name, device_time=now, body=body))
    return out


def likely_though_closed(answer: Answer) -> list[GateChance]:
    """Return the triggers whose chance is over its threshold though their gate is closed; cheap.

    The same list can stand for two states of a job, one before and one after a crossing.
    """
    return [row for row in answer.likely or () if not _open(answer, row.gate)]


def _open(answer: Answer, gate: str) -> bool:
    """Return whether a gate is open for a reason."""
    return any(row.id == gate and row.because for row in answer.gates)


def _before(state: JobState, past: Past) -> tuple[int, Answer | None]:
    """Return the last version before this one that a list was shown for, and the list."""
    for version in range(state.version - 1, 0, -1):
        answer = past.shown(past.at(state.shop, state.job, version))
        if answer is not None and answer.likely is not None:
            return version, answer
    return 0, None


def _was_under(
    now: tuple[Knowledge, JobState],
    row: GateChance,
    before: tuple[int, Answer | None],
    past: Past,
) -> bool:
    """Return whether a chance was under its threshold since the gate was closed."""
    (knowledge, state), (version, answer) = now, before
    if answer is not None and not _open(answer, row.gate):
        return _none(answer.likely or (), row)
    acts = _acts(knowledge, state, row.gate)
    for between in range(version + 1, state.version):
        then = past.at(state.shop, state.job, between)
        if _acts(knowledge, then, row.gate) == acts:
            return _none(past.holds(then), row)
    return False


def _none(hits: Sequence[Opening | GateChance], row: GateChance) -> bool:
    """Return whether none of some triggers that hold is this one."""
    return all((hit.gate, hit.because) != (row.gate, row.because) for hit in hits)


def _acts(knowledge: Knowledge, state: JobState, gate: str) -> int:
    """Return how many things were done towards closing a gate."""
    return sum(closes(knowledge.gates[gate], event) for event in state.record.events)
