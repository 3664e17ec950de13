"""The order of checks against brute force over all orders, and against published rules."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

import numpy as np
import pytest

from tests.oracles.random_networks import generator
from tests.triage.schedule_problems import Problem, listed, one_place, random_problem

# ------------------------------------------------------- without set-ups: probability over cost


@pytest.mark.parametrize("name", [f"over-cost-{n}" for n in range(40)])
def test_without_set_ups_the_order_is_value_over_minutes_and_the_best_of_all(name: str) -> None:
    """Kadane and Simon 1977; CHECK: the best of all permutations of up to seven checks."""
    rng = generator(name)
    count = int(rng.integers(1, 8))
    chance, minutes = rng.dirichlet(np.ones(count)), rng.uniform(1.0, 40.0, count)
    problem = one_place(chance.tolist(), minutes.tolist())

    order = listed(problem.plan())

    assert order == sorted(range(count), key=lambda k: -chance[k] / minutes[k])
    assert problem.area(order) == pytest.approx(problem.best()[0], rel=1e-12)


def expected_cost(order: Iterable[int], chance: Sequence[float], cost: Sequence[float]) -> float:
    """Return ECR = sum of c_i (1 - sum of p_j before i), Heckerman et al. 1995."""
    total, solved = 0.0, 0.0
    for k in order:
        total += cost[k] * (1.0 - solved)
        solved += chance[k]
    return total


def test_the_constructed_five_action_example_costs_77() -> None:
    """Worked by exhausting all 120 orders: optimum 3-2-5-1-4, 77.00; next 77.25, worst 113.75."""
    chance, cost = (0.45, 0.25, 0.15, 0.10, 0.05), (80.0, 20.0, 10.0, 30.0, 5.0)

    order = listed(one_place(chance, cost).plan())

    assert [k + 1 for k in order] == [3, 2, 5, 1, 4]
    assert expected_cost(order, chance, cost) == pytest.approx(77.00, abs=1e-9)
    every = sorted(expected_cost(p, chance, cost) for p in itertools.permutations(range(5)))
    assert (every[0], every[1], every[-1]) == pytest.approx((77.00, 77.25, 113.75), abs=1e-9)
    by_chance = sorted(range(5), key=lambda k: -chance[k])
    by_cost = sorted(range(5), key=lambda k: cost[k])
    assert expected_cost(by_chance, chance, cost) == pytest.approx(98.75, abs=1e-9)
    assert expected_cost(by_cost, chance, cost) == pytest.approx(83.00, abs=1e-9)


#: Light Print: lecture slides "Decision theoretic troubleshooting", Czech Academy of Sciences,
#: 11 July 2007, slides 2 to 6. The 0.9 of A1 and A3 is from memory; the rest was read there.
LIGHT_CHANCE = (0.4, 0.3, 0.2, 0.1)
LIGHT_COST = {"A1": 5.0, "A2": 15.0, "A3": 1.0}
LIGHT_SOLVES = {"A1": (0.9, 0, 0, 0), "A2": (0.9, 0.9, 0, 0), "A3": (0, 0, 0.9, 0)}
LIGHT_ORDERS = {
    "A3 A1 A2": 12.000,
    "A1 A3 A2": 12.540,
    "A3 A2 A1": 14.250,
    "A1 A2 A3": 14.934,
    "A2 A3 A1": 16.320,
    "A2 A1 A3": 17.184,
}


def light_print_cost(order: Sequence[str]) -> float:
    """Return the expected cost of an order, action by action, cause by cause."""
    open_, total = list(LIGHT_CHANCE), 0.0
    for action in order:
        total += LIGHT_COST[action] * sum(open_)
        open_ = [p * (1.0 - s) for p, s in zip(open_, LIGHT_SOLVES[action], strict=True)]
    return total


@pytest.mark.parametrize("order", LIGHT_ORDERS)
def test_the_six_orders_of_light_print_cost_what_the_slides_numbers_give(order: str) -> None:
    """The oracle used below must itself agree with the table worked from the slides."""
    assert light_print_cost(order.split()) == pytest.approx(LIGHT_ORDERS[order], abs=5e-4)


def test_light_print_is_done_in_the_cheapest_of_its_six_orders() -> None:
    """p/c 0.18, 0.072, 0.042: cycle power, reseat the toner, try another toner."""
    gain = np.array([np.multiply(LIGHT_CHANCE, LIGHT_SOLVES[a]) for a in LIGHT_COST])
    problem = Problem(gain, np.array(list(LIGHT_COST.values())), ("a",) * 3, {"a": {}}, "a")

    plan = problem.plan()

    names = [list(LIGHT_COST)[k] for k in listed(plan)]
    assert " ".join(names) == min(LIGHT_ORDERS, key=LIGHT_ORDERS.__getitem__)
    rates = [step.value / step.minutes for step in plan.steps]
    assert rates[:2] == pytest.approx([0.18, 0.072], rel=1e-12)
    assert gain[1].sum() / LIGHT_COST["A2"] == pytest.approx(0.042, rel=1e-12)


# ------------------------------------------------------------------ with set-ups: brute force

SET_UP_CASES = [(f"set-ups-{n}", 4 + n % 4) for n in range(36)] + [("set-ups-eight", 8)]


@pytest.mark.parametrize(("name", "checks"), SET_UP_CASES)
def test_with_set_ups_the_area_is_the_smallest_over_all_sequences(name: str, checks: int) -> None:
    """Monma and Potts 1989: exact with asymmetric changes of set-up, start given."""
    problem = random_problem(name, checks, 3)

    plan = problem.plan()

    assert sorted(listed(plan)) == list(range(checks))
    assert problem.area(listed(plan)) == pytest.approx(problem.best()[0], rel=1e-12)


def test_the_sweep_with_set_ups_reaches_eight_checks_and_mixes_set_ups() -> None:
    """A sweep over problems of one set-up would prove nothing."""
    problems = [random_problem(name, checks, 3) for name, checks in SET_UP_CASES]
    mixed = [p for p in problems if len(set(p.setups)) == 3]
    broken_up = [p for p in problems if _visits(p, listed(p.plan())) > len(set(p.setups))]

    assert len(problems) == 37
    assert max(len(p.setups) for p in problems) == 8
    assert len(mixed) >= 20
    assert broken_up  # some best orders come back to a set-up


def _visits(problem: Problem, order: Sequence[int]) -> int:
    """Return how often an order changes into a set-up."""
    return len(list(itertools.groupby(problem.setups[k] for k in order)))


@pytest.mark.parametrize("name", [f"minutes-{n}" for n in range(10)])
def test_the_minutes_of_the_steps_are_those_of_the_way(name: str) -> None:
    """What the technician reads must add up to what was minimised."""
    problem = random_problem(name, 6, 3)

    plan = problem.plan()

    here, total = problem.start, 0.0
    for k in listed(plan):
        total += problem.way(here, problem.setups[k]) + problem.minutes[k]
        here = problem.setups[k]
    assert plan.minutes == pytest.approx(total, rel=1e-12)


def test_a_wrong_order_is_told_from_the_best_one() -> None:
    """The negative control: the order that ignores set-ups loses on most problems."""
    problems = [random_problem(name, checks, 3) for name, checks in SET_UP_CASES[:20]]
    worse = 0
    for problem in problems:
        rate = np.diag(problem.gain) / problem.minutes
        naive = sorted(range(len(rate)), key=lambda k: -rate[k])
        worse += problem.area(naive) > problem.area(listed(problem.plan())) * 1.001

    assert worse >= 15
