"""Light Print with its question: the best policy asks first, and what the list does instead.

The published model (lecture slides "Decision theoretic troubleshooting", Czech Academy of
Sciences, 11 July 2007, slides 2 to 6): one of four faults, three actions that repair, one
question, "is the configuration page light?". SEEN on the slides: chances, costs, what A2 solves,
what Q1 answers, which fault A1 and A3 are for. MEM: the 0.9 with which A1 and A3 solve. CALC: all
costs of policies, by a dynamic programme of its own, with a penalty for giving up.

It is put to the two that `tests.bench.regret` compares: the expectimax that finds the best
policy, and the list, made anew after each answer by the rule in use.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.forms import FORMS
from tests.bench.regret import Problem, listed, optimum, steps_of
from triage.arrays import Floats

A1, A2, A3, Q1 = range(4)
CHANCE = np.array([0.4, 0.3, 0.2, 0.1])  # SEEN
COST = np.array([5.0, 15.0, 1.0, 2.0])  # SEEN
#: P(solves, or says yes | fault): rows A1 (MEM), A2 (SEEN), A3 (MEM), Q1 (SEEN).
SAYS = np.array([[0.9, 0, 0, 0], [0.9, 0.9, 0, 0], [0, 0, 0.9, 0], [1.0, 1.0, 0, 0]])
#: Penalty for giving up -> cost of the best policy (CALC).
BEST = {20.0: 13.98, 50.0: 18.60, 100.0: 26.30}
START = (0, 0, 0)

#: What is done on a yes and on a no after a check; None where it ends.
Policy = tuple[int, "Policy | None", "Policy | None"]


def light_print(penalty: float) -> Problem:
    """Return the model: a fault found is repaired for nothing, one not found costs the penalty."""
    there = np.eye(4, dtype=np.bool_)
    nothing = np.zeros(4)
    return Problem(
        weight=CHANCE,
        there=there,
        part=there.astype(np.float64),
        says=SAYS,
        shows=((0,), (0, 1), (2,), ()),
        reliable=(np.array([0.9, 0.9, 0.9, 1.0]), nothing),
        minutes=COST,
        setup=(0,) * 4,
        danger=nothing,
        repair=nothing,
        reading="found",
        rule=next(iter(FORMS)),
        comeback=penalty,
        per_minute=1.0,
    )


def best_policy(problem: Problem, weight: Floats, state: tuple[int, int, int]) -> Policy | None:
    """Return the policy of smallest expected cost, by trying every check at every point."""
    if weight.sum() <= 0.0:
        return None
    done, found, here = state
    cheapest, policy = float(weight.sum() * problem.loss_now(weight, found)), None
    for k in range(4):
        if done >> k & 1:
            continue
        yes, no = weight * SAYS[k], weight * (1.0 - SAYS[k])
        then = ((done | 1 << k, found | problem.bits(k), here), (done | 1 << k, found, here))
        sides = optimum(problem, yes, then[0]) + optimum(problem, no, then[1])
        cost = float(weight.sum()) * problem.leg(k, here) + sides
        if cost < cheapest - 1e-12:
            cheapest = cost
            policy = k, best_policy(problem, yes, then[0]), best_policy(problem, no, then[1])
    return policy


def while_nothing_helps(problem: Problem) -> list[int]:
    """Return what the list has done, made anew after each check, until it stops; none helps."""
    weight, (done, found, here), order = problem.weight, START, list[int]()
    while steps := steps_of(problem, weight, (done, found, here)):
        order.append(steps[0])
        weight, done = weight * (1.0 - SAYS[steps[0]]), done | 1 << steps[0]
    return order


def test_the_model_says_what_follows_from_the_numbers_on_the_slides() -> None:
    """CALC from what was SEEN alone: 0.63, 0.7, the chances after A2 fails and after a yes."""
    failed, yes = CHANCE * (1.0 - SAYS[A2]), CHANCE * SAYS[Q1]

    assert SAYS[A2] @ CHANCE == pytest.approx(0.63, abs=1e-12)
    assert yes.sum() == pytest.approx(0.7, abs=1e-12)
    assert failed / failed.sum() == pytest.approx(np.array([4, 3, 20, 10]) / 37, abs=1e-12)
    assert yes[0] / yes.sum() == pytest.approx(4 / 7, abs=1e-12)


@pytest.mark.parametrize(("penalty", "cost"), BEST.items())
def test_the_best_policy_costs_what_the_check_value_says(penalty: float, cost: float) -> None:
    """CALC: 13.98, 18.60 and 26.30 with a penalty of 20, 50 and 100."""
    problem = light_print(penalty)

    assert optimum(problem, CHANCE, START) == pytest.approx(cost, abs=5e-3)


@pytest.mark.parametrize("penalty", BEST)
def test_the_best_policy_asks_first_and_goes_two_ways(penalty: float) -> None:
    """CALC: Q1; on a yes A1, A2, stop; on a no A3, stop."""
    asked = best_policy(light_print(penalty), CHANCE, START)

    assert asked == (Q1, (A1, None, (A2, None, None)), (A3, None, None))


@pytest.mark.parametrize(
    ("penalty", "cost", "order"),
    [
        # CALC: 1 + 0.82 * 5 + 0.46 * 20, giving up before A2, which would bring 0.306 * 20 for 15
        (20.0, 14.30, [A3, A1]),
        # CALC: 12.000, the cheapest of the six orders, and 0.154 not solved
        (50.0, 19.70, [A3, A1, A2]),
        (100.0, 27.40, [A3, A1, A2]),
    ],
)
def test_the_list_asks_nothing_and_is_the_best_of_what_asks_nothing(
    penalty: float, cost: float, order: list[int]
) -> None:
    """It looks one check ahead and sees no worth in what repairs nothing: 2 to 6 % more."""
    problem = light_print(penalty)

    assert while_nothing_helps(problem) == order
    assert listed(problem, CHANCE, START) == pytest.approx(cost, abs=5e-3)
    assert 1.02 < cost / BEST[penalty] < 1.06
