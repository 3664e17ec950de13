"""Ask the knowledge whether the ids and places of a case exist.

The one idea: everything unknown is told at once, each with the nearest known id or the places
allowed. A finding of the whole car may carry a narrower place: `graph.finding_evidence` keeps
it as a hint. What only arithmetic can see (a car that by its facts cannot have a thing) is left to
`graph.build`, which asks instead of refusing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from api.documents.case import Case, CaseVerdict
from api.documents.refusal import DocumentRefusedError
from graph.placing import covers
from graph.terms import PLACES, SCOPES, Check, Knowledge, Place
from triage.errors import (
    ContradictionError,
    DocumentError,
    PlaceError,
    TriageError,
    UnknownTermError,
)

__all__ = ["check_terms", "places_of"]


def check_terms(case: Case, knowledge: Knowledge) -> None:
    """Refuse a case that names what the knowledge does not hold.

    Codes are not refused: a code without an entry is kept as text.

    Raises
    ------
    DocumentRefusedError
        With every unknown id, impossible place and contradiction, in reading order.
    """
    problems = [
        *_vehicle(case, knowledge),
        *_meanings(case, knowledge),
        *_findings(case, knowledge),
        *_verdicts(case, knowledge),
    ]
    if problems:
        raise DocumentRefusedError(problems)


def places_of(scope: str) -> tuple[Place, ...]:
    """Return the places that a thing of a scope may be stated at: its own and wider ones.

    Examples
    --------
    >>> places_of("front-corner"), places_of("vehicle")
    (('lf', 'rf', 'front', 'left', 'right', 'vehicle'), ('vehicle',))
    """
    own = SCOPES[scope]
    return tuple(
        place for place in PLACES if place in own or any(covers(place, one) for one in own)
    )


def _vehicle(case: Case, knowledge: Knowledge) -> Iterable[TriageError]:
    """Yield what is wrong with facts and context."""
    facts = {*knowledge.facts, *(a for fact in knowledge.facts.values() for a in fact.aliases)}
    for index, fact in enumerate(case.vehicle.facts):
        yield from _unknown("vehicle fact", fact, facts, f"vehicle.facts[{index}]")
    for index, context in enumerate(case.context):
        yield from _unknown("context", context, knowledge.contexts, f"context[{index}]")


def _unknown(kind: str, term: str, known: Collection[str], where: str) -> Iterable[TriageError]:
    if term not in known:
        yield UnknownTermError(kind, term, known, where=where)


def _meanings(case: Case, knowledge: Knowledge) -> Iterable[TriageError]:
    """Yield what is wrong with meanings picked, and failure types stated twice."""
    for index, row in enumerate(case.codes):
        if row.meaning:
            yield from _unknown("meaning", row.meaning, knowledge.codes, f"codes[{index}].meaning")
        written = row.code.strip()[5:].lstrip("-:").upper()
        if written and row.failure_type and written != row.failure_type.upper():
            yield ContradictionError(
                f"the failure type of {row.code.strip()[:5].upper()}",
                written,
                row.failure_type.upper(),
                where=f"codes[{index}]",
            )


def _findings(case: Case, knowledge: Knowledge) -> Iterable[TriageError]:
    """Yield what is wrong with findings."""
    scopes = {
        **{key: finding.scope for key, finding in knowledge.findings.items()},
        **{key: state.scope for key, state in knowledge.states.items()},
    }
    said: dict[tuple[str, str | None], str] = {}
    for index, row in enumerate(case.findings):
        if row.id not in scopes:
            yield from _unknown("finding", row.id, scopes, f"findings[{index}].id")
            continue
        hint = row.id in knowledge.findings and scopes[row.id] == "vehicle"
        allowed = PLACES if hint else places_of(scopes[row.id])
        if row.place is not None and row.place not in allowed:
            yield PlaceError(row.id, row.place, allowed, where=f"findings[{index}].place")
        before = said.setdefault((row.id, row.place), row.state)
        if {before, row.state} == {"present", "absent"}:
            yield ContradictionError(row.id, before, row.state, where=f"findings[{index}]")


def _verdicts(case: Case, knowledge: Knowledge) -> Iterable[TriageError]:
    """Yield what is wrong with verdicts."""
    for index, row in enumerate(case.verdicts):
        where = f"verdicts[{index}]"
        check = knowledge.checks.get(row.check)
        if check is None:
            yield from _unknown("check", row.check, knowledge.checks, f"{where}.check")
        elif row.place is not None and not _can_be_done(check, row.place):
            yield PlaceError(check.id, row.place, SCOPES[check.per], where=f"{where}.place")
        if row.cause is not None:
            yield from _cause(row, row.cause, check, knowledge, where)
        elif row.at is not None:
            yield DocumentError(
                "a place of a cause without the cause",
                where=f"{where}.at",
                allowed="at together with cause",
                remedy="name the cause, or use place",
            )


def _can_be_done(check: Check, place: Place) -> bool:
    """Say whether a place meets one where the check is done."""
    return any(covers(place, one) or covers(one, place) for one in SCOPES[check.per])


def _cause(
    row: CaseVerdict, cause: str, check: Check | None, knowledge: Knowledge, where: str
) -> Iterable[TriageError]:
    """Yield what is wrong with the thing that a verdict is about."""
    term = knowledge.causes.get(cause) or knowledge.states.get(cause)
    if term is None:
        known = (*knowledge.causes, *knowledge.states)
        yield from _unknown("cause", cause, known, f"{where}.cause")
        return
    if check is not None and check.detects and cause not in {d.target for d in check.detects}:
        yield UnknownTermError(
            f"thing to see by {check.id}", cause, [d.target for d in check.detects], where=where
        )
    if row.at is not None and row.at not in SCOPES[term.scope]:
        yield PlaceError(cause, row.at, SCOPES[term.scope], where=f"{where}.at")
