"""The order of checks against brute force over all orders, and against published rules.

The brute force below knows nothing of chains, weights or tables: it walks every order
(or every order that obeys the rules), finds the shortest way between set-ups by trying
every path, and adds up value times minutes.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from tests.oracles.random_networks import generator
from triage.arrays import Floats
from triage.precedence import NO_RULES, predecessors
from triage.schedule import TIGHTEN, Plan, Refit, Rules, Shop, plan_checks, while_there
from triage.sequencing import Chain, Ground, best_sequence, closed_travel, count_states

Change = dict[str, dict[str, float]]
FREE = 1e-9  # a price of a minute at which everything is worth its time


@dataclass(frozen=True)
class Problem:
    """A list to be made: values, minutes, set-ups, change-overs, where the car stands."""

    gain: Floats
    minutes: Floats
    setups: tuple[str, ...]
    change: Change
    start: str
    rules: Rules = NO_RULES

    def plan(self, per_minute: float = FREE, longest: int = 12) -> Plan:
        """Return the list."""
        shop = Shop(self.start, self.change, per_minute, longest)
        return plan_checks(self.gain, self.minutes, self.setups, shop, self.rules)

    def area(self, order: Sequence[int]) -> float:
        """Return value times minutes until each check is done, along one order."""
        told, here, loose, clock, area = np.zeros(self.gain.shape[1]), self.start, False, 0.0, 0.0
        refit = self.rules.refit
        for k in order:
            there = self.setups[k]
            if refit is not None and loose and there == refit.road:
                clock += self.way(here, refit.setup) + refit.minutes
                clock += self.way(refit.setup, there)
            else:
                clock += self.way(here, there)
            if refit is not None:
                loose = there == refit.off or (loose and there != refit.road)
            clock += self.minutes[k]
            area += clock * float(np.maximum(self.gain[k] - told, 0.0).sum())
            told, here = np.maximum(told, self.gain[k]), there
        return area

    def way(self, here: str, there: str) -> float:
        """Return the shortest way, by trying every path; the road is no thoroughfare."""
        refit = self.rules.refit
        shut = set(self.rules.gates) | ({refit.off, refit.road} if refit else set())
        middle = [s for s in self.change if s not in {here, there} | shut]
        paths = (p for n in range(len(middle) + 1) for p in itertools.permutations(middle, n))
        if here == there:
            return 0.0
        return min(
            sum(self.change[a][b] for a, b in itertools.pairwise((here, *path, there)))
            for path in paths
        )

    def allowed(self, order: Sequence[int]) -> bool:
        """Return whether an order obeys the rules."""
        when = {k: n for n, k in enumerate(order)}
        gates = self.rules.gates.items()
        pairs = [(a, b) for a in self.rules.first for b in order if b not in self.rules.first]
        pairs += [
            (a, b) for s, needed in gates for a in needed for b in order if self.setups[b] == s
        ]
        pairs += [(a, b) for early, late in self.rules.before for a in early for b in late]
        return all(when[a] < when[b] for a, b in pairs)

    def best(self) -> tuple[float, tuple[int, ...]]:
        """Return the smallest area over all orders that obey the rules."""
        orders = itertools.permutations(range(len(self.setups)))
        return min((self.area(order), order) for order in orders if self.allowed(order))


def listed(plan: Plan) -> list[int]:
    """Return the checks of a list, without tightening the wheels."""
    return [step.offer for step in plan.steps if step.offer != TIGHTEN]


def random_problem(name: str, checks: int, setups: int, rules: Rules = NO_RULES) -> Problem:
    """Return a problem with a random asymmetric matrix of change-overs."""
    rng = generator(name)
    names = [f"su-{k}" for k in range(setups)]
    change = {a: {b: float(rng.integers(1, 20)) for b in names if b != a} for a in names}
    homes = tuple(names[int(rng.integers(setups))] for _ in range(checks))
    gain = np.diag(rng.uniform(1.0, 50.0, checks))
    return Problem(gain, rng.uniform(2.0, 30.0, checks), homes, change, names[0], rules)


# ------------------------------------------------------- without set-ups: probability over cost


def one_place(values: Sequence[float], minutes: Sequence[float]) -> Problem:
    """Return perfect independent checks of one cause each, all on one spot."""
    return Problem(np.diag(values), np.array(minutes), ("a",) * len(values), {"a": {}}, "a")


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
