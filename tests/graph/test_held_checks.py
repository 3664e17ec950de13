"""A check that the same thing fools as one that has spoken can tell less, and is valued at less."""

from __future__ import annotations

import math

import pytest

from graph.build import compile_case
from graph.case import CaseInput, VerdictGiven
from graph.compiled import VerdictNode
from graph.held_checks import held_total
from graph.terms import Confounder, Detects, Knowledge
from tests.graph.small import cause, check, small

FOUND, MISSED = VerdictGiven("ck-a", "found"), VerdictGiven("ck-a", "not-found")


def _knowledge(cap: float) -> Knowledge:
    """Return two checks of one thing that the same hand fools, and a third by another hand."""
    return small(
        [],
        cause("rc-a"),
        cause("rc-b"),
        check("ck-a", "vehicle", "located", Detects("rc-a", 0.8, 0.9)),
        check("ck-b", "vehicle", "located", Detects("rc-a", 0.6, 0.9), Detects("rc-b", 0.6, 0.9)),
        check("ck-c", "vehicle", "located", Detects("rc-a", 0.6, 0.9)),
        check("ck-d", "vehicle", "one-verdict", Detects("rc-a", 0.6, 0.9)),
        confounders=(Confounder("cf-hand", "same hand", ("ck-a", "ck-b", "ck-d"), cap),),
    )


def _offered(check_id: str, cap: float, *given: VerdictGiven, target: str = "rc-a") -> VerdictNode:
    """Return a verdict of a check that can still be made."""
    compiled = compile_case(_knowledge(cap), CaseInput(verdicts=given))
    item = next(item for item in compiled.checks if item.id == check_id)
    return next(verdict for verdict in item.verdicts if verdict.target == target)


@pytest.mark.parametrize(
    ("given", "found", "not_found"),
    [(FOUND, 10 / 8, 4 / 9), (MISSED, 6.0, (1 / 10) / (2 / 9))],
    ids=["after found", "after not found"],
)
def test_what_is_left_is_the_share_of_the_ratios_that_the_cap_allows(
    given: VerdictGiven, found: float, not_found: float
) -> None:
    """By hand: 8 held at 10 leaves 10/8 for found; 2/9 held at 1/10 leaves 9/20 of 4/9."""
    verdict = _offered("ck-b", 10.0, given)

    share = math.log(found / not_found) / math.log(6.0 / (4 / 9))
    assert 0.0 < share < 1.0
    assert verdict.p_found_if_on == pytest.approx(0.35 + share * 0.25)
    assert verdict.p_found_if_off == pytest.approx(0.35 - share * 0.25)


@pytest.mark.parametrize(
    ("check_id", "cap", "given"),
    [("ck-b", 10.0, ()), ("ck-b", 100.0, (FOUND,)), ("ck-c", 10.0, (FOUND,))],
    ids=["nothing heard", "cap not reached", "another hand"],
)
def test_without_reaching_the_cap_a_check_keeps_its_chances(
    check_id: str, cap: float, given: tuple[VerdictGiven, ...]
) -> None:
    """The group says something only when it is overdrawn."""
    verdict = _offered(check_id, cap, *given)

    assert (verdict.p_found_if_on, verdict.p_found_if_off) == pytest.approx((0.6, 0.1))


def test_another_thing_that_the_check_shows_is_not_held() -> None:
    """The hand that was fooled about one joint has said nothing of the other."""
    verdict = _offered("ck-b", 10.0, FOUND, target="rc-b")

    assert (verdict.p_found_if_on, verdict.p_found_if_off) == pytest.approx((0.6, 0.1))


def test_what_is_held_completely_tells_nothing() -> None:
    """Held at what the first says alone, found adds nothing: only not-found still could."""
    assert held_total({"a": math.log(8.0)}, 3.0) == pytest.approx(math.log(8.0))
    assert held_total({"a": math.log(8.0), "b": math.log(6.0)}, 3.0) == pytest.approx(math.log(8.0))
    assert held_total({"a": -math.log(8.0), "b": -1.0}, 3.0) == pytest.approx(-math.log(8.0))
    assert held_total({"a": 1.0, "b": -1.0}, 3.0) == 0.0


def test_a_check_with_one_verdict_is_held_when_it_speaks() -> None:
    """Its node carries what it tells."""
    verdict = _offered("ck-d", 10.0, FOUND)

    assert verdict.node is not None
    assert (verdict.p_found_if_on, verdict.p_found_if_off) == pytest.approx((0.6, 0.1))
