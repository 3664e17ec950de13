"""Scores, held against published values and against counting by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from triage.errors import ParameterError
from triage.score import brier, calibration, estimate, first_rank


def test_brier_score_of_the_published_example() -> None:
    """The example of a widely used library's manual (scikit-learn `brier_score_loss`): 0.0375."""
    assert brier([0.1, 0.9, 0.8, 0.3], [0, 1, 1, 0]) == pytest.approx(0.0375, abs=1e-15)


def test_brier_score_of_always_one_half_is_a_quarter() -> None:
    """Brier 1950: the score of saying one half whatever comes, by arithmetic."""
    assert brier([0.5] * 7, [0, 1, 1, 0, 1, 0, 0]) == 0.25


def test_brier_score_splits_into_reliability_and_what_the_bins_leave() -> None:
    """Murphy 1973: reliability - resolution + uncertainty, when a bin holds one forecast only."""
    forecasts = np.repeat([0.1, 0.4, 0.8], [10, 5, 5])
    outcomes = np.array([1, *[0] * 9, 1, 1, 0, 0, 0, 1, 1, 1, 0, 1], np.float64)
    bins = calibration(forecasts, outcomes, (0.0, 0.2, 0.6, 1.0))
    base = outcomes.mean()
    reliability = sum(b.count * (b.forecast - b.observed) ** 2 for b in bins) / 20
    resolution = sum(b.count * (b.observed - base) ** 2 for b in bins) / 20
    total = reliability - resolution + base * (1 - base)
    assert brier(forecasts, outcomes) == pytest.approx(total, abs=1e-12)


def test_bins_count_every_forecast_once() -> None:
    """Forecasts on the edges, 0 and 1 among them, fall into one bin each."""
    edges = (0.0, 0.5, 1.0)
    bins = calibration([0.0, 0.5, 0.5, 1.0], [0, 0, 1, 1], edges)
    assert [(b.count, b.observed) for b in bins] == [(1, 0.0), (3, pytest.approx(2 / 3))]


def test_a_bin_states_the_binomial_standard_error() -> None:
    """Standard error of a share: sqrt(p (1 - p) / n), any textbook."""
    (only,) = calibration([0.2] * 100, [1] * 20 + [0] * 80, (0.0, 1.0))
    assert only.error == pytest.approx(0.04, abs=1e-12)


def test_rank_of_the_best_of_several() -> None:
    """The first true cause counts, whatever the others are."""
    assert first_rank({"a": 0.1, "b": 0.7, "c": 0.5}, {"a", "c"}) == 2


def test_ties_share_the_middle_of_their_ranks() -> None:
    """Four equal scores have ranks 1 to 4, 2.5 each."""
    assert first_rank(dict.fromkeys("abcd", 0.0), {"d"}) == 2.5


def test_no_rank_without_a_score() -> None:
    """What is not ranked never comes up: its reciprocal rank is 0."""
    assert first_rank({"a": 1.0}, {"b"}) == math.inf


def test_standard_error_is_that_of_a_reference_library() -> None:
    """`scipy.stats.sem` on the same numbers."""
    stats = pytest.importorskip("scipy.stats")
    values = [3.0, 4.5, 1.0, 8.25, 2.0]
    assert estimate(values).error == pytest.approx(float(stats.sem(values)), rel=1e-14)


def test_one_car_has_a_mean_and_no_error() -> None:
    """A deviation needs two."""
    one = estimate([4.0])
    assert one.mean == 4.0
    assert math.isnan(one.error)
    assert estimate([]).count == 0


@pytest.mark.parametrize(
    ("forecasts", "outcomes", "words"),
    [
        ([], [], "number of forecasts is 0"),
        ([0.5], [1, 0], "as many as outcomes"),
        ([1.2], [1], r"forecast is 1\.2"),
        ([math.nan], [1], "forecast is nan"),
        ([0.5], [0.5], r"outcome is 0\.5"),
    ],
)
def test_what_is_no_forecast_is_refused(
    forecasts: list[float], outcomes: list[float], words: str
) -> None:
    """Each error names the number and what is allowed."""
    with pytest.raises(ParameterError, match=words):
        brier(forecasts, np.array(outcomes))
