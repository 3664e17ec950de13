"""What finding a cause is worth when only what was found is repaired.

The oracle is the tree of both answers, and of both answers to a second look after a
find, every posterior in it from the joint of a small network with the verdicts and the
links of the cause as nodes of their own.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import numpy as np
import pytest

from tests import builders
from tests.oracles.enumeration import enumerate_in_doubles
from tests.oracles.links import opened, with_verdict
from tests.triage.value_problems import CASES, Check, Say, Situation, chance, situation
from triage.arrays import Floats
from triage.proof import PROVEN, Looks, Suspects, looks_of, proof_gain, worth


def _gain(case: Situation, checks: list[Check], found: Collection[str] = ()) -> Floats:
    """Return what finding each cause by each check is worth."""
    looks = looks_of(case.causes, checks, case.stakes.per_minute)
    return proof_gain(case.outlook(*checks), looks, case.stakes, found)


def _two_of_each(name: str) -> tuple[Situation, list[Check]]:
    """Return a case with two checks for each of its first two causes and one for a third."""
    case, says = situation(name)
    again = [Say(s.target, 0.5 + s.p_found_if_on / 3, s.p_found_if_off / 2) for s in says[:2]]
    pairs = enumerate((*says[:3], *again))
    return case, [Check(f"ck-{k}", (say,), minutes=3.0 + k) for k, say in pairs]


@pytest.mark.parametrize("name", CASES)
def test_the_worth_of_finding_equals_the_tree_by_enumeration(name: str) -> None:
    """Repaired at once, or proven with a second look that is paid for: the larger."""
    case, checks = _two_of_each(name)

    gain = _gain(case, checks)

    for k, check in enumerate(checks):
        say = check.verdicts[0]
        others = [c for c in checks if c is not check and c.verdicts[0].target == say.target]
        wanted = max(_tree(case, say, [], 0.0), _tree(case, say, others, PROVEN), 0.0)
        assert gain[k, case.causes.index(say.target)] == pytest.approx(wanted, abs=1e-9)
        assert np.count_nonzero(gain[k]) <= 1


def test_the_sweep_met_both_ways_on_from_a_find() -> None:
    """Partner of the sweep: each of the two must have decided often."""
    decided = {"at once": 0, "after a second look": 0}
    for name in CASES:
        case, checks = _two_of_each(name)
        for check in checks:
            say = check.verdicts[0]
            others = [c for c in checks if c is not check and c.verdicts[0].target == say.target]
            once, two = _tree(case, say, [], 0.0), _tree(case, say, others, PROVEN)
            if max(once, two) > 1e-6:
                decided["after a second look" if two > once + 1e-9 else "at once"] += 1

    assert decided["at once"] >= 40
    assert decided["after a second look"] >= 10


def _tree(case: Situation, say: Say, others: Sequence[Check], least: float) -> float:
    """Return the fall of the target's loss by one look, and another after a find."""
    heard = with_verdict(case.document, say.target, say.p_found_if_on, say.p_found_if_off)
    found = chance(heard, case.evidence, "verdict", value=True)
    after = _loss(case, heard, say.target, {"verdict": True}, least)
    for check in others:
        two = check.verdicts[0]
        nodes = [{**n, "id": "first"} if n["id"] == "verdict" else n for n in heard["nodes"]]
        both = with_verdict({"nodes": nodes}, two.target, two.p_found_if_on, two.p_found_if_off)
        price = check.minutes * case.stakes.per_minute
        for told in (True, False):
            p = chance(both, {**case.evidence, "first": True}, "verdict", value=told)
            price += p * _loss(case, both, say.target, {"first": True, "verdict": told}, least)
        after = min(after, price)
    silent = _loss(case, heard, say.target, {"verdict": False}, least)
    now = _loss(case, case.document, say.target, {}, least)
    return now - found * after - (1.0 - found) * silent


def _loss(
    case: Situation, document: Any, target: str, told: Mapping[str, bool], least: float
) -> float:
    """Return the loss of one cause, by enumeration; found when anything told is yes."""
    seen = {**case.evidence, **told}
    on = enumerate_in_doubles(opened(document, target, case.evidence), seen).on
    danger = case.stakes.danger_weight * case.stakes.danger[target]
    left = case.stakes.comeback * on["part"] + danger * on[target]
    if any(told.values()) and on[target] >= least:
        return float(min(left, case.stakes.repair[target] * (1.0 - on[target])))
    return float(left)


def _one(q: float, found: bool = False) -> Suspects:
    """Return one suspect that is the whole complaint; 900 to leave it, 300 to repair it."""
    return Suspects(
        np.array([q]), np.array([900.0 * q]), np.array([300.0]), np.array([found], np.bool_)
    )


def _looks(*says: tuple[float, float]) -> Looks:
    """Return checks of five minutes at two a minute, all for that suspect."""
    checks = [Check(f"ck-{k}", (Say("play", *say),)) for k, say in enumerate(says)]
    return looks_of(["play"], checks, 2.0)


