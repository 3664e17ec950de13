"""The value of a check: never negative, nothing for nothing, and equal to enumeration."""

from __future__ import annotations

import numpy as np
import pytest

from tests.oracles.enumeration import enumerate_in_doubles
from tests.oracles.links import with_verdict
from tests.triage.value_problems import CASES, Check, Say, Situation, chance, hub, situation
from triage.schedule import Shop, plan_checks
from triage.stakes import Stakes, loss


@pytest.mark.parametrize("name", CASES)
def test_the_value_of_one_verdict_equals_enumeration(name: str) -> None:
    """Howard 1966: expected loss now less expected loss after, over both answers."""
    case, says = situation(name)

    outlook = case.outlook(*(Check(f"ck-{say.target}", (say,)) for say in says))

    for k, say in enumerate(says):
        wanted = case.value(say.target, say.p_found_if_on, say.p_found_if_off)
        assert outlook.gain[k] == pytest.approx(wanted, abs=1e-9)  # money of some hundreds


@pytest.mark.parametrize("name", CASES)
def test_the_chances_of_the_answers_and_the_loss_now_equal_enumeration(name: str) -> None:
    """Both are shown, and both go into the value."""
    case, says = situation(name)

    outlook = case.outlook(*(Check(f"ck-{say.target}", (say,)) for say in says))

    assert outlook.loss == pytest.approx(case.losses(), abs=1e-9)
    for k, say in enumerate(says):
        document = with_verdict(case.document, say.target, say.p_found_if_on, say.p_found_if_off)
        found = enumerate_in_doubles(document, case.evidence).on["verdict"]
        assert outlook.found[k] == pytest.approx((found,), abs=1e-12)


def test_the_sweep_values_some_checks_at_nothing_and_most_at_something() -> None:
    """Zero against zero would agree as well."""
    totals = []
    for name in CASES:
        case, says = situation(name)
        outlook = case.outlook(*(Check(f"ck-{say.target}", (say,)) for say in says))
        totals += outlook.gain.sum(axis=1).tolist()

    assert len(totals) == 96
    assert sum(total > 1.0 for total in totals) >= 40
    assert sum(total < 1e-9 for total in totals) >= 3


@pytest.mark.parametrize("name", CASES)
def test_no_check_is_ever_worth_less_than_nothing(name: str) -> None:
    """Information can be ignored, so it can't do harm; states and findings asked about too."""
    case, says = situation(name)
    nodes = [n["id"] for n in case.document["nodes"] if n["id"] not in case.evidence]
    checks = [Check(f"ck-{n}", (Say(n, 0.9, 0.1),)) for n in nodes]
    several = Check("ck-all", tuple(says))

    gain = case.outlook(*checks, several).gain

    assert gain.shape == (len(nodes) + 1, len(case.causes))
    assert (gain >= 0.0).all()


def test_a_check_that_is_separated_from_what_was_seen_is_worth_only_what_is_there() -> None:
    """The seal is d-separated from the hum: it has no part in it and, without danger, no stake."""
    case = hub()

    outlook = case.outlook(Check("ck-seal", (Say("seal", 0.95, 0.05),)))

    assert outlook.gain[0] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    assert outlook.r[outlook.causes.index("seal")] == 0.0


@pytest.mark.parametrize("name", CASES[::2])
def test_a_located_check_is_valued_verdict_by_verdict(name: str) -> None:
    """One doing shows which joint moves: of each cause its most telling verdict counts."""
    case, says = situation(name)

    whole = case.outlook(Check("ck-all", tuple(says)))
    apart = case.outlook(*(Check(f"ck-{say.target}", (say,)) for say in says))

    assert whole.gain[0] == pytest.approx(apart.gain.max(axis=0), abs=1e-9)
    assert whole.found[0] == pytest.approx([found for (found,) in apart.found], abs=1e-12)


def test_a_check_whose_answers_change_no_decision_is_worth_nothing() -> None:
    """An answer that leaves every cause on the same side of the price changes nothing."""
    case = Situation(hub().document, {"hum": True}, Stakes(repair_default=1e6))

    outlook = case.outlook(Check("ck-play", (Say("play", 0.6, 0.4),)))

    assert outlook.gain[0] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    assert case.value("play", 0.6, 0.4) == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


def test_a_check_that_tells_nothing_is_worth_nothing() -> None:
    """Found as often when it is there as when it is not."""
    outlook = hub().outlook(Check("ck-coin", (Say("play", 0.5, 0.5),)))

    assert outlook.gain[0] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


def test_two_identical_checks_do_not_count_twice_on_the_list() -> None:
    """The second one brings nothing beyond the first."""
    case = hub()
    say = Say("play", 0.95, 0.02)
    outlook = case.outlook(Check("ck-one", (say,)), Check("ck-two", (say,)))

    plan = plan_checks(outlook.gain, np.full(2, 5.0), ["a", "a"], Shop("a", {}, per_minute=1e-6))

    assert outlook.gain[0] == pytest.approx(outlook.gain[1], rel=1e-12)
    assert outlook.gain[0].sum() > 1.0
    assert len(plan.steps) == 1


@pytest.mark.parametrize("name", CASES[::2])
def test_what_a_set_counts_is_no_more_than_what_its_answers_bring_together(name: str) -> None:
    """Most telling check for each cause: a lower bound on the joint value, by enumeration."""
    case, says = situation(name)
    one, two = says[0], says[1]
    outlook = case.outlook(Check("ck-one", (one,)), Check("ck-two", (two,)))

    joint = _joint_value(case, one, two)

    assert outlook.gain.max(axis=0).sum() <= joint + 1e-9


def _joint_value(case: Situation, one: Say, two: Say) -> float:
    """Return the value of two verdicts together, over all four answers."""
    heard = with_verdict(case.document, one.target, one.p_found_if_on, one.p_found_if_off)
    nodes = [{**n, "id": "first"} if n["id"] == "verdict" else n for n in heard["nodes"]]
    both = with_verdict({"nodes": nodes}, two.target, two.p_found_if_on, two.p_found_if_off)
    wide = Situation(both, case.evidence, case.stakes)
    after = 0.0
    for first in (True, False):
        p_first = chance(both, case.evidence, "first", first)
        for second in (True, False):
            told = {**case.evidence, "first": first}
            p = p_first * chance(both, told, "verdict", second)
            after += p * float(wide.losses({"first": first, "verdict": second}).sum())
    return float(case.losses().sum()) - after


def test_the_loss_is_the_cheaper_of_leaving_and_repairing() -> None:
    """By hand: 900 * 0.1 + 30 * 0.2 = 96 against 300 * 0.8; 900 * 0.8 against 300 * 0.1."""
    prices = (900.0, np.array([30.0, 0.0]), np.array([300.0, 300.0]))

    left = loss(np.array([0.2, 0.9]), np.array([0.1, 0.8]), prices)

    assert left == pytest.approx([96.0, 30.0], rel=1e-12)
