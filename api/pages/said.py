"""Who said what: the answers that stand in a job, with the name and the time under each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from api.labels import label_of
from api.store.events import ReadingTaken, VerdictGiven
from api.store.fold import JobState
from api.words import place_words
from graph.terms import Knowledge

__all__ = ["AnswerLine", "Said", "answer_lines", "said_of"]

Key = tuple[str, str, str, str]  # check, place, cause, at


@dataclass(frozen=True, slots=True)
class Said:
    """One answer.

    Attributes
    ----------
    verdict : found | not-found | cant-tell
    event : id of the event that holds it
    reading : the measured value, where one was typed in
    """

    verdict: str
    who: str
    when: datetime
    event: str
    reading: Any = None

    @property
    def words(self) -> str:
        """Return the answer as it is spoken."""
        return {"found": "found", "not-found": "not found"}.get(self.verdict, "can't tell")


def said_of(state: JobState) -> Mapping[Key, Said]:
    """Return what stands for each (check, place, cause, at), empty text for what is left out."""
    verdicts = {
        (one.check, one.place or "vehicle", one.cause or "", one.at or ""): one
        for one in state.case.verdicts
    }
    found: dict[Key, Said] = {}
    for row in state.history:
        body = row.recorded.body
        if row.taken_back or not isinstance(body, (VerdictGiven, ReadingTaken)):
            continue
        given = body.verdict if isinstance(body, VerdictGiven) else body
        key = (given.check, given.place or "vehicle", given.cause or "", given.at or "")
        stands = verdicts.get(key)
        if stands is not None:
            found[key] = Said(
                stands.verdict,
                row.recorded.who.name,
                row.recorded.server_time,
                row.recorded.id,
                stands.reading,
            )
    return found


@dataclass(frozen=True, slots=True)
class AnswerLine:
    """One answer as it is listed: what was done, what it is about, and what was said."""

    check: str
    place: str
    done: str
    thing: str
    said: Said


def answer_lines(knowledge: Knowledge, state: JobState) -> tuple[AnswerLine, ...]:
    """Return every answer that stands: what was found first, then the rest, each in order."""
    lines = []
    for (check, place, cause, at), said in said_of(state).items():
        done, thing = _at(knowledge, check, place), _at(knowledge, cause, at) if cause else ""
        lines.append(AnswerLine(check, place, done, thing, said))
    return tuple(sorted(lines, key=lambda line: line.said.verdict != "found"))


def _at(knowledge: Knowledge, term: str, place: str) -> str:
    words, where = label_of(knowledge, term) or term, place_words(place)
    return f"{words}, {where}" if where else words