def test_a_false_alarm_costs_the_second_look_and_not_the_repair() -> None:
    """By hand: 3 %, found 0.9 against 0.1. At once: 0.9 * 27 - 0.1 * 300 * 0.97 is below nothing.

    With another check (0.9 against 0.005): found in 0.124; then 0.2177, and after both 0.98044,
    in 0.19985 of the finds; one find alone leaves 900 * 0.02734, the proof 300 * 0.01956.
    """
    alone = worth(_looks((0.9, 0.1)), _one(0.03))
    both = worth(_looks((0.9, 0.1), (0.9, 0.005)), _one(0.03))

    p, first = 0.124, 0.027 / 0.124
    second = 0.9 * first + 0.005 * (1.0 - first)
    proven = 0.9 * first / second
    left = 0.1 * first / (1.0 - second)
    after = 10.0 + second * 300.0 * (1.0 - proven) + (1.0 - second) * 900.0 * left
    assert proven > PROVEN > first
    assert alone == pytest.approx([0.0], abs=1e-12)
    assert both[0] == pytest.approx(27.0 - p * after - 900.0 * 0.003, rel=1e-12)
    assert both[0] > 10.0


def test_a_second_look_that_cannot_be_made_any_more_helps_nothing() -> None:
    """A check that has been done is not there to look again."""
    looks = _looks((0.9, 0.1), (0.9, 0.005))

    value = worth(looks, _one(0.03), np.array([True, False]))

    assert value[0] == pytest.approx(0.0, abs=1e-12)


def test_one_check_with_two_verdicts_is_no_second_look_at_itself() -> None:
    """Two answers of one doing come together; the find is not confirmed by its own check."""
    says = (Say("play", 0.9, 0.1), Say("play", 0.9, 0.005))
    looks = looks_of(["play"], [Check("ck", says)], 2.0)

    assert looks.pairs()[0].size == 0
    assert worth(looks, _one(0.03))[0] == pytest.approx(0.0, abs=1e-12)


def test_a_check_that_the_same_thing_fools_is_no_second_look() -> None:
    """Two checks by the same hand: the second says the same again, and confirms nothing."""
    checks = [Check(f"ck-{k}", (Say("play", 0.9, off),)) for k, off in enumerate((0.1, 0.005))]
    apart = looks_of(["play"], checks, 2.0, [("ck-0", "ck-x"), ("ck-1",)])
    same = looks_of(["play"], checks, 2.0, [("ck-x",), ("ck-0", "ck-1")])

    assert worth(apart, _one(0.03))[0] > 10.0
    assert worth(same, _one(0.03))[0] == pytest.approx(0.0, abs=1e-12)


def test_what_two_looks_do_not_prove_counts_as_repaired_at_once() -> None:
    """A suspect at 30 % whose only check leaves it at 0.75: what else is heard may prove it."""
    value = worth(_looks((0.7, 0.1)), _one(0.3))

    assert value == pytest.approx([0.7 * 270.0 - 0.1 * 300.0 * 0.7], rel=1e-12)


def certain() -> tuple[Situation, list[Check]]:
    """Return a cause that is there with 95 % and a check that shows it."""
    document = builders.network_document(
        builders.cause("play", 0.5),
        builders.cause("tyre", 0.02),
        builders.finding("hum", 0.02, play=0.9, tyre=0.5),
    )
    says = [Say("play", 0.9, 0.05), Say("tyre", 0.9, 0.05)]
    return Situation(document, {"hum": True}), [Check(f"ck-{s.target}", (s,)) for s in says]


def test_a_prime_suspect_is_worth_nothing_to_information_and_most_to_proof() -> None:
    """Why both are needed: at 95 % no answer of one check turns the decision to repair."""
    case, checks = certain()
    outlook = case.outlook(*checks)

    proof = _gain(case, checks)

    assert outlook.q[0] > 0.95
    assert outlook.gain[0, 0] == pytest.approx(0.0, abs=1e-9)
    assert proof[0].sum() > 10.0 * proof[1].sum() > 0.0


def test_what_has_been_found_needs_no_second_proof() -> None:
    """Found and at 95 %: no answer turns the repair, and the next check is for what is open."""
    case, checks = certain()
    outlook = case.outlook(*checks)

    gain = _gain(case, checks, found={"play"})

    assert outlook.q[0] > PROVEN > outlook.q[1]
    assert gain[0] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert gain[1].sum() > 0.0


def test_what_was_found_and_is_not_proven_is_looked_at_again() -> None:
    """Found, but at 60 %: another find proves it, and that is worth a look."""
    value = worth(_looks((0.9, 0.05)), _one(0.6, found=True))

    proven = 0.54 / 0.56
    left = 0.06 / 0.44
    wanted = 540.0 - 0.56 * 300.0 * (1.0 - proven) - 0.44 * 900.0 * left
    assert proven > PROVEN
    assert value == pytest.approx([wanted], rel=1e-12)


def test_with_perfect_checks_and_equal_stakes_proof_is_the_chance_of_the_cause() -> None:
    """The numerator of probability over cost (Kadane and Simon 1977)."""
    case, _ = certain()
    checks = [Check(f"ck-{c}", (Say(c, 1.0, 0.0),)) for c in case.causes]
    outlook = case.outlook(*checks)

    gain = _gain(case, checks)

    assert gain == pytest.approx(np.diag(case.stakes.comeback * outlook.r), rel=1e-12)


def test_a_check_that_tells_nothing_finds_nothing() -> None:
    """Found as often when it is there as when it is not: what it says is no find."""
    for q in (0.03, 0.3, 0.85):
        assert worth(_looks((0.4, 0.4)), _one(q)).tolist() == [0.0]
