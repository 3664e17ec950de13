"""The row of the part that a code names: chances, both ways, and the sentence."""

from __future__ import annotations

import pytest

from api.answering import answer_case
from api.documents import SensorRow
from tests.api.answers import answer_to, demo, knowledge

NAMES = ("sensor-really-bad", "sensor-proven", "must-not-be-driven")


def _row(name: str) -> SensorRow:
    rows = answer_to(name).sensor_first
    assert len(rows) == 1
    return rows[0]


@pytest.mark.parametrize("name", NAMES)
def test_a_row_holds_every_figure_with_its_error(name: str) -> None:
    """A figure from drawn cars is worth nothing without how far it may be off."""
    row = _row(name)

    assert row.ends_complaint is not None
    assert row.ends_complaint <= row.posterior
    assert row.cars >= 300
    for figure in (row.ends_error, row.cost_error, row.minutes_error):
        assert figure is not None
        assert figure >= 0.0
    for figure in (row.cost_replace_first, row.minutes_replace_first, row.minutes_look_first):
        assert figure is not None
        assert figure > 0.0


@pytest.mark.parametrize("name", NAMES)
def test_a_part_that_nobody_priced_is_marked_as_an_estimate(name: str) -> None:
    """A price of our own would be taken for the shop's."""
    row = _row(name)

    assert row.priced_by == "estimate"
    assert row.part_price_low is not None
    assert row.part_price is not None
    assert row.part_price_high is not None
    assert row.part_price_low < row.part_price < row.part_price_high


def test_three_answers_were_looked_at() -> None:
    """Partner of the sweeps."""
    assert len(NAMES) == 3


def test_a_sensor_that_is_proven_is_the_right_call_and_the_sentence_says_so() -> None:
    """One time in five it is the sensor, and the tool must say so."""
    row = _row("sensor-proven")

    assert row.posterior > 0.9
    assert row.better == "replace-first"
    assert row.sentence.startswith("Replacing it is the right call")


def test_a_sensor_that_is_not_proven_is_looked_at_first() -> None:
    """Half a chance is no proof while a few minutes would tell."""
    row = _row("sensor-really-bad")

    assert row.better == "look-first"
    assert row.cost_look_first is not None
    assert row.cost_replace_first is not None
    assert row.cost_look_first < row.cost_replace_first
    assert row.sentence.startswith("Look first")


def test_no_part_is_put_first_while_a_gate_bars_the_car() -> None:
    """Safety notes 7: never a sensor before an unchecked mechanical gate."""
    row = _row("must-not-be-driven")

    assert row.better == "gate-first"
    assert row.sentence.startswith("No part is replaced before the open gate is closed")


def test_the_shops_price_for_the_part_is_used_and_named() -> None:
    """What the shop pays is no estimate; dearer parts speak for looking first."""

    class Shop:
        labour_per_hour = 120.0
        currency = "EUR"
        part_prices = {"rc-wss-sensor-failed": 500.0}  # noqa: RUF012 - a fake

    answer = answer_case(knowledge(), demo("sensor-really-bad"), case_id="x", shop=Shop())
    row, usual = answer.sensor_first[0], _row("sensor-really-bad")

    assert row.priced_by == "shop"
    assert row.part_price == row.part_price_low == row.part_price_high == 500.0
    assert row.cost_replace_first is not None
    assert usual.cost_replace_first is not None
    # Bought once in each of the cars drawn; in a few of them another corner needs one as well.
    dearer = (row.cost_replace_first - usual.cost_replace_first) / (500.0 - 108.0)
    assert 1.0 <= dearer < 1.1


def test_the_same_case_gets_the_same_figures() -> None:
    """The random numbers are fixed: nobody is told two things."""
    again = answer_case(
        knowledge(), demo("must-not-be-driven"), case_id="must-not-be-driven", shop=None
    ).sensor_first[0]

    assert again.ends_complaint == _row("must-not-be-driven").ends_complaint
    assert again.minutes_look_first == _row("must-not-be-driven").minutes_look_first
