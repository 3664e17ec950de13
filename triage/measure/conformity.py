"""A measured value against a limit: how likely it lies beyond, and what that says.

The value is known only up to its standard uncertainty `u`, so "beyond the limit" is
a probability. With a normal error and no knowledge of the value beforehand [1]_::

    upper limit:  P(nonconforming | reading) = Phi((value - limit) / u)
    lower limit:  P(nonconforming | reading) = Phi((limit - value) / u)

A check that says *found* when the true value is beyond the limit has P(found | on)
and P(found | off). A reading is such a verdict of which we are only `w` sure, so the
ratio of the two chances of what was observed is::

    P(observed | on) = w * p_on + (1 - w) * (1 - p_on)        the same for off

At w = 1 this is the ratio of *found*, at w = 0 that of *not found*, and a reading on
the limit (w = 1/2) says nothing.

References
----------
.. [1] JCGM 106:2012, Evaluation of measurement data: the role of measurement
       uncertainty in conformity assessment, clause 7 (clause recalled).
"""

from __future__ import annotations

import math
from typing import Protocol

from triage.errors import ParameterError

__all__ = ["Measured", "likelihood_ratio", "nonconformance_probability"]

#: Chances are kept this far from 0 and 1: no look and no reading is beyond doubt.
LEAST_CHANCE = 0.005
VERDICTS = ("found", "not-found", "cant-tell")


class Measured(Protocol):
    """A reading: value, limit and standard uncertainty in one unit."""

    @property
    def value(self) -> float:
        """The measured value."""

    @property
    def limit(self) -> float:
        """The limit that somebody typed in with its source."""

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty, at least 0."""

    @property
    def limit_kind(self) -> str:
        """Which side is good: ``upper`` (not above) or ``lower`` (not below)."""


def nonconformance_probability(reading: Measured) -> float:
    """Return the probability that the true value is beyond the limit.

    Parameters
    ----------
    reading : Measured
        An uncertainty of 0 makes the answer 0 or 1; a value on the limit conforms.

    Raises
    ------
    ParameterError
        If a number is not finite, the uncertainty is negative or the kind of limit
        is neither ``upper`` nor ``lower``.

    Examples
    --------
    >>> from types import SimpleNamespace as R
    >>> round(nonconformance_probability(
    ...     R(value=0.19, limit=0.05, uncertainty=0.1, limit_kind="upper")), 4)
    0.9192
    """
    for name in ("value", "limit", "uncertainty"):
        if not math.isfinite(getattr(reading, name)):
            raise ParameterError(name, getattr(reading, name), allowed="finite", where="a reading")
    if reading.uncertainty < 0.0:
        raise ParameterError("uncertainty", reading.uncertainty, allowed="[0, inf)")
    if reading.limit_kind not in ("upper", "lower"):
        raise ParameterError("kind of limit", reading.limit_kind, allowed="upper, lower")
    beyond = reading.value - reading.limit
    if reading.limit_kind == "lower":
        beyond = -beyond
    if reading.uncertainty == 0.0:
        return float(beyond > 0.0)
    return 0.5 * math.erfc(-beyond / (reading.uncertainty * math.sqrt(2.0)))


def likelihood_ratio(verdict: str, reading: Measured | None, p_on: float, p_off: float) -> float:
    """Return P(observed | on) / P(observed | off) of a verdict, or of its reading.

    Parameters
    ----------
    verdict : str
        ``found``, ``not-found`` or ``cant-tell``; the last is no evidence. With a
        reading the reading speaks, not the word.
    reading : Measured or None
        The measured value with its limit.
    p_on, p_off : float in [0, 1]
        P(found) with the thing there and not there; kept within
        [`LEAST_CHANCE`, 1 - `LEAST_CHANCE`].

    Returns
    -------
    float
        Above 0; 1 = says nothing.

    Raises
    ------
    ParameterError
        If a chance or a number of the reading is out of range, or the verdict is
        none of the three words.

    Examples
    --------
    >>> round(likelihood_ratio("found", None, 0.9, 0.15), 6)
    6.0
    """
    for name, value in (("P(found | on)", p_on), ("P(found | off)", p_off)):
        if not 0.0 <= value <= 1.0:
            raise ParameterError(name, value)
    if verdict not in VERDICTS:
        raise ParameterError("verdict", verdict, allowed=", ".join(VERDICTS))
    if verdict == "cant-tell":
        return 1.0
    sure = float(verdict == "found") if reading is None else nonconformance_probability(reading)
    on, off = (min(1.0 - LEAST_CHANCE, max(LEAST_CHANCE, p)) for p in (p_on, p_off))
    return (sure * on + (1.0 - sure) * (1.0 - on)) / (sure * off + (1.0 - sure) * (1.0 - off))
