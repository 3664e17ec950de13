"""What a job looks like, worked out from its events.

The one idea: a pure function of the record. Given the same events it gives the same state, on
any machine and at any later time, which is why a past state can be shown again exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeVar

from api.answering.gating import GateRecord
from api.documents.case import (
    Case,
    CaseCode,
    CaseFinding,
    CaseVehicle,
    CaseVerdict,
)
from api.store import events as happened
from api.store.events import Recorded
from api.store.looks import Looks
from api.store.undo import taken_back
from triage.codes import TroubleCode
from triage.errors import ParameterError
from triage.gate_closing import Answered, Event, Opened, Overruled, Signed
from triage.measure.conformity import nonconformance_probability

__all__ = ["HistoryRow", "JobState", "fold"]

_K = TypeVar("_K")
_V = TypeVar("_V")


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One line of the history.

    Attributes
    ----------
    recorded : the event
    taken_back : whether it counts for nothing now
    by : name of whoever took it back, or empty
    """

    recorded: Recorded
    taken_back: bool
    by: str = ""


@dataclass(frozen=True, slots=True)
class JobState:
    """A job after its events.

    Attributes
    ----------
    version : seq of the last event that was read
    case : what is known of the car, ready to be answered
    record : what was written down about the gates
    notes, photos, unmatched, comebacks : the events themselves, in order
    waiting_for : empty = nothing
    closed : the closing, or None while the job is open
    last : server time of the last event
    history : every event in order, taken back or not
    """

    job: str
    shop: str
    ticket: str
    opened: datetime
    version: int
    case: Case
    record: GateRecord
    notes: tuple[Recorded, ...]
    photos: tuple[Recorded, ...]
    unmatched: tuple[Recorded, ...]
    waiting_for: str
    closed: happened.Closed | None
    comebacks: tuple[Recorded, ...]
    last: datetime
    history: tuple[HistoryRow, ...]


def fold(job: str, shop: str, events: Sequence[Recorded], upto: int | None = None) -> JobState:
    """Return a job after its events, or after the first `upto` of them.

    Parameters
    ----------
    job, shop : ids
    events : in the order of their seq, which starts at 1
    upto : seq of the last event that counts, at least 1; None = all

    Raises
    ------
    ParameterError
        If there is no event to read.
    """
    read = [event for event in events if upto is None or event.seq <= upto]
    if not read:
        raise ParameterError(
            "the version", upto, allowed="1 or more", where=f"job {job!r}", remedy="ask for one"
        )
    gone = taken_back(read)
    draft = _Draft()
    for event in read:
        if event.id not in gone:
            draft.take(event)
    rows = tuple(HistoryRow(event, event.id in gone, gone.get(event.id, "")) for event in read)
    return draft.state(job, shop, rows)


