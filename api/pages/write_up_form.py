"""What a sent write-up changes, and nothing else.

The one idea: a form is compared with the job as it was when the page was made. Only what this
person changed is written, on top of what others wrote meanwhile, so that two people at one
write-up lose nothing to each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import ValidationError
from starlette.datastructures import FormData

from api.documents.case import CaseCode, CaseFinding, CaseVehicle
from api.pages.forms import field, fields, number
from api.pages.write_up_view import fact_questions, gate_groups, taken_findings
from api.problems import ProblemError
from api.store import events as happened
from api.store.fold import JobState
from graph.terms import Knowledge

__all__ = ["changed_bodies", "event_of_code", "event_of_finding"]


def changed_bodies(
    knowledge: Knowledge, now: JobState, then: JobState, form: FormData
) -> list[happened.Body]:
    """Return the events of a form.

    Parameters
    ----------
    now, then : the job as it stands, and as it was when the page was made

    Raises
    ------
    ProblemError
        If a number can't be read.
    """
    return [
        *_written_up(knowledge, now, then, form),
        *_work_asked(now, form),
        *_findings(knowledge, then, form),
        *_codes(form),
        *_questions(form),
        *_gates(knowledge, then, form),
    ]


def _written_up(
    knowledge: Knowledge, now: JobState, then: JobState, form: FormData
) -> Iterable[happened.Body]:
    """Yield a new write-up where a field of it was changed."""
    told, was, stands = _told(knowledge, then, form), _fields_of(then), _fields_of(now)
    changed = {key: value for key, value in told.items() if value != was[key]}
    if not changed:
        return
    whole = {**stands, **changed}
    try:
        yield happened.WrittenUp(
            ticket=whole.pop("ticket"),
            context=whole.pop("context"),
            complaint=whole.pop("complaint"),
            vehicle=CaseVehicle.model_validate(whole),
        )
    except ValidationError as error:
        first = error.errors()[0]
        where = str(first["loc"][-1]).replace("_", " ")
        raise ProblemError(
            422, f"{where}: {first['msg'].lower()}; nothing was written; correct it"
        ) from None


def _fields_of(state: JobState) -> dict[str, Any]:
    """Return every field of a write-up."""
    car = {key: getattr(state.case.vehicle, key) for key in CaseVehicle.model_fields}
    return {
        "ticket": state.ticket,
        "context": state.case.context,
        "complaint": state.case.complaint,
        **car,
    }


def _told(knowledge: Knowledge, then: JobState, form: FormData) -> dict[str, Any]:
    """Return the fields that a form brings."""
    told: dict[str, Any] = {
        key: field(form, key)
        for key in ("ticket", "label", "complaint", "drivetrain")
        if key in form
    }
    for key, what in (("age_years", "the age"), ("odometer_km", "the mileage")):
        if key in form:
            told[key] = number(form, key, what) if field(form, key) else None
    if "salted_roads" in form:
        told["salted_roads"] = {"yes": True, "no": False}.get(field(form, "salted_roads"))
    if "tyres" in form:
        size = field(form, "tyres")
        others = {k: v for k, v in then.case.vehicle.tyres.items() if k != "all"}
        told["tyres"] = others | ({"all": size} if size else {})
    if "has-facts" in form:
        picked = [field(form, f"fact-{n}") for n in range(len(fact_questions(knowledge)))]
        asked = {fact.id for _q, facts in fact_questions(knowledge) for fact in facts}
        kept = [fact for fact in then.case.vehicle.facts if fact not in asked]
        chosen = [*kept, *(fact for fact in picked if fact)]
        told["facts"] = _in_order(then.case.vehicle.facts, chosen)
    if "has-context" in form:
        told["context"] = _in_order(then.case.context, fields(form, "context"))
    return told


def _in_order(before: tuple[str, ...], chosen: list[str]) -> tuple[str, ...]:
    """Return what was chosen, what was there before first and in its old order."""
    return (
        *(one for one in before if one in chosen),
        *(one for one in chosen if one not in before),
    )


def _work_asked(now: JobState, form: FormData) -> Iterable[happened.Body]:
    """Yield that recent work was asked for, once."""
    done = {verdict.check for verdict in now.case.verdicts}
    if field(form, "work-asked") and "ck-recent-work-review" not in done:
        yield happened.IntakeDone(check="ck-recent-work-review")


def event_of_finding(state: JobState, finding: str, place: str) -> str:
    """Return the id of the event that holds a finding, or nothing."""
    for row in reversed(state.history):
        body = row.recorded.body
        if isinstance(body, happened.FindingSeen) and not row.taken_back:
            seen = body.finding
            if (seen.id, seen.place or "") == (finding, place):
                return row.recorded.id
    return ""


def event_of_code(state: JobState, code: CaseCode) -> str:
    """Return the id of the event that holds a code, or nothing."""
    for row in reversed(state.history):
        body = row.recorded.body
        if isinstance(body, happened.CodeRead) and not row.taken_back and code in body.codes:
            return row.recorded.id
    return ""


def _findings(knowledge: Knowledge, then: JobState, form: FormData) -> Iterable[happened.Body]:
    """Yield findings whose state or place was changed, and those taken away."""
    for taken in taken_findings(knowledge, then):
        state = field(form, f"state-{taken.key}")
        place = field(form, f"place-{taken.key}") if f"place-{taken.key}" in form else taken.place
        if not state or (state, place) == (taken.state, taken.place):
            continue
        if state == "gone" or place != taken.place:
            event = event_of_finding(then, taken.id, taken.place)
            if event:
                yield happened.TakenBack(event=event)
        if state != "gone":
            yield _seen(taken.id, place, state)


def _seen(finding: str, place: str, state: str) -> happened.FindingSeen:
    told: Mapping[str, str] = {"id": finding, "state": state} | ({"place": place} if place else {})
    return happened.FindingSeen(finding=CaseFinding.model_validate(told))


def _codes(form: FormData) -> Iterable[happened.Body]:
    """Yield the codes that were read and are kept, one event each."""
    for n in range(200):
        code = field(form, f"code-{n}")
        if not code:
            break
        if not field(form, f"keep-{n}"):
            continue
        meaning = field(form, f"meaning-{n}")
        yield happened.CodeRead(
            codes=(
                CaseCode(
                    code=code,
                    failure_type=field(form, f"kind-{n}"),
                    status=field(form, f"status-{n}"),
                    module=field(form, "module"),
                    meaning="" if meaning == "open" else meaning,
                ),
            ),
            raw=field(form, "raw") if n == 0 else "",
        )


def _questions(form: FormData) -> Iterable[happened.Body]:
    """Yield answers to the questions that would change the list most."""
    for name in form:
        if name.startswith("q-"):
            finding, _, place = name.removeprefix("q-").partition("@")
            state = field(form, name)
            if state in ("present", "absent", "unknown"):
                yield _seen(finding, "" if place == "somewhere" else place, state)


def _gates(knowledge: Knowledge, then: JobState, form: FormData) -> Iterable[happened.Body]:
    """Yield the answers to the safety questions.

    What is left open counts as yes once the step itself was sent, not when another was.
    """
    if "has-gates" not in form:
        return
    ticked, asked = set(fields(form, "yes")), set(fields(form, "asked"))
    whole = field(form, "go") == "sheet"
    for group in gate_groups(knowledge, then):
        for finding, _words, before in group.questions:
            answer = "yes" if finding in ticked else "no" if group.gate in asked else "skipped"
            if answer == before or (answer == "skipped" and not (whole or before)):
                continue
            yield happened.GateAnswered(finding=finding, answer=answer)  # type: ignore[arg-type]
            if answer == "yes":
                yield _seen(finding, "", "present")
            elif answer == "no":
                yield _seen(finding, "", "absent")
    if all(group.gate in asked for group in gate_groups(knowledge, then)):
        done = {verdict.check for verdict in then.case.verdicts}
        if "ck-safety-questions" in knowledge.checks and "ck-safety-questions" not in done:
            yield happened.IntakeDone(check="ck-safety-questions")
