"""The findings nearest to a complaint, offered to a person who picks.

The one idea: nothing is chosen here. Up to five findings come back with the phrase that
matched, a denial marked as one, and the place that was said where the finding can have it.
Each part of a complaint is looked up on its own and then the whole, so that a long story
doesn't drown the one clause that matters.
"""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass, replace
from typing import Final

from api.documents import places_of
from api.words_match.clauses import NOT, Clause, clauses_of, words_of
from api.words_match.index import Index
from graph.terms import SCOPES, Finding, Knowledge

__all__ = ["Match", "in_order", "index_of", "nearest"]

#: What only a tool can tell; no customer says it.
_NOT_SAID: Final = frozenset({"freeze-frame"})
_MOST_PARTS: Final = 24
_KEPT: Final = 4
_LEAST: Final = 1.0  # what the ranks count beside the letters
_DENIED: Final = 0.5  # what is denied comes after what is said
_made: deque[tuple[Knowledge, Index]] = deque(maxlen=_KEPT)
_lock = threading.Lock()


@dataclass(frozen=True, slots=True)
class Match:
    """A finding that the words may mean.

    Attributes
    ----------
    id : of the finding
    place : where it was said to be, if the finding can be there; None = somewhere
    label : the finding's name
    matched : the phrase that came near, a synonym or the label
    negated : the words deny it
    """

    id: str
    place: str | None
    label: str
    matched: str
    negated: bool

    @property
    def state(self) -> str:
        """Return the state in which a person would take it down."""
        return "absent" if self.negated else "present"


@dataclass(frozen=True, slots=True)
class _Chosen:
    """What brought a finding in."""

    nearness: float
    score: float
    clause: Clause
    phrase: str
    denied: bool


def nearest(knowledge: Knowledge, words: str, count: int = 5) -> tuple[Match, ...]:
    """Return the findings nearest to a complaint, nearest first; none for words without sense.

    Parameters
    ----------
    knowledge : where the findings and their synonyms stand
    words : as the customer said them; at most 4000 characters are read
    count : how many at most
    """
    clauses = clauses_of(words)[:_MOST_PARTS]
    chosen = _chosen(_index(knowledge), clauses)
    said = tuple(clause.place for clause in clauses if clause.place and not clause.denied)
    return tuple(
        _match(knowledge.findings[id_], chosen[id_], said) for id_ in _sorted(chosen)[:count]
    )


def in_order(index: Index, clauses: tuple[Clause, ...]) -> list[str]:
    """Return the findings of an index in the order in which they'd be offered."""
    return _sorted(_chosen(index, clauses))


def _chosen(index: Index, clauses: tuple[Clause, ...]) -> dict[str, _Chosen]:
    """Return for each finding the part of the complaint that it comes nearest to."""
    chosen: dict[str, _Chosen] = {}
    for clause in _with_whole(clauses):
        for found in index.find(clause.words):
            # A phrase that is itself a denial ("horn does not work") isn't denied by one.
            denied = clause.denied and NOT not in words_of(found.phrase)
            score = found.score * (_LEAST + found.nearness) * (_DENIED if denied else 1.0)
            one = _Chosen(found.nearness, score, clause, found.phrase, denied)
            before = chosen.get(found.id, one)
            nearer = one if one.nearness > before.nearness else before
            chosen[found.id] = replace(nearer, score=max(one.score, before.score))
    return chosen


def _sorted(chosen: dict[str, _Chosen]) -> list[str]:
    """Return the findings by score, ties by id."""
    return sorted(chosen, key=lambda id_: (-chosen[id_].score, id_))


def index_of(knowledge: Knowledge) -> Index:
    """Return a new index of the labels and the customers' words."""
    return Index(
        {
            id_: (finding.label, *finding.customer_words)
            for id_, finding in sorted(knowledge.findings.items())
            if finding.group not in _NOT_SAID
        }
    )


def _index(knowledge: Knowledge) -> Index:
    """Return the index of this knowledge, made once."""
    with _lock:
        for known, index in _made:
            if known is knowledge:
                return index
        made = index_of(knowledge)
        _made.append((knowledge, made))
        return made


def _with_whole(clauses: tuple[Clause, ...]) -> tuple[Clause, ...]:
    """Return the parts, and all that is said and not denied as one part."""
    said = [clause for clause in clauses if not clause.denied]
    if len(said) < 2:
        return clauses
    words = tuple(dict.fromkeys(word for clause in said for word in clause.words))
    place = next((clause.place for clause in said if clause.place), None)
    return (*clauses, Clause(words, place, denied=False))


def _match(finding: Finding, chosen: _Chosen, said: tuple[str, ...]) -> Match:
    """Return a match, with a place that the finding can have."""
    clause = chosen.clause
    place = clause.place or (said[0] if len(set(said)) == 1 and not clause.denied else None)
    return Match(finding.id, _fitting(finding, place), finding.label, chosen.phrase, chosen.denied)


#: Groups of findings of the whole car that are noticed somewhere; a lamp is on for all of it.
_NOTICED_AT: Final = frozenset({"noise", "vibration", "brake", "seen"})


def _fitting(finding: Finding, place: str | None) -> str | None:
    """Return the place if the finding can be stated there, or its axle, or nothing."""
    if place is None:
        return None
    allowed = places_of(finding.scope)
    if place in allowed or (finding.scope == "vehicle" and finding.group in _NOTICED_AT):
        return place
    axle = {"lf": "front", "rf": "front", "lr": "rear", "rr": "rear"}.get(place)
    return axle if axle in SCOPES[finding.scope] else None
