"""One check at one place as it is answered: what it can show, and what was said so far.

The one idea: every answer is written as a verdict on one thing at one place, or on the whole
check where it shows one thing only. So the last answer about a thing counts and never meets
its opposite, whoever gave it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from api.documents import Case
from api.pages.said import Said, said_of
from api.store.fold import JobState
from api.words import place_words
from graph.car import make_car
from graph.case import CaseInput
from graph.doings import Doing, doings_of
from graph.terms import Check, Knowledge

__all__ = ["DoingView", "TargetView", "doing_view", "doings_for", "places_words"]


@dataclass(frozen=True, slots=True)
class TargetView:
    """One thing that the check can show.

    Attributes
    ----------
    cause : rc- or st- id
    places : where it can be on this doing; several = the corner has to be tapped
    said : place -> what was answered
    """

    cause: str
    label: str
    places: tuple[str, ...]
    said: Mapping[str, Said]

    @property
    def answer(self) -> str:
        """Return the one answer that holds at every place, found anywhere first; or nothing."""
        words = {one.verdict for one in self.said.values()}
        if "found" in words:
            return "found"
        if len(self.said) == len(self.places) and len(words) == 1:
            return words.pop()
        return ""

    @property
    def where(self) -> str:
        """Return the place in words where there is one only."""
        return place_words(self.places[0]) if len(self.places) == 1 else ""


@dataclass(frozen=True, slots=True)
class DoingView:
    """One check at one place, ready to be answered."""

    check: Check
    place: str
    setup: str
    helper: bool
    targets: tuple[TargetView, ...]
    whole: Said | None

    @property
    def one(self) -> bool:
        """Return whether it has one answer as a whole."""
        return self.check.kind == "one-verdict"

    @property
    def answered(self) -> bool:
        """Return whether anything was answered."""
        return self.whole is not None or any(target.said for target in self.targets)

    @property
    def open(self) -> tuple[TargetView, ...]:
        """Return the things that nobody has answered at some place."""
        if self.whole is not None:
            return ()
        return tuple(target for target in self.targets if len(target.said) < len(target.places))

    @property
    def limits(self) -> bool:
        """Return whether a reading against a limit belongs to it."""
        return self.check.limit_source not in ("", "shop")


def doings_for(knowledge: Knowledge, case: Case) -> Mapping[str, tuple[Doing, ...]]:
    """Return what can be done on the car of a case; the verdicts do not matter to it."""
    given = case.to_input()
    return _doings(_Same(knowledge), CaseInput(vehicle=given.vehicle, context=given.context))


class _Same:
    """Holds the knowledge by identity, since it has no hash of its own."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge

    def __hash__(self) -> int:
        return id(self.knowledge)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.knowledge is self.knowledge


@lru_cache(maxsize=64)
def _doings(held: _Same, case: CaseInput) -> Mapping[str, tuple[Doing, ...]]:
    return doings_of(make_car(held.knowledge, case))


def doing_view(knowledge: Knowledge, state: JobState, check: str, place: str) -> DoingView | None:
    """Return a check at a place for a job, or nothing where this car has no such doing."""
    known = knowledge.checks.get(check)
    if known is None:
        return None
    setup = knowledge.setups[known.setup]
    said = said_of(state)
    if known.kind == "intake":
        return DoingView(known, "vehicle", setup.label, setup.helper, (), None)
    rows = doings_for(knowledge, state.case).get(check, ())
    doing = next((row for row in rows if row.place == place), rows[0] if rows else None)
    if doing is None:
        return None
    whole = said.get((check, doing.place, "", ""))
    targets = tuple(_targets(knowledge, doing, said))
    return DoingView(known, doing.place, setup.label, setup.helper, targets, whole)


def _targets(
    knowledge: Knowledge, doing: Doing, said: Mapping[tuple[str, str, str, str], Said]
) -> Iterable[TargetView]:
    """Yield the things that a doing shows, each once."""
    places: dict[str, list[str]] = {}
    for target in doing.targets:
        places.setdefault(target.term, []).append(target.place)
    for term, at in places.items():
        found = {
            place: one
            for place in at
            if (one := said.get((doing.check.id, doing.place, term, place))) is not None
        }
        held = knowledge.causes.get(term) or knowledge.states[term]
        yield TargetView(term, held.label, tuple(at), found)


def places_words(places: Iterable[str]) -> str:
    """Return places in words, one after the other.

    Examples
    --------
    >>> places_words(["lf", "rear"])
    'left front, rear'
    """
    return ", ".join(words for place in places if (words := place_words(place)))
