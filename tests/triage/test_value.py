"""The value of a check: never negative, nothing for nothing, and equal to enumeration.

The oracle adds up every state of a small network in which the check's verdict and the
links of the cause are nodes of their own, and applies the loss by hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest

from tests import builders
from tests.oracles.documents import Document
from tests.oracles.enumeration import enumerate_in_doubles
from tests.oracles.links import opened, with_verdict
from tests.oracles.random_networks import (
    Shape,
    Statements,
    generator,
    random_document,
    random_evidence,
)
from triage.model import Network
from triage.proof import PROVEN, proof_gain
from triage.schedule import Shop, plan_checks
from triage.stakes import Stakes, loss
from triage.value import Outlook, look_ahead

SURE = 1e12  # effort enough for a lane for every node


@dataclass(frozen=True)
class Say:
    """One verdict."""

    target: str
    p_found_if_on: float
    p_found_if_off: float
    node: str | None = None


@dataclass(frozen=True)
class Check:
    """One check offered."""

    id: str
    verdicts: tuple[Say, ...]
    place: str = "vehicle"
    setup: str = "su-a"
    minutes: float = 5.0


@dataclass(frozen=True)
class Situation:
    """A network, evidence and prices."""

    document: Document
    evidence: Statements
    stakes: Stakes = field(default_factory=Stakes)

    @property
    def causes(self) -> tuple[str, ...]:
        """The causes in the order of the engine's arrays."""
        return Network.from_document(self.document).causes

    def outlook(self, *checks: Check) -> Outlook:
        """Return the engine's look ahead."""
        network = Network.from_document(self.document)
        return look_ahead(network, self.evidence, checks, self.stakes, effort=SURE)

    def losses(self, told: Mapping[str, bool] | None = None) -> np.ndarray[Any, Any]:
        """Return each cause's loss by enumeration, verdicts in `told` known."""
        out = []
        for cause in self.causes:
            document = opened(self.document, cause, self.evidence)
            answer = enumerate_in_doubles(document, {**self.evidence, **(told or {})})
            q, r = answer.on[cause], answer.on["part"]
            leave = self.stakes.comeback * r + self._danger(cause) * q
            out.append(min(leave, self._repair(cause) * (1.0 - q)))
        return np.array(out)

    def _danger(self, cause: str) -> float:
        return self.stakes.danger_weight * self.stakes.danger.get(cause, 0.0)

    def _repair(self, cause: str) -> float:
        return self.stakes.repair.get(cause, self.stakes.repair_default)

    def value(self, target: str, on: float, off: float) -> np.ndarray[Any, Any]:
        """Return the expected fall of each cause's loss by one verdict, by enumeration."""
        heard = Situation(with_verdict(self.document, target, on, off), self.evidence, self.stakes)
        found = enumerate_in_doubles(heard.document, self.evidence).on["verdict"]
        after = found * heard.losses({"verdict": True})
        after += (1.0 - found) * heard.losses({"verdict": False})
        return self.losses() - after


SHAPES = {
    "two-layers": Shape(causes=5, states=0, findings=4, layers=2),
    "states": Shape(causes=4, states=3, findings=3, layers=3),
    "deep": Shape(causes=3, states=4, findings=3, layers=4),
}
CASES = [f"value-{shape}/{turn}" for shape in SHAPES for turn in range(8)]


def situation(name: str) -> tuple[Situation, list[Say]]:
    """Return a small network with evidence on its findings, and a verdict on each cause."""
    rng = generator(name)
    document = random_document(rng, SHAPES[name.removeprefix("value-").split("/")[0]])
    drawn = random_evidence(rng, document, stated=0.7, soft=0.2)
    evidence = {key: value for key, value in drawn.items() if key.startswith("f")}
    causes = [n["id"] for n in document["nodes"] if n["kind"] == "cause"]
    stakes = Stakes(
        danger={c: float(rng.choice([0.0, 100.0, 600.0, 4000.0])) for c in causes},
        repair={c: float(rng.uniform(60.0, 900.0)) for c in causes},
    )
    says = [Say(c, float(rng.uniform(0.5, 0.99)), float(rng.uniform(0.01, 0.3))) for c in causes]
    return Situation(document, evidence, stakes), says


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


