"""Writing into a job: who may say what, and whether the knowledge knows it.

The one idea: one way in. The pages and the interface for programs write through these two
functions, so that a rule stands once. A sending is written whole or not at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from api.accounts.permissions import ROLES
from api.documents import Case, DocumentRefusedError, check_terms
from api.documents.case import CaseVerdict
from api.jobs.desk import Desk
from api.jobs.opened import PROGRAM
from api.jobs.reopening import may_reopen, reopenings
from api.problems import ProblemError
from api.store import events as happened
from api.store.engine import Store
from api.store.events import Body, NewEvent, Recorded
from api.store.people import Person
from api.store.photos import PhotoError
from graph.terms import Knowledge
from triage.errors import DocumentError, TriageError, UnknownTermError

__all__ = ["MAX_SENT", "WHO_WRITES", "open_job", "write"]

#: Events of one sending.
MAX_SENT: Final = 200
_BAY: Final = frozenset(ROLES) - {"trainee"}
_SENIOR: Final = frozenset({"senior"})
#: Kind -> roles that may write it; a kind that is not named may be written by everybody. A
#: trainee looks and writes down; what changes the job's way needs a name that counts.
WHO_WRITES: Final = {
    "gate-closed": _BAY,
    "gate-overruled": _SENIOR,
    "closed": _BAY,
    "comeback": _BAY,
    "waiting": _BAY,
    "written-up": _BAY,
}


def open_job(store: Store, desk: Desk, person: Person, first: NewEvent) -> Recorded:
    """Open a job with its write-up; the same event sent twice opens one job.

    Raises
    ------
    ProblemError, TriageError
        If the person may not, or the knowledge does not know what is said.
    """
    if not isinstance(first.body, happened.WrittenUp):
        raise ProblemError(422, "a job begins with its write-up: send a written-up event first")
    _may_write(person, first.body)
    _check((first,), desk.knowledge)
    return store.jobs.create(person.shop, person.who, first, desk.knowledge.sha256)


def write(
    store: Store, desk: Desk, person: Person, job: str, events: Sequence[NewEvent]
) -> list[Recorded]:
    """Write events into a job, all of them or none; events sent before are not written again.

    Parameters
    ----------
    job : id; of another shop it does not exist

    Raises
    ------
    ProblemError, TriageError
        If the person may not, the job can't have it, or the knowledge does not know it.
    """
    if not 0 < len(events) <= MAX_SENT:
        raise ProblemError(422, f"{len(events)} events in one sending; allowed: 1 to {MAX_SENT}")
    store.jobs.summary(person.shop, job)  # another shop's job does not exist, whatever is sent
    for event in events:
        _may_write(person, event.body)
    _check(events, desk.knowledge)
    for event in events:
        if isinstance(event.body, happened.PhotoTaken):
            _need_photo(store, person.shop, job, event.body.photo)
    written = store.jobs.append(person.shop, job, person.who, events, desk.knowledge.sha256)
    if any(may_reopen(event.body) for event in events):
        _reopen(store, desk, person.shop, job, written)
    return written


def _reopen(store: Store, desk: Desk, shop: str, job: str, written: Sequence[Recorded]) -> None:
    """Write down the gates that open again, as a sending that was repeated would do as well."""
    before = store.jobs.state(shop, job, max(min(row.seq for row in written) - 1, 1))
    after = store.jobs.state(shop, job, max(row.seq for row in written))
    again = reopenings(desk.knowledge, before, after, written)
    if again:
        store.jobs.append(shop, job, PROGRAM, again, desk.knowledge.sha256)


def _need_photo(store: Store, shop: str, job: str, photo: str) -> None:
    """Refuse an event about a photo that the job does not have."""
    try:
        store.photos.get(shop, job, photo)
    except PhotoError:
        raise ProblemError(
            422, "there is no such photo in this job; nothing was written; send the photo first"
        ) from None


def _may_write(person: Person, body: Body) -> None:
    """Refuse an event that this role may not write."""
    if body.kind in happened.WRITTEN_BY_SERVER:
        raise ProblemError(
            403, "a gate is opened by what is known of the car, not by hand", kind="role"
        )
    allowed = WHO_WRITES.get(body.kind)
    if allowed is not None and person.role not in allowed:
        what = _SAID.get(body.kind, f"write {body.kind}")
        raise ProblemError(
            403,
            f"a {person.role} may not {what}; allowed: {', '.join(sorted(allowed))}; nothing was "
            "written; ask one of them to do it under their own name",
            kind="role",
        )


_SAID: Final = {
    "gate-closed": "sign for a gate",
    "gate-overruled": "overrule a gate",
    "closed": "close a job",
    "comeback": "open a job again",
    "waiting": "say what a job waits for",
    "written-up": "write up a car",
}


def _check(events: Sequence[NewEvent], knowledge: Knowledge) -> None:
    """Refuse ids and places that the knowledge does not have, all of them at once."""
    problems = [
        problem
        for number, event in enumerate(events)
        for problem in _problems(event.body, knowledge, f"events[{number}].body")
    ]
    if problems:
        raise DocumentRefusedError(problems)


def _problems(body: Body, knowledge: Knowledge, where: str) -> Iterable[TriageError]:
    """Yield what is wrong with one event."""
    case = _as_case(body)
    if case is not None:
        try:
            check_terms(case, knowledge)
            case.to_input()
        except DocumentRefusedError as error:
            yield from error.problems
        except TriageError as error:
            yield error
    for kind, term, known in _named(body, knowledge):
        if term.partition("@")[0] not in known:
            yield UnknownTermError(kind, term, known, where=where)
    if isinstance(body, happened.IntakeDone):
        check = knowledge.checks.get(body.check)
        if check is not None and check.kind != "intake":
            yield DocumentError(
                f"{body.check!r} is no intake step",
                where=where,
                allowed="a check of kind intake",
                remedy="send it as a verdict",
            )


def _as_case(body: Body) -> Case | None:
    """Return an event as a case that says nothing else, or nothing where it isn't about a car."""
    blank = Case(format="drypark-case/1", case="event")
    match body:
        case happened.WrittenUp() as written:
            return blank.model_copy(update={"vehicle": written.vehicle, "context": written.context})
        case happened.CodeRead(codes=codes):
            return blank.model_copy(update={"codes": codes})
        case happened.FindingSeen(finding=finding):
            return blank.model_copy(update={"findings": (finding,)})
        case happened.VerdictGiven(verdict=verdict):
            return blank.model_copy(update={"verdicts": (verdict,)})
        case happened.ReadingTaken() as taken:
            return blank.model_copy(update={"verdicts": (_verdict_of(taken),)})
        case _:
            return None


def _verdict_of(taken: happened.ReadingTaken) -> CaseVerdict:
    """Return a verdict that names what a reading names."""
    return CaseVerdict(
        check=taken.check,
        place=taken.place,
        cause=taken.cause,
        at=taken.at,
        verdict="cant-tell",
    )


def _named(body: Body, knowledge: Knowledge) -> Iterable[tuple[str, str, Sequence[str]]]:
    """Yield kind, id and known ids of what an event names beyond a case."""
    match body:
        case happened.GateAnswered(finding=finding):
            yield "finding", finding, (*knowledge.findings, *knowledge.states)
        case happened.GateClosed(gate=gate) | happened.GateOverruled(gate=gate):
            yield "gate", gate, tuple(knowledge.gates)
        case happened.IntakeDone(check=check):
            yield "check", check, tuple(knowledge.checks)
        case happened.Closed(causes=causes):
            for cause in causes:
                yield "cause", cause, (*knowledge.causes, *knowledge.states)
        case _:
            pass
