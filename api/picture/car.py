"""The car from above: how suspect each place is, in a word and a step of shading.

The one idea: a place is as suspect as the likeliest thing that can be there. The step of
shading (hatching and tint together, so that neither stands alone) follows the same published
scale as the words beside it, and the most suspect place is named in words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from api.documents import CauseRow
from api.words import percent_words, place_words, probability_words

__all__ = ["CORNERS", "SEATS", "Shade", "most_suspect", "shades_of"]

CORNERS: Final = ("lf", "rf", "lr", "rr")
#: Every place that is drawn, in reading order.
SEATS: Final = (*CORNERS, "front", "rear", "vehicle")
#: Lowest chance of each step of shading: unlikely, about as likely as not, likely.
STEPS: Final = (0.10, 0.33, 0.66)


@dataclass(frozen=True, slots=True)
class Shade:
    """How suspect one place is.

    Attributes
    ----------
    chance : of the likeliest thing there to have a part in the complaint, in [0, 1]
    cause : id of that thing; empty where nothing is known there
    """

    place: str
    chance: float = 0.0
    cause: str = ""

    @property
    def step(self) -> int:
        """Return the step of shading, 0 (blank) to 3 (densest).

        Examples
        --------
        >>> [Shade("lf", p).step for p in (0.05, 0.2, 0.5, 0.9)]
        [0, 1, 2, 3]
        """
        return sum(self.chance >= low for low in STEPS)

    @property
    def words(self) -> str:
        """Return the likelihood word, or that there is no sign."""
        return probability_words(self.chance) if self.cause else "no sign"

    @property
    def figure(self) -> str:
        """Return the chance as a rounded figure; empty where nothing is known."""
        return percent_words(self.chance) if self.cause else ""

    @property
    def where(self) -> str:
        """Return the place in words."""
        return place_words(self.place) or "middle"


def shades_of(causes: Sequence[CauseRow]) -> Mapping[str, Shade]:
    """Return how suspect each drawn place is.

    Examples
    --------
    >>> shades_of(())["lf"].words
    'no sign'
    """
    found = {place: Shade(place) for place in SEATS}
    for row in causes:
        kind, _, place = row.id.partition("@")
        seat = place or "vehicle"
        if seat in found and row.responsibility > found[seat].chance:
            found[seat] = Shade(seat, row.responsibility, row.id if place else kind)
    return found


def most_suspect(shades: Mapping[str, Shade]) -> Shade | None:
    """Return the most suspect place, or nothing where no place is shaded."""
    known = [shade for shade in shades.values() if shade.step]
    return max(known, key=lambda shade: shade.chance, default=None)
