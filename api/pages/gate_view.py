"""An open gate as it is shown: what it forbids, why, and the checks that still close it.

The one idea: what is missing is a button. Each check that a gate waits for leads to that check
at the place where it has to be done; what is no check (a name) is said in words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from api.documents import Answer, GateRow
from api.labels import labels_in
from api.words import GATE_LEVELS, PLACES_AT_END, places_in_words
from graph.terms import Knowledge

__all__ = ["GateView", "Missing", "gate_views"]

_CHECK: Final = re.compile(r"ck-[a-z0-9-]+")


@dataclass(frozen=True, slots=True)
class Missing:
    """One thing that still has to be done; several checks = any one of them."""

    words: str
    checks: tuple[tuple[str, str, str], ...]  # check, place to go to, words


@dataclass(frozen=True, slots=True)
class GateView:
    """An open gate in words."""

    row: GateRow
    label: str
    because: tuple[str, ...]
    missing: tuple[Missing, ...]

    @property
    def kind(self) -> str:
        """Return how loud it is: shut | usual (before every car) | step (before one step)."""
        if not self.row.because:
            return "usual"
        return "step" if self.row.level == "none" else "shut"

    @property
    def level(self) -> str:
        """Return what it forbids."""
        return GATE_LEVELS.get(self.row.level, self.row.level)

    @property
    def to_sign(self) -> bool:
        """Return whether nothing but a name is missing."""
        return bool(self.missing) and not any(one.checks for one in self.missing)


def gate_views(knowledge: Knowledge, answer: Answer | None) -> tuple[GateView, ...]:
    """Return the open gates: those that shut the road, then those before a step, then the usual.

    Without an answer these are the gates that stand before every road test.
    """
    if answer is None:
        return tuple(_always(knowledge))
    order = {"shut": 0, "step": 1, "usual": 2}
    rows = [_view(knowledge, answer, row) for row in answer.gates]
    return tuple(sorted(rows, key=lambda gate: order[gate.kind]))


def _always(knowledge: Knowledge) -> Iterable[GateView]:
    """Yield the gates that stand before every road test, with all that they ask for."""
    for gate in knowledge.gates.values():
        if gate.always and gate.stage == "road-test":
            row = GateRow(
                id=gate.id,
                level=gate.level,  # type: ignore[arg-type]
                because=(),
                closes_on=gate.closes_on,
                missing=gate.closes_on,
                closes_how=gate.closes_how,
                stage=gate.stage,
                basis=gate.basis,
            )
            missing = tuple(_missing(knowledge, key, key) for key in gate.closes_on)
            yield GateView(row, gate.label, (), missing)


def _view(knowledge: Knowledge, answer: Answer, row: GateRow) -> GateView:
    labels = {**labels_in(knowledge, (*row.because, *row.missing)), **answer.labels}
    wording = answer.model_copy(update={"labels": labels})
    known = knowledge.gates.get(row.id)
    return GateView(
        row,
        known.label if known else row.id,
        tuple(places_in_words(wording.label(text)) for text in row.because),
        tuple(_missing(knowledge, text, wording.label(text)) for text in row.missing),
    )


def _missing(knowledge: Knowledge, text: str, words: str) -> Missing:
    """Return one line of what is missing, with the checks that it names."""
    match = PLACES_AT_END.search(text)
    place = match[1].split(", ")[0] if match else ""
    where = places_in_words(match[0]).removeprefix("at ") if match else ""
    return Missing(places_in_words(words), tuple(_checks(knowledge, text, place, where)))


def _checks(
    knowledge: Knowledge, text: str, place: str, where: str
) -> Iterable[tuple[str, str, str]]:
    for key in _CHECK.findall(text):
        check = knowledge.checks.get(key)
        if check is not None:
            yield key, place, f"{check.label}, {where}" if where else check.label
