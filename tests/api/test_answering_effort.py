"""A wide case leaves parts of the account out, says which, and keeps its chances exact."""

from __future__ import annotations

import numpy as np
import pytest

from api.answering.effort import Effort


def test_an_ordinary_case_affords_everything() -> None:
    """Nothing is left out where a sweep takes a few million products."""
    effort = Effort(5e6, 10)
    assert list(effort.left_out()) == []
    assert effort.runs >= 8


def test_a_wide_case_names_what_is_left_out() -> None:
    """Each part that is not made is in the sentence, and the chances are said to be exact."""
    (sentence,) = Effort(1e9, 10).left_out()
    for part in ("each statement weighs", "change the answer most", "how firm"):
        assert part in sentence
    assert "exact" in sentence


@pytest.mark.parametrize("cost", [1e3, 1e6, 1e7, 1e8, 1e9])
@pytest.mark.parametrize("items", [1, 5, 40])
def test_what_is_not_made_is_named_and_what_is_named_is_not_made(cost: float, items: int) -> None:
    """The sentence and the switches agree."""
    effort = Effort(cost, items)
    text = " ".join(effort.left_out())
    assert ("each statement weighs" in text) is not effort.weights
    assert ("change the answer most" in text) is not effort.changes
    assert ("how firm" in text) is (effort.runs == 0)


def test_dearer_cases_get_fewer_perturbed_answers() -> None:
    """The number of runs falls with the price of one, and too few are none."""
    runs = [Effort(cost, 5).runs for cost in (1e4, 1e6, 5e6, 1e7, 1e8)]
    assert runs == sorted(runs, reverse=True)
    assert runs[-1] == 0
    assert all(count == 0 or count >= 8 for count in runs)


@pytest.mark.parametrize("cost", [1e5, 5e6, 9e7, 4e9])
def test_whoever_has_all_patience_gets_two_hundred_perturbed_answers(cost: float) -> None:
    """Of every exact answer, however long it takes."""
    assert Effort(cost, 5, patience=np.inf).runs == 200


def test_intervals_have_no_account_and_are_not_called_exact() -> None:
    """Nobody's patience makes one: without some findings it would mislead."""
    for patience in (1.0, np.inf):
        effort = Effort(np.inf, 5, patience=patience)
        (sentence,) = effort.left_out()

        assert effort.runs == 0
        assert "exact" not in sentence
        assert "no account" in sentence


def test_what_is_made_afterwards_is_not_called_left_out() -> None:
    """In the bay it is made when nobody waits; on the terminal it is not."""
    (bay,), (terminal,) = (Effort(1e9, 10, grows=g).left_out() for g in (True, False))

    assert "not made yet" in bay
    assert "left out" not in bay
    assert "left out" in terminal


def test_an_account_that_gives_way_affords_more_perturbed_answers() -> None:
    """In the bay the account comes after the list: ten times the work for them, no more else."""
    at_once, after = Effort(5e6, 5), Effort(5e6, 5, perturbed=10.0)
    assert (at_once.runs, after.runs) == (20, 200)
    assert at_once.weights == after.weights
