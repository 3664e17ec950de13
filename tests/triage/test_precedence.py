"""The order of checks under rules, against brute force over the orders that obey them."""

from __future__ import annotations

import numpy as np
import pytest

from tests.triage.schedule_problems import FREE, Change, Problem, listed, random_problem
from triage.precedence import predecessors
from triage.schedule import TIGHTEN, Refit, Rules, Shop, plan_checks

# ------------------------------------------------------------------------------ precedence

ROAD_RULES = Rules(
    first=(0,),
    gates={"su-2": (1, 2)},
    before=((frozenset({3}), frozenset({4})),),
)
RULE_CASES = [f"rules-{n}" for n in range(20)]


def ruled_problem(name: str, *, refit: bool) -> Problem:
    """Return seven checks; two gate set-up 2, in which the last two are done."""
    plain = random_problem(name, 7, 4)
    homes = (*plain.setups[:1], "su-1", "su-3", *plain.setups[3:5], "su-2", "su-2")
    homes = tuple("su-1" if n < 5 and home == "su-2" else home for n, home in enumerate(homes))
    tighten = Refit("su-3", "su-2", "su-1", 6.0) if refit else None
    rules = Rules(ROAD_RULES.first, ROAD_RULES.gates, ROAD_RULES.before, tighten)
    return Problem(plain.gain, plain.minutes, homes, plain.change, plain.start, rules)


@pytest.mark.parametrize("refit", [False, True], ids=["plain", "wheels"])
@pytest.mark.parametrize("name", RULE_CASES)
def test_with_rules_the_area_is_the_smallest_over_all_allowed_sequences(
    name: str, refit: bool
) -> None:
    """What must come first comes first, and costs no more than it has to."""
    problem = ruled_problem(name, refit=refit)

    order = listed(problem.plan())

    assert problem.allowed(order)
    assert problem.area(order) == pytest.approx(problem.best()[0], rel=1e-12)


def test_the_rules_bind_in_the_sweep() -> None:
    """Rules that cost nothing anywhere would not have been tested."""
    free = [
        Problem(p.gain, p.minutes, p.setups, p.change, p.start)
        for p in (ruled_problem(name, refit=False) for name in RULE_CASES)
    ]
    tightened = [ruled_problem(name, refit=True).plan() for name in RULE_CASES]

    assert (
        sum(
            not ruled_problem(n, refit=False).allowed(listed(p.plan()))
            for n, p in zip(RULE_CASES, free, strict=True)
        )
        >= 15
    )
    assert sum(any(s.offer == TIGHTEN for s in plan.steps) for plan in tightened) >= 5


SHOP: Change = {
    "walk": {"lift": 5.0, "off": 11.0, "road": 3.0, "rack": 15.0},
    "lift": {"walk": 4.0, "off": 5.0, "road": 6.0, "rack": 15.0},
    "off": {"walk": 9.0, "lift": 6.0, "road": 12.0, "rack": 20.0},
    "road": {"walk": 2.0, "lift": 7.0, "off": 13.0, "rack": 15.0},
    "rack": {"walk": 6.0, "lift": 14.0, "off": 16.0, "road": 7.0},
}


def test_a_road_check_brings_its_pre_drive_checks_onto_the_list_before_it() -> None:
    """They bring nothing here and stay off a list that does not go onto the road."""
    gain, minutes = np.array([[0.0], [0.0], [90.0]]), np.array([2.0, 2.0, 10.0])
    rules = Rules(gates={"road": (0, 1)})

    out = Problem(gain, minutes, ("walk", "walk", "road"), SHOP, "walk", rules).plan(2.0)
    off = Problem(gain, minutes, ("walk", "walk", "lift"), SHOP, "walk", rules).plan(2.0)

    assert listed(out) == [0, 1, 2]
    assert listed(off) == [2]


