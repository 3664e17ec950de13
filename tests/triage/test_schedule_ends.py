"""Where the list ends, what counts once, and the parts it is made of."""

from __future__ import annotations

import numpy as np
import pytest

from tests.oracles.random_networks import generator
from tests.triage.schedule_problems import Problem, listed, one_place, random_problem
from triage.schedule import while_there
from triage.sequencing import Chain, Ground, best_sequence, closed_travel, count_states

# ---------------------------------------------------------------------- stopping and marginals


def test_the_list_stops_when_no_check_is_worth_its_time_and_says_so() -> None:
    """25 for 10 minutes is worth it at 2 a minute, 15 is not."""
    plan = one_place([25.0, 15.0], [10.0, 10.0]).plan(2.0)

    assert listed(plan) == [0]
    assert plan.stopped == "worth"


def test_a_change_of_set_up_is_paid_for_by_all_that_it_serves() -> None:
    """Two checks are worth a lift that neither is worth alone."""
    change = {"walk": {"lift": 10.0}, "lift": {"walk": 10.0}}
    both = Problem(np.diag([20.0, 20.0]), np.full(2, 4.0), ("lift", "lift"), change, "walk")
    one = Problem(np.diag([20.0]), np.full(1, 4.0), ("lift",), change, "walk")

    assert sorted(listed(both.plan(2.0))) == [0, 1]
    assert listed(one.plan(2.0)) == []


def test_a_list_that_is_cut_says_so_and_one_without_offers_too() -> None:
    """The reader must know whether there would have been more."""
    cut = one_place([9.0, 8.0, 7.0], [1.0, 1.0, 1.0]).plan(longest=2)
    empty = Problem(np.zeros((0, 3)), np.zeros(0), (), {"a": {}}, "a").plan()

    assert (listed(cut), cut.stopped) == ([0, 1], "length")
    assert (empty.steps, empty.stopped) == ((), "empty")


def test_two_identical_checks_do_not_count_twice() -> None:
    """Looking at one joint in two ways is worth one look."""
    gain, minutes = np.array([[30.0], [30.0], [0.0]]), np.array([5.0, 6.0, 1.0])
    plan = Problem(gain, minutes, ("a",) * 3, {"a": {}}, "a").plan()

    assert listed(plan) == [0]
    assert sum(step.value for step in plan.steps) == 30.0


@pytest.mark.parametrize("name", [f"overlap-{n}" for n in range(30)])
def test_where_checks_overlap_the_order_comes_close_to_the_best(name: str) -> None:
    """With overlaps the weights depend on the order: exact for the weights, not beyond them."""
    plain = random_problem(name, 6, 3)
    rng = generator(name + "-shared")
    gain = rng.uniform(0.0, 20.0, (6, 4)) * (rng.random((6, 4)) < 0.5) + 1e-3
    problem = Problem(gain, plain.minutes, plain.setups, plain.change, plain.start)
    order = listed(problem.plan())
    left = [k for k in range(6) if k not in order]  # they bring nothing more

    assert problem.area([*order, *left]) <= problem.best()[0] * 1.10


@pytest.mark.parametrize("name", [f"large-{n}" for n in range(5)])
def test_a_large_choice_is_held_to_what_can_be_ordered(name: str) -> None:
    """Beyond the bound the last candidates wait; the list stays full and sorted in chains."""
    problem = random_problem(name, 60, 9)

    plan = problem.plan(1e-3)

    assert len(plan.steps) == 12
    assert plan.stopped == "length"


# --------------------------------------------------------------------------------- the parts


def test_the_shortest_way_may_lead_through_a_third_set_up_but_not_through_a_shut_one() -> None:
    """Otherwise a detour would be cheaper than the way, and the order not exact."""
    direct = np.array([[0.0, 1.0, 9.0], [1.0, 0.0, 2.0], [9.0, 2.0, 0.0]])

    assert closed_travel(direct, np.array([True, True, True]))[0, 2] == 3.0
    assert closed_travel(direct, np.array([True, False, True]))[0, 2] == 9.0


def test_chains_that_wait_for_one_another_have_no_sequence() -> None:
    """A circle is an answer of its own: an infinite area, never an endless loop."""
    chains = [
        Chain(0, (1,), (1.0,), (1.0,), frozenset({1})),
        Chain(0, (2,), (1.0,), (1.0,), frozenset({0})),
    ]

    area, jobs = best_sequence(chains, Ground(np.zeros((1, 1)), 0))

    assert (area, jobs) == (np.inf, [])
    assert count_states(chains) == 4


def test_while_there_lists_only_short_looks_in_set_ups_of_the_list() -> None:
    """The second list never sends the car anywhere."""
    plan = one_place([30.0], [5.0]).plan()

    looks = while_there(
        np.array([0.0, 5.0, 9.0, 7.0, 0.0]),
        np.array([5.0, 4.0, 3.0, 9.0, 1.0]),
        ["a", "a", "b", "a", "a"],
        plan,
    )

    assert looks == [1]
