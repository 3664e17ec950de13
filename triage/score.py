"""How good a forecast was: Brier score, calibration, ranks, means with their error.

A forecast is a probability p for something that then was so (1) or not (0). The Brier
score is the mean of (p - outcome)^2: 0 is perfect, 0.25 is what always saying one half
gets [1]_. A forecaster is *calibrated* when, of all the things called 30 percent, three
in ten come true. `calibration` counts that in bins.

References
----------
.. [1] Brier, G. W. (1950). Verification of forecasts expressed in terms of
       probability. Monthly Weather Review 78(1), 1-3. (From memory.)
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats
from triage.errors import ParameterError

__all__ = ["Bin", "Estimate", "brier", "calibration", "estimate", "first_rank"]

#: Bin edges: finer where most forecasts of rare faults lie.
EDGES = (0.0, 0.01, 0.03, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)


@dataclass(frozen=True, slots=True)
class Bin:
    """Forecasts between two edges, and how many of them came true."""

    low: float
    high: float
    count: int
    forecast: float  # mean forecast
    observed: float  # share that came true
    error: float  # standard error of that share if the mean forecast is right


@dataclass(frozen=True, slots=True)
class Estimate:
    """A mean over independent cars with its standard error."""

    mean: float
    error: float  # nan for fewer than two
    count: int


def brier(forecasts: Sequence[float] | Floats, outcomes: Sequence[bool | int] | Floats) -> float:
    """Return the mean squared difference of forecast and outcome, in [0, 1].

    Parameters
    ----------
    forecasts : probabilities
    outcomes : 0 or 1 each, as many as forecasts

    Raises
    ------
    ParameterError
        If there are none, or not as many of both, or a forecast is outside [0, 1].

    Examples
    --------
    >>> round(brier([0.1, 0.9, 0.8, 0.3], [0, 1, 1, 0]), 6)
    0.0375
    """
    p, y = _pairs(forecasts, outcomes)
    return float(np.mean((p - y) ** 2))


def calibration(
    forecasts: Sequence[float] | Floats,
    outcomes: Sequence[bool | int] | Floats,
    edges: Sequence[float] = EDGES,
) -> tuple[Bin, ...]:
    """Return the bins that hold forecasts; a bin holds its lower edge, the last one both.

    Examples
    --------
    >>> [(b.count, b.observed) for b in calibration([0.2, 0.2, 0.8], [0, 1, 1], (0, 0.5, 1))]
    [(2, 0.5), (1, 1.0)]
    """
    p, y = _pairs(forecasts, outcomes)
    where = np.clip(np.searchsorted(edges, p, side="right") - 1, 0, len(edges) - 2)
    bins = []
    for k in range(len(edges) - 1):
        inside = where == k
        count = int(inside.sum())
        if count:
            mean = float(p[inside].mean())
            error = math.sqrt(mean * (1.0 - mean) / count)
            share = float(y[inside].mean())
            bins.append(Bin(float(edges[k]), float(edges[k + 1]), count, mean, share, error))
    return tuple(bins)


def first_rank(scores: Mapping[str, float], wanted: Collection[str]) -> float:
    """Return the best rank, 1 is first, that any of the wanted has among all scores.

    Equal scores share the middle of their ranks, so that no order of ties helps.
    `inf` when none of the wanted has a score.

    Examples
    --------
    >>> first_rank({"a": 0.5, "b": 0.2, "c": 0.2}, {"c"})
    2.5
    """
    mine = [scores[key] for key in wanted if key in scores]
    if not mine:
        return math.inf
    best = max(mine)
    above = sum(score > best for score in scores.values())
    level = sum(score == best for score in scores.values())
    return above + (level + 1) / 2


def estimate(values: Sequence[float] | Floats) -> Estimate:
    """Return mean and standard error of the mean (sample deviation over root n).

    Examples
    --------
    >>> estimate([1.0, 3.0])
    Estimate(mean=2.0, error=1.0, count=2)
    """
    array = np.asarray(values, np.float64)
    if array.size == 0:
        return Estimate(math.nan, math.nan, 0)
    error = float(array.std(ddof=1) / math.sqrt(array.size)) if array.size > 1 else math.nan
    return Estimate(float(array.mean()), error, int(array.size))


def _pairs(
    forecasts: Sequence[float] | Floats, outcomes: Sequence[bool | int] | Floats
) -> tuple[Floats, Floats]:
    """Return both as arrays, refused when they cannot be forecasts and outcomes."""
    p, y = np.asarray(forecasts, np.float64), np.asarray(outcomes, np.float64)
    if p.size == 0 or p.shape != y.shape:
        raise ParameterError(
            "number of forecasts",
            p.size,
            allowed=f"as many as outcomes ({y.size}), at least one",
            remedy="give one outcome for each forecast",
        )
    if not np.all((p >= 0.0) & (p <= 1.0)):
        bad = float(p[~((p >= 0.0) & (p <= 1.0))][0])
        raise ParameterError("forecast", bad, remedy="give probabilities")
    if not np.all((y == 0.0) | (y == 1.0)):
        bad = float(y[(y != 0.0) & (y != 1.0)][0])
        raise ParameterError("outcome", bad, allowed="0 or 1", remedy="say whether it came true")
    return p, y