def test_a_road_check_that_does_not_pay_for_its_pre_drive_checks_is_not_listed() -> None:
    """The gate is part of the price of the drive."""
    gain, minutes = np.array([[0.0], [25.0]]), np.array([12.0, 5.0])

    gated = Problem(gain, minutes, ("walk", "road"), SHOP, "walk", Rules(gates={"road": (0,)}))

    assert listed(gated.plan(2.0)) == []
    assert listed(Problem(gain, minutes, ("walk", "road"), SHOP, "walk").plan(2.0)) == [1]


def test_wheels_that_were_off_are_tightened_once_before_the_car_moves() -> None:
    """Common practice, no source: never onto the road without the torque wrench."""
    rules = Rules(
        before=((frozenset({0}), frozenset({1})),), refit=Refit("off", "road", "walk", 6.0)
    )
    problem = Problem(
        np.diag([90.0, 80.0, 70.0]), np.full(3, 5.0), ("off", "road", "road"), SHOP, "lift", rules
    )

    plan = problem.plan()

    assert [step.offer for step in plan.steps] == [0, TIGHTEN, 1, 2]
    assert [step.setup for step in plan.steps] == ["off", "walk", "road", "road"]
    assert [step.change_minutes for step in plan.steps] == [5.0, 9.0, 3.0, 0.0]
    assert plan.minutes == 5.0 + 5.0 + 9.0 + 6.0 + 3.0 + 5.0 + 5.0


def test_a_torque_check_that_is_on_the_list_anyway_is_not_asked_for_twice() -> None:
    """The check that tightens the wheels clears the way onto the road."""
    rules = Rules(
        before=((frozenset({0}), frozenset({1})), (frozenset({1}), frozenset({2}))),
        refit=Refit("off", "road", "walk", 6.0, offer=1),
    )
    problem = Problem(
        np.diag([90.0, 80.0, 70.0]), np.full(3, 6.0), ("off", "walk", "road"), SHOP, "lift", rules
    )

    assert [step.offer for step in problem.plan().steps] == [0, 1, 2]


def test_the_rack_waits_for_the_joints_that_are_on_the_list() -> None:
    """Common practice, no source: the rack is booked when the joints are proven."""
    gain, minutes = np.diag([500.0, 20.0]), np.array([5.0, 8.0])
    joints_first = Rules(before=((frozenset({1}), frozenset({0})),))

    free = Problem(gain, minutes, ("rack", "lift"), SHOP, "walk")
    bound = Problem(gain, minutes, ("rack", "lift"), SHOP, "walk", joints_first)

    assert listed(free.plan()) == [0, 1]
    assert listed(bound.plan()) == [1, 0]


def test_rules_that_chase_one_another_in_a_circle_are_broken_at_the_weakest() -> None:
    """Contradictory knowledge must not leave the technician without a list."""
    circle = Rules(
        first=(2,), before=((frozenset({0}), frozenset({1})), (frozenset({1}), frozenset({0, 2})))
    )

    needs = predecessors([0, 1, 2], ["a"] * 3, circle)

    assert needs == {0: {2}, 1: {0, 2}, 2: frozenset()}
    assert listed(Problem(np.eye(3), np.ones(3), ("a",) * 3, {"a": {}}, "a", circle).plan()) == [
        2,
        0,
        1,
    ]


def test_a_second_person_counts_twice_and_is_kept_together() -> None:
    """A helper costs the shop labour twice (common practice, no source)."""
    gain, minutes = np.diag([30.0, 40.0, 10.0]), np.full(3, 5.0)
    change = {"walk": {"helper": 2.0}, "helper": {"walk": 1.0}}
    setups = ("walk", "helper", "helper")

    alone = plan_checks(gain, minutes, setups, Shop("walk", change, FREE))
    paid = plan_checks(gain, minutes, setups, Shop("walk", change, FREE, hands={"helper": 2}))
    dear = plan_checks(gain, minutes, setups, Shop("walk", change, 1.5, hands={"helper": 2}))

    assert listed(alone) == [0, 1, 2]
    assert listed(paid) == [0, 1, 2]
    assert listed(dear) == [0, 1]  # the last one brings 10 and costs 15