def hub() -> Situation:
    """Return a worn bearing that hums, and a seal that has nothing to do with it."""
    document = builders.network_document(
        builders.cause("play", 0.1),
        builders.cause("seal", 0.3),
        builders.cause("tyre", 0.2),
        builders.finding("hum", 0.02, play=0.7, tyre=0.4),
        builders.finding("drip", 0.01, seal=0.9),
    )
    return Situation(document, {"hum": True})


def test_a_check_that_is_separated_from_what_was_seen_is_worth_only_what_is_there() -> None:
    """The seal is d-separated from the hum: it has no part in it and, without danger, no stake."""
    case = hub()

    outlook = case.outlook(Check("ck-seal", (Say("seal", 0.95, 0.05),)))

    assert outlook.gain[0] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    assert outlook.r[outlook.causes.index("seal")] == 0.0


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
        p_first = _chance(both, case.evidence, "first", first)
        for second in (True, False):
            told = {**case.evidence, "first": first}
            p = p_first * _chance(both, told, "verdict", second)
            after += p * float(wide.losses({"first": first, "verdict": second}).sum())
    return float(case.losses().sum()) - after


def _chance(document: Document, evidence: Statements, key: str, value: bool) -> float:
    """Return P(node = value | evidence)."""
    on = enumerate_in_doubles(document, evidence).on[key]
    return on if value else 1.0 - on


# -------------------------------------------------------------- only what was found is repaired


@pytest.mark.parametrize("name", CASES)
def test_the_value_of_proof_equals_enumeration(name: str) -> None:
    """How much oftener it says found when it is there, times what leaving it costs."""
    case, says = situation(name)
    checks = [Check(f"ck-{say.target}", (say,)) for say in says]

    gain = proof_gain(case.outlook(*checks), checks, case.stakes)

    for k, say in enumerate(says):
        j = case.causes.index(say.target)
        assert gain[k, j] == pytest.approx(_proof_value(case, say), abs=1e-9)
        assert np.count_nonzero(gain[k]) <= 1


def _proof_value(case: Situation, say: Say) -> float:
    """Return Youden's index of the verdict, taken from the joint, times what leaving costs."""
    heard = with_verdict(case.document, say.target, say.p_found_if_on, say.p_found_if_off)
    document = opened(heard, say.target, case.evidence)
    now = enumerate_in_doubles(document, case.evidence).on
    there = enumerate_in_doubles(document, {**case.evidence, say.target: True}).on
    absent = enumerate_in_doubles(document, {**case.evidence, say.target: False}).on
    danger = case.stakes.danger_weight * case.stakes.danger[say.target]
    leave = case.stakes.comeback * now["part"] + danger * now[say.target]
    return max(there["verdict"] - absent["verdict"], 0.0) * leave


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

    proof = proof_gain(outlook, checks, case.stakes)

    assert outlook.q[0] > 0.95
    assert outlook.gain[0, 0] == pytest.approx(0.0, abs=1e-9)
    assert proof[0].sum() > 10.0 * proof[1].sum() > 0.0


def test_what_has_been_found_needs_no_second_proof() -> None:
    """The next check is for what is still open."""
    case, checks = certain()

    outlook = case.outlook(*checks)
    gain = proof_gain(outlook, checks, case.stakes, found={"play", "tyre"})

    assert outlook.q[0] > PROVEN > outlook.q[1]
    assert gain[0].tolist() == [0.0, 0.0]
    assert gain[1].sum() > 0.0  # found, and not proven by that


def test_with_perfect_checks_and_equal_stakes_proof_is_the_chance_of_the_cause() -> None:
    """The numerator of probability over cost (Kadane and Simon 1977)."""
    case, _ = certain()
    checks = [Check(f"ck-{c}", (Say(c, 1.0, 0.0),)) for c in case.causes]
    outlook = case.outlook(*checks)

    gain = proof_gain(outlook, checks, case.stakes)

    assert gain == pytest.approx(np.diag(case.stakes.comeback * outlook.r), rel=1e-12)


def test_the_loss_is_the_cheaper_of_leaving_and_repairing() -> None:
    """By hand: 900 * 0.1 + 30 * 0.2 = 96 against 300 * 0.8; 900 * 0.8 against 300 * 0.1."""
    prices = (900.0, np.array([30.0, 0.0]), np.array([300.0, 300.0]))

    left = loss(np.array([0.2, 0.9]), np.array([0.1, 0.8]), prices)

    assert left == pytest.approx([96.0, 30.0], rel=1e-12)
