"""The account of any cause: the same as the answer's for the first, and it adds up for all."""

from __future__ import annotations

import pytest

from api.answering.asked_cause import STEPS, AskedCause, account_of_cause
from api.documents import CauseRow, Why
from tests.api.answers import answer_to, demo, knowledge
from triage.errors import TriageError

NAME = "sensor-really-bad"
ROWS = answer_to(NAME).causes


def account(cause: str) -> Why:
    """Return the account of a cause of the case."""
    return account_of_cause(
        knowledge(), demo(NAME), AskedCause(cause, tuple(row.id for row in ROWS))
    )


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_the_parts_of_every_shown_cause_add_up_to_its_chance(row: CauseRow) -> None:
    """Held against the answer's own posterior: log odds, added, are the odds that are shown."""
    why = account(row.id)
    assert why.prior_decibans is not None
    whole = why.prior_decibans + sum(part.decibans for part in why.incremental)

    assert 1.0 / (1.0 + 10.0 ** (-whole / 10.0)) == pytest.approx(row.posterior, abs=1e-9)
    assert why.paths
    assert all(path.links[0].source == row.id for path in why.paths)


def test_there_were_causes_to_ask_about() -> None:
    """A sweep over nothing proves nothing."""
    assert len(ROWS) >= 3
    assert any(row.is_part for row in ROWS)
    assert any(not row.is_part for row in ROWS)


def test_for_the_first_cause_it_is_what_the_answer_says() -> None:
    """Two ways to one account may not tell two stories."""
    told = answer_to(NAME).why
    assert told is not None
    made = account(told.cause)
    assert made.contrast is not None
    assert told.contrast is not None

    assert [part.finding for part in made.incremental] == [p.finding for p in told.incremental]
    assert [part.decibans for part in made.incremental] == pytest.approx(
        [part.decibans for part in told.incremental], abs=1e-6
    )
    assert made.contrast.other == told.contrast.other
    assert {row.id for row in made.would_change} == {row.id for row in told.would_change}


def test_a_cause_is_held_against_the_part_that_the_code_names() -> None:
    """Why this and not the sensor; where it is the sensor, why it and not the first other one."""
    (part,) = {row.part for row in answer_to(NAME).sensor_first}
    for row in ROWS:
        contrast = account(row.id).contrast
        assert contrast is not None
        assert contrast.other != row.id
        assert contrast.other == part or row.id == part


def test_each_step_is_told_in_turn_and_may_end_it() -> None:
    """Counted progress, and stopped between two steps."""
    told: list[int] = []
    account_of_cause(knowledge(), demo(NAME), AskedCause(ROWS[0].id), step=told.append)
    assert told == list(range(1, len(STEPS)))

    def stop(number: int) -> None:
        if number == 2:
            raise TriageError("enough")

    with pytest.raises(TriageError, match="enough"):
        account_of_cause(knowledge(), demo(NAME), AskedCause(ROWS[0].id), step=stop)


def test_a_case_past_the_budget_has_its_ways_alone() -> None:
    """Numbers of a case without some of its findings would mislead."""
    made = account_of_cause(knowledge(), demo(NAME), AskedCause(ROWS[0].id, work=1.0))

    assert made.paths
    assert made.incremental == ()
    assert made.contrast is None
