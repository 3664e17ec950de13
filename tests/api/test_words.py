"""Numbers in words, against the two published scales (both from memory)."""

from __future__ import annotations

import pytest

from api.words import (
    PLACE_WORDS,
    evidence_words,
    minutes_words,
    percent_words,
    place_words,
    probability_words,
)
from graph.terms import PLACES
from triage.errors import ParameterError

# IPCC guidance note on uncertainty (2010), table 1, likelihood scale, from memory: virtually
# certain 99-100 %, very likely 90-100, likely 66-100, about as likely as not 33 to 66,
# unlikely 0-33, very unlikely 0-10, exceptionally unlikely 0-1.
IPCC = [
    (1.0, "virtually certain"),
    (0.995, "virtually certain"),
    (0.95, "very likely"),
    (0.75, "likely"),
    (0.5, "about as likely as not"),
    (0.34, "about as likely as not"),
    (0.2, "unlikely"),
    (0.05, "very unlikely"),
    (0.005, "exceptionally unlikely"),
    (0.0, "exceptionally unlikely"),
]
# Jeffreys (1961), appendix B, from memory: grades change at 10^(1/2), 10, 10^(3/2) and 10^2,
# which are 5, 10, 15 and 20 decibans.
JEFFREYS = [
    (3.0, "slight, for"),
    (7.0, "substantial, for"),
    (12.0, "strong, for"),
    (17.0, "very strong, for"),
    (25.0, "decisive, for"),
    (-12.0, "strong, against"),
]


@pytest.mark.parametrize(("probability", "word"), IPCC)
def test_a_probability_gets_the_word_of_the_published_scale(probability: float, word: str) -> None:
    """A technician reads the word, so the word must be the one of the scale."""
    assert probability_words(probability) == word


@pytest.mark.parametrize(("edge", "word"), [(0.99, "very likely"), (0.9, "likely")])
def test_an_upper_edge_belongs_to_the_weaker_word(edge: float, word: str) -> None:
    """The scale says "above", so the edge itself claims less."""
    assert probability_words(edge) == word


@pytest.mark.parametrize("edge", [0.66, 0.33])
def test_the_middle_band_keeps_both_its_edges(edge: float) -> None:
    """The scale says "33 to 66", both included."""
    assert probability_words(edge) == "about as likely as not"


@pytest.mark.parametrize(("decibans", "word"), JEFFREYS)
def test_a_weight_of_evidence_gets_jeffreys_grade(decibans: float, word: str) -> None:
    """The grade and the direction are what a person can act on."""
    assert evidence_words(decibans) == word


@pytest.mark.parametrize("value", [-0.1, 1.1, float("nan")])
def test_what_is_no_probability_is_refused(value: float) -> None:
    """A word for a wrong number would hide the wrong number."""
    with pytest.raises(ParameterError, match="a probability is"):
        probability_words(value)


@pytest.mark.parametrize(
    ("probability", "figure"),
    [(0.0, "under 1 %"), (0.071, "7 %"), (0.1, "10 %"), (0.583, "60 %"), (1.0, "over 99 %")],
)
def test_a_figure_is_rounded_to_what_it_is_worth(probability: float, figure: str) -> None:
    """A starting estimate has no third digit."""
    assert percent_words(probability) == figure


def test_every_place_has_words() -> None:
    """A place without words would show its id to a technician."""
    assert set(PLACE_WORDS) == set(PLACES)
    assert place_words("rr") == "right rear"


@pytest.mark.parametrize(
    ("minutes", "words"), [(59.4, "59 min"), (59.6, "1 h"), (90, "1 h 30 min")]
)
def test_minutes_turn_into_hours_without_a_sixtieth_minute(minutes: float, words: str) -> None:
    """Rounding must not give "60 min" beside "1 h"."""
    assert minutes_words(minutes) == words