@dataclass(slots=True)
class _Draft:
    """The state while the events are read."""

    ticket: str = ""
    vehicle: CaseVehicle = field(default_factory=CaseVehicle)
    context: tuple[str, ...] = ()
    complaint: str = ""
    codes: dict[tuple[str, str, str], CaseCode] = field(default_factory=dict)
    findings: dict[tuple[str, str | None], CaseFinding] = field(default_factory=dict)
    verdicts: dict[tuple[str | None, ...], CaseVerdict] = field(default_factory=dict)
    gates: list[Event] = field(default_factory=list)
    looks: Looks = field(default_factory=Looks)
    notes: list[Recorded] = field(default_factory=list)
    photos: list[Recorded] = field(default_factory=list)
    unmatched: list[Recorded] = field(default_factory=list)
    comebacks: list[Recorded] = field(default_factory=list)
    waiting_for: str = ""
    closed: happened.Closed | None = None

    def take(self, event: Recorded) -> None:
        """Take in one event that was not taken back."""
        self._take_about_car(event)
        self._take_about_gates(event)
        self._take_about_job(event)

    def _take_about_car(self, event: Recorded) -> None:
        match event.body:
            case happened.WrittenUp() as written:
                self.ticket, self.vehicle = written.ticket, written.vehicle
                self.context, self.complaint = written.context, written.complaint
            case happened.CodeRead(codes=codes):
                for code in codes:
                    self._code(code)
            case happened.FindingSeen(finding=finding):
                _last(self.findings, (finding.id, finding.place), finding)
            case happened.VerdictGiven(verdict=verdict):
                self._verdict(event, verdict, verdict.verdict)
            case happened.ReadingTaken() as taken:
                self._verdict(event, *_from_reading(taken))
            case happened.IntakeDone(check=check):
                verdict = CaseVerdict(check=check, verdict="not-found")
                self._verdict(event, verdict, "not-found")
            case _:
                pass

    def _take_about_gates(self, event: Recorded) -> None:
        who = Looks.person(event.who)
        match event.body:
            case happened.GateOpened() as opened:
                corners = frozenset[str](opened.corners)
                self.gates.append(Opened(opened.gate, opened.because, opened.level, corners))
            case happened.GateAnswered() as answered:
                corners = frozenset[str](answered.corners)
                self.gates.append(Answered(answered.finding, answered.answer, corners))
            case happened.GateClosed(gate=gate):
                self.gates.append(Signed(gate, who))
            case happened.GateOverruled() as over:
                when = event.server_time.isoformat()
                self.gates.append(Overruled(over.gate, who, over.reason, over.instead, when))
            case _:
                pass

    def _take_about_job(self, event: Recorded) -> None:
        match event.body:
            case happened.Note():
                self.notes.append(event)
            case happened.PhotoTaken():
                self.photos.append(event)
            case happened.Unmatched():
                self.unmatched.append(event)
            case happened.Waiting(waiting_for=what):
                self.waiting_for = what
            case happened.Closed() as closed:
                self.closed, self.waiting_for = closed, ""
            case happened.Comeback():
                self.closed = None
                self.comebacks.append(event)
            case _:
                pass

    def _code(self, code: CaseCode) -> None:
        """Put a code in, in place of the same one read before.

        Two failure types of one code are two codes; one without failure type is the same as
        any.
        """
        read = TroubleCode.parse(code.code)
        written = "" if read.failure_type is None else f"{read.failure_type:02X}"
        kind = code.failure_type.upper() or written
        for key in [key for key in self.codes if key[:2] == (read.notation, code.module)]:
            if not kind or not key[2] or key[2] == kind:
                del self.codes[key]
        self.codes[read.notation, code.module, kind] = code

    def _verdict(self, event: Recorded, verdict: CaseVerdict, for_gates: str) -> None:
        """Put a verdict in, in place of the same one given before."""
        _last(self.verdicts, (verdict.check, verdict.place, verdict.cause, verdict.at), verdict)
        self.gates += self.looks.from_verdict(verdict, for_gates, event.who)

    def state(self, job: str, shop: str, rows: tuple[HistoryRow, ...]) -> JobState:
        """Return the state, frozen."""
        last = rows[-1].recorded
        case = Case(
            format="drypark-case/1",
            case=job,
            vehicle=self.vehicle,
            context=self.context,
            complaint=self.complaint,
            codes=tuple(self.codes.values()),
            findings=tuple(self.findings.values()),
            verdicts=tuple(self.verdicts.values()),
        )
        return JobState(
            job=job,
            shop=shop,
            ticket=self.ticket,
            opened=rows[0].recorded.server_time,
            version=last.seq,
            case=case,
            record=GateRecord(tuple(self.gates)),
            notes=tuple(self.notes),
            photos=tuple(self.photos),
            unmatched=tuple(self.unmatched),
            waiting_for=self.waiting_for,
            closed=self.closed,
            comebacks=tuple(self.comebacks),
            last=last.server_time,
            history=rows,
        )


def _last(rows: dict[_K, _V], key: _K, value: _V) -> None:
    """Set a row that was said last, and put it last."""
    rows.pop(key, None)
    rows[key] = value


#: A reading closes a gate only when it is beyond its limit with a chance of no more than this.
_SURE_ENOUGH = 0.05


def _from_reading(taken: happened.ReadingTaken) -> tuple[CaseVerdict, str]:
    """Return the verdict of a reading, and what it counts for at a gate.

    The word of the verdict compares value and limit. At a gate, where a wrong "nothing found"
    is dangerous, a reading that may well be beyond its limit is no answer.
    """
    read = taken.reading
    beyond = read.value - read.limit if read.limit_kind == "upper" else read.limit - read.value
    chance = nonconformance_probability(read)
    verdict = CaseVerdict(
        check=taken.check,
        place=taken.place,
        cause=taken.cause,
        at=taken.at,
        verdict="found" if beyond > 0 else "not-found",
        reading=read,
    )
    unsure = beyond <= 0 and chance > _SURE_ENOUGH
    return verdict, "cant-tell" if unsure else verdict.verdict
