"""Gates that an answer opens and the record does not have yet.

The one idea: a gate must stay open whatever becomes of what opened it, so what opened it is
written down by the program itself. The event's id is made from job, gate, level and reason:
however many answers see the same reason, it is written once.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from api.answering.gating import GateRecord, openings_in, situation_of
from api.documents import Answer, Case
from api.store.events import GateOpened, Who
from graph.build import compile_case
from graph.terms import Knowledge
from triage.exact import stand
from triage.gate_closing import Opened
from triage.gates import Opening

__all__ = ["PROGRAM", "RISEN", "event_id", "has_new_reason", "openings_of", "unwritten"]

#: Who signs what the program itself writes down.
PROGRAM = Who(id="drypark", name="Drypark", role="trainee")  # a role that closes nothing
#: Follows the reason of a gate that a chance opens again.
RISEN = ": the chance has risen since the gate was closed"


def has_new_reason(answer: Answer, record: GateRecord) -> bool:
    """Return whether an answer shows a reason that the record does not have; cheap."""
    known = {(event.gate, event.because) for event in record.events if isinstance(event, Opened)}
    return any((gate.id, reason) not in known for gate in answer.gates for reason in gate.because)


def openings_of(knowledge: Knowledge, case: Case) -> list[Opening]:
    """Return every trigger that holds in a case, with the corners it concerns.

    Takes about one evaluation of the case; ask `has_new_reason` first.
    """
    given = case.to_input()
    compiled = compile_case(knowledge, given)
    state = stand(compiled.network, compiled.evidence)
    return openings_in(knowledge, situation_of(given, compiled, state, knowledge))


def unwritten(hits: Sequence[Opening], record: GateRecord) -> list[GateOpened]:
    """Return an event body for each opening that the record does not have."""
    known = {
        (event.gate, event.because.removesuffix(RISEN), event.level)
        for event in record.events
        if isinstance(event, Opened)
    }
    fresh = {(hit.gate, hit.because, hit.level): hit for hit in hits}
    return [
        GateOpened(
            kind="gate-opened",
            gate=hit.gate,
            because=hit.because,
            level=hit.level,  # type: ignore[arg-type]
            corners=tuple(sorted(hit.corners)),  # type: ignore[arg-type]
        )
        for key, hit in fresh.items()
        if key not in known
    ]


def event_id(job: str, body: GateOpened) -> str:
    """Return the id of the event that writes down an opening; always the same one.

    Examples
    --------
    >>> body = GateOpened(gate="sg-x", because="a reason", level="none", corners=("lf",))
    >>> event_id("job-1", body) == event_id("job-1", body), len(event_id("job-1", body))
    (True, 45)
    """
    text = "\0".join((job, body.gate, body.level, body.because))
    return f"gate-{hashlib.sha256(text.encode()).hexdigest()[:40]}"
