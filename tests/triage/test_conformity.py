"""Readings against limits: values published with JCGM 106 and by an open test suite."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest

from triage.errors import ParameterError
from triage.measure.conformity import likelihood_ratio, nonconformance_probability


@dataclass
class Measured:
    """A reading."""

    value: float
    limit: float
    uncertainty: float
    limit_kind: str = "upper"


@pytest.mark.parametrize(
    ("reading", "conforming"),
    [
        (Measured(-5.47, -5.40, 0.05, "upper"), 0.919243),
        (Measured(509.7, 490.0, 8.6, "lower"), 0.98901),
    ],
    ids=["zener diode", "burst strength"],
)
def test_worked_examples_of_jcgm_106_come_out(reading: Measured, conforming: float) -> None:
    """JCGM 106:2012, clause 7: Phi(1.4), and a lower limit (inputs recalled)."""
    assert 1 - nonconformance_probability(reading) == pytest.approx(conforming, abs=5e-6)


@pytest.mark.parametrize(("r", "conforming"), [(0.0, 0.5), (0.5, 0.841345), (1.0, 0.977250)])
def test_guard_bands_give_their_conformance_probability(r: float, conforming: float) -> None:
    """Guard band w = r U with U = 2 u: conformance at the acceptance limit."""
    reading = Measured(10.0 - r * 2 * 0.3, 10.0, 0.3)

    assert 1 - nonconformance_probability(reading) == pytest.approx(conforming, abs=5e-7)


def test_the_speed_example_of_jcgm_106_needs_106_59() -> None:
    """Limit 100 km/h, u = 2 % of the speed, 99.9 % sure: act above 106.59 (clause 8, recalled)."""
    sure = [nonconformance_probability(Measured(v, 100.0, 0.02 * v)) for v in (106.58, 106.60)]

    assert sure[0] < 0.999 < sure[1]


@pytest.mark.parametrize(("mean", "risk"), [(10.0, 0.01242), (10.5, 0.10574)])
def test_both_sides_add_up_to_the_published_specific_risk(mean: float, risk: float) -> None:
    """N(mean, 0.4) between 9 and 11: values of the test suite of suncal, an open library."""
    upper = nonconformance_probability(Measured(mean, 11.0, 0.4, "upper"))
    lower = nonconformance_probability(Measured(mean, 9.0, 0.4, "lower"))

    assert upper + lower == pytest.approx(risk, abs=1e-5)


@pytest.mark.parametrize(("value", "expected"), [(0.05, 0.0), (0.0501, 1.0)])
def test_without_uncertainty_the_limit_decides(value: float, expected: float) -> None:
    """A value on the limit conforms."""
    assert nonconformance_probability(Measured(value, 0.05, 0.0)) == expected


def test_a_far_reading_is_the_word_and_a_reading_on_the_limit_says_nothing() -> None:
    """The mixture runs from not found over nothing to found."""
    far, near = Measured(9.0, 1.0, 0.1), Measured(-9.0, 1.0, 0.1)

    assert likelihood_ratio("found", far, 0.9, 0.15) == pytest.approx(6.0)
    assert likelihood_ratio("found", near, 0.9, 0.15) == pytest.approx(0.1 / 0.85)
    assert likelihood_ratio("found", Measured(1.0, 1.0, 0.1), 0.9, 0.15) == pytest.approx(1.0)
    assert likelihood_ratio("cant-tell", far, 0.9, 0.15) == 1.0


def test_no_look_is_beyond_doubt() -> None:
    """A sensitivity and specificity of 1 would make one slip final."""
    assert likelihood_ratio("not-found", None, 1.0, 0.0) == pytest.approx(0.005 / 0.995)


@pytest.mark.parametrize(
    ("reading", "match"),
    [
        (Measured(math.nan, 1.0, 0.1), "value of a reading is nan, outside finite"),
        (Measured(1.0, 1.0, -0.1), r"uncertainty is -0.1, outside \[0, inf\)"),
        (Measured(1.0, 1.0, 0.1, "both"), "kind of limit is 'both', outside upper, lower"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(reading: Measured, match: str) -> None:
    """Numbers are refused by name."""
    with pytest.raises(ParameterError, match=match):
        nonconformance_probability(reading)


def test_a_verdict_or_chance_that_cannot_be_is_refused() -> None:
    """Numbers and words are refused by name."""
    with pytest.raises(ParameterError, match="verdict is 'seen'"):
        likelihood_ratio("seen", None, 0.9, 0.1)
    with pytest.raises(ParameterError, match=r"P\(found \| on\) is 1.2"):
        likelihood_ratio("found", None, 1.2, 0.1)
