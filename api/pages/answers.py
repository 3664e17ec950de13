"""From a button that was pressed to the events that say so.

The one idea: an answer about a thing that can be at several places is written down place by
place; and what was said of the whole check before is taken back when something single is said
of it, so that no two answers that stand ever contradict each other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from starlette.datastructures import FormData

from api.documents.case import CaseFinding, CaseReading, CaseVerdict
from api.pages.doing_view import DoingView, TargetView, doing_view
from api.pages.forms import field, fields, number
from api.problems import ProblemError
from api.store import events as happened
from api.store.fold import JobState
from graph.terms import Knowledge

__all__ = ["WhereNeeded", "bodies_of"]

_ANSWERS: Final = ("found", "not-found", "cant-tell")


class WhereNeeded(Exception):  # noqa: N818 - no error: the corner has to be tapped first
    """Something was found, and it can be at more than one place."""

    def __init__(self, check: str, place: str, cause: str) -> None:
        self.check, self.place, self.cause = check, place, cause
        super().__init__(cause)


def bodies_of(knowledge: Knowledge, state: JobState, form: FormData) -> list[happened.Body]:
    """Return the events that a form of the bay sheet stands for.

    Raises
    ------
    WhereNeeded
        If the place has to be asked first.
    ProblemError
        If the form says nothing that can be written down.
    """
    kind = field(form, "kind")
    if kind in ("verdict", "verdict-rest", "reading"):
        doing = doing_view(knowledge, state, field(form, "check"), field(form, "place"))
        if doing is None or doing.check.kind == "intake":
            raise _refused("this car has no such check at that place")
        return list(_OF_CHECKS[kind](doing, form))
    if kind not in _SIMPLE:
        raise _refused(f"a form of the kind {kind[:30]!r} is not known here")
    return [_SIMPLE[kind](form)]


def _refused(what: str) -> ProblemError:
    return ProblemError(422, f"{what}; nothing was written; open the page again")


def _verdict(doing: DoingView, form: FormData) -> Iterable[happened.Body]:
    """Yield the verdict on one thing, or on a check that has one answer."""
    answer = _answer(form)
    if doing.one:
        yield _given(doing, answer)
        return
    target = next((row for row in doing.targets if row.cause == field(form, "cause")), None)
    if target is None:
        raise _refused("this check does not show that")
    places = _places(doing, target, answer, field(form, "at"))
    yield from _without_whole(doing)
    for at in places:
        yield _given(doing, answer, target.cause, at)
    yield from _whole(doing, {(target.cause, at): answer for at in places})


def _whole(doing: DoingView, now: Mapping[tuple[str, str], str]) -> Iterable[happened.Body]:
    """Yield a verdict on the whole check once each of its things was looked for and not found.

    A gate counts a check as done by this verdict alone: a word on one thing is none on the rest.
    """
    said = {
        (target.cause, at): one.verdict
        for target in doing.targets
        for at, one in target.said.items()
    }
    said |= now
    every = {(target.cause, at) for target in doing.targets for at in target.places}
    if every and all(said.get(key) == "not-found" for key in every):
        yield _given(doing, "not-found")


def _answer(form: FormData) -> str:
    answer = field(form, "answer")
    if answer not in _ANSWERS:
        raise _refused("no answer was given: found, not found or can't tell")
    return answer


def _places(doing: DoingView, target: TargetView, answer: str, at: str) -> list[str]:
    """Return the places that an answer speaks about."""
    if at in target.places:
        return [at]
    if answer == "found":
        if len(target.places) > 1:
            raise WhereNeeded(doing.check.id, doing.place, target.cause)
        return list(target.places)
    found = [place for place, one in target.said.items() if one.verdict == "found"]
    if found and len(found) < len(target.places):
        # "Not found" after a find elsewhere speaks of the other places.
        return [place for place in target.places if place not in found]
    return list(target.places)


def _without_whole(doing: DoingView) -> Iterable[happened.Body]:
    """Yield the taking back of what was said of the whole check."""
    if doing.whole is not None:
        yield happened.TakenBack(event=doing.whole.event)


def _rest(doing: DoingView, form: FormData) -> Iterable[happened.Body]:
    """Yield one answer for everything on the check that has none."""
    answer = _answer(form)
    if answer == "found":
        raise _refused("something found needs a name: press the thing that was found")
    if not doing.answered:
        yield _given(doing, answer)
        return
    rest = [(t.cause, at) for t in doing.open for at in t.places if at not in t.said]
    for cause, at in rest:
        yield _given(doing, answer, cause, at)
    yield from _whole(doing, dict.fromkeys(rest, answer))


def _given(
    doing: DoingView, answer: str, cause: str | None = None, at: str | None = None
) -> happened.VerdictGiven:
    verdict = {"check": doing.check.id, "place": doing.place, "verdict": answer}
    if cause is not None:
        verdict |= {"cause": cause, "at": at or "vehicle"}
    return happened.VerdictGiven(verdict=CaseVerdict.model_validate(verdict))


def _reading(doing: DoingView, form: FormData) -> Iterable[happened.Body]:
    """Yield a measured value against its limit."""
    cause, _, at = field(form, "target").partition("@")
    if not doing.one and not any(row.cause == cause and at in row.places for row in doing.targets):
        raise _refused("say what the reading is of")
    uncertainty = number(form, "uncertainty", "the give or take")
    if uncertainty < 0:
        raise _refused("the give or take can't be below nothing")
    reading = CaseReading.model_validate(
        {
            "value": number(form, "value", "the reading"),
            "unit": field(form, "unit"),
            "limit": number(form, "limit", "the limit"),
            "uncertainty": uncertainty,
            "limit_source": field(form, "source"),
            "limit_kind": field(form, "limit_kind") or "upper",
        }
    )
    yield from _without_whole(doing) if not doing.one else ()
    yield happened.ReadingTaken.model_validate(
        {
            "check": doing.check.id,
            "place": doing.place,
            "cause": None if doing.one else cause,
            "at": None if doing.one else at,
            "reading": reading,
        }
    )


_OF_CHECKS: Final[Mapping[str, Callable[[DoingView, FormData], Iterable[happened.Body]]]] = {
    "verdict": _verdict,
    "verdict-rest": _rest,
    "reading": _reading,
}


def _finding(form: FormData) -> happened.Body:
    found = {"id": field(form, "id"), "state": field(form, "state")}
    place = field(form, "place")
    return happened.FindingSeen(
        finding=CaseFinding.model_validate(found | ({"place": place} if place else {}))
    )


_SIMPLE: Final[Mapping[str, Callable[[FormData], happened.Body]]] = {
    "intake-done": lambda form: happened.IntakeDone(check=field(form, "check")),
    "note": lambda form: happened.Note(text=field(form, "text")),
    "waiting": lambda form: happened.Waiting(waiting_for=field(form, "waiting_for")),
    "comeback": lambda form: happened.Comeback(words=field(form, "words")),
    "unmatched": lambda form: happened.Unmatched(words=field(form, "words")),
    "gate-closed": lambda form: happened.GateClosed(gate=field(form, "gate")),
    "gate-overruled": lambda form: happened.GateOverruled(
        gate=field(form, "gate"), reason=field(form, "reason"), instead=field(form, "instead")
    ),
    "closed": lambda form: happened.Closed(
        outcome=field(form, "outcome"), causes=tuple(fields(form, "causes"))
    ),
    "finding": _finding,
}
