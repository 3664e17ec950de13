"""Gates that open again: a reason is seen after something was done to close them.

The one idea: the nuts were tightened, the gate closed, and then a knock is written down, once
more or for the first time. The look at the wheel is older than it, so it does not count. What
is seen then is written down as an opening of its own, signed by the program: it stays whatever
becomes of the statement. A chance that rises again is seen by the lists (`api.jobs.risen`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence

from api.answering.gating import NOW
from api.jobs.opened import event_id
from api.store import events as happened
from api.store.events import Body, GateOpened, NewEvent, Recorded
from api.store.fold import JobState
from graph.terms import Gate, Knowledge
from triage.gate_closing import Answered, Event, Looked, Opened, Overruled, Signed
from triage.gates import CORNERS, Situation, openings

__all__ = ["closes", "may_reopen", "reopenings"]

_ALL = CORNERS["vehicle"]


def may_reopen(body: Body) -> bool:
    """Return whether a statement may say once more what opened a gate; cheap."""
    match body:
        case happened.FindingSeen(finding=finding):
            return finding.state != "absent"
        case happened.GateAnswered(answer=answer):
            return answer != "no"
        case happened.VerdictGiven(verdict=verdict):
            return verdict.verdict == "found"
        case _:
            return isinstance(body, happened.CodeRead | happened.ReadingTaken)


def reopenings(
    knowledge: Knowledge, before: JobState, after: JobState, written: Sequence[Recorded]
) -> list[NewEvent]:
    """Return the openings that what was just written stands for.

    Parameters
    ----------
    before, after : the job without and with what was written
    written : the events
    """
    seen = _seen(knowledge, before, after, written)
    if not seen:
        return []
    found, situation = [], _situation(knowledge, after)
    for gate in knowledge.gates.values():
        if gate.stage in NOW:
            found += _of_gate(gate, situation, before.record.events, seen)
    last = written[-1]
    return [
        NewEvent(id=_id(before.job, body, last.id), device_time=last.device_time, body=body)
        for body in found
    ]


def _of_gate(
    gate: Gate, situation: Situation, record: Sequence[Event], seen: Mapping[str, frozenset[str]]
) -> list[GateOpened]:
    """Return the openings of one gate: each reason that holds and was just seen."""
    holds = {hit.because for hit in openings(gate, situation)}
    out = []
    for trigger in gate.triggers:
        terms = {*trigger.findings, *trigger.codes, *trigger.verdicts} & set(seen)
        because = next((told for told in holds if told.startswith(trigger.because)), "")
        level = trigger.level or gate.level
        if terms and because and _worked_on_since(gate, record, trigger.because):
            corners = frozenset().union(*(seen[term] for term in terms))
            out.append(
                GateOpened(
                    gate=gate.id,
                    because=because,
                    level=level,  # type: ignore[arg-type]
                    corners=tuple(sorted(corners)),  # type: ignore[arg-type]
                )
            )
    return out


def _situation(knowledge: Knowledge, after: JobState) -> Situation:
    """Return what is known of the car without any arithmetic."""
    case = after.case
    told = {one.finding for one in after.record.events if isinstance(one, Answered)}
    no = {e.finding for e in after.record.events if isinstance(e, Answered) and e.answer == "no"}
    codes = (term for code in case.codes for term in _codes(knowledge, code.code))
    present = {finding.id for finding in case.findings if finding.state == "present"}
    return Situation(
        present=frozenset({*present, *codes}),
        unsure=frozenset({f.id for f in case.findings if f.state == "unknown"} | (told - no)),
        contexts=frozenset(case.context),
        facts=frozenset(case.vehicle.facts),
        found=frozenset(v.cause for v in case.verdicts if v.verdict == "found" and v.cause),
        age_years=case.vehicle.age_years,
        salted=case.vehicle.salted_roads,
    )


def _worked_on_since(gate: Gate, record: Sequence[Event], because: str) -> bool:
    """Return whether something was done to close a gate since it last opened for a reason."""
    opened = [
        place
        for place, event in enumerate(record)
        if isinstance(event, Opened) and event.gate == gate.id and event.because.startswith(because)
    ]
    return any(closes(gate, event) for event in record[opened[-1] + 1 if opened else 0 :])


def closes(gate: Gate, event: Event) -> bool:
    """Return whether an event counts towards closing a gate."""
    if isinstance(event, Looked):
        counts = event.result == "not-found" and event.who.role != "trainee"
        return counts and event.check in gate.closes_on
    return isinstance(event, Signed | Overruled) and event.gate == gate.id


def _seen(
    knowledge: Knowledge, before: JobState, after: JobState, written: Sequence[Recorded]
) -> dict[str, frozenset[str]]:
    """Return what was just said to be there, with its corners; unknown counts as there."""
    rows = [row for event in written for row in _told(knowledge, event.body)]
    for look in after.record.events[len(before.record.events) :]:
        if isinstance(look, Looked) and look.result == "found":
            rows += [(term, CORNERS[look.place]) for term in look.finds]
    out: dict[str, frozenset[str]] = {}
    for term, corners in rows:
        out[term] = out.get(term, frozenset()) | corners
    return out


def _told(knowledge: Knowledge, body: Body) -> list[tuple[str, frozenset[str]]]:
    """Return what one statement says is there, with its corners."""
    match body:
        case happened.FindingSeen(finding=finding) if finding.state != "absent":
            return [(finding.id, CORNERS.get(finding.place or "vehicle", _ALL))]
        case happened.GateAnswered(finding=term, answer=answer, corners=corners):
            return [] if answer == "no" else [(term, frozenset(corners) or _ALL)]
        case happened.CodeRead(codes=codes):
            return [(term, _ALL) for code in codes for term in _codes(knowledge, code.code)]
        case _:
            return []


def _codes(knowledge: Knowledge, written: str) -> list[str]:
    """Return the codes of the knowledge that are written so, in either layout."""
    notation = written.upper().partition("-")[0]
    return [c.id for c in knowledge.codes.values() if notation in (c.notation, *c.earlier)]


def _id(job: str, body: GateOpened, seen: str) -> str:
    """Return the id of an opening that follows on an event; always the same one."""
    whole = f"{event_id(job, body)}\0{seen}"
    return f"gate-{hashlib.sha256(whole.encode()).hexdigest()[:40]}"
