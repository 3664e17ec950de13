"""Reading verdicts: ratios, one-verdict nodes, readings, checks fooled together."""

from __future__ import annotations

import math

import pytest

from graph.build import compile_case
from graph.case import CaseInput, Reading, Vehicle, VerdictGiven
from graph.compiled import CompiledCase
from graph.terms import Confounder, Detects, Knowledge
from tests.graph.small import cause, check, finding, link, small
from triage.errors import ContradictionError, DocumentError, PlaceError, UnknownTermError

CHECKS = small(
    [link("rc-rack", "to-front", "sy-clunk"), link("rc-end", "same-corner", "sy-clunk")],
    cause("rc-end", "front-corner"),
    cause("rc-rack"),
    cause("rc-other"),
    finding("sy-clunk", "axle"),
    check(
        "ck-park",
        "front-axle",
        "located",
        Detects("rc-end", 0.85, 0.9),
        Detects("rc-rack", 0.8, 0.75),
    ),
    check("ck-rock", "axle", "located", Detects("rc-end", 0.8, 0.9), Detects("rc-rack", 0.5, 0.9)),
    check(
        "ck-one",
        "vehicle",
        "one-verdict",
        Detects("rc-rack", 0.7, 0.95),
        Detects("rc-other", 0.4, 0.85),
    ),
    check("ck-rust-probe", "vehicle", "located", Detects("rc-other", 0.85, 0.9)),
)


def judged(*verdicts: VerdictGiven, knowledge: Knowledge = CHECKS, **case: object) -> CompiledCase:
    """Return the compiled case of some verdicts."""
    return compile_case(knowledge, CaseInput(verdicts=verdicts, **case))  # type: ignore[arg-type]


@pytest.mark.parametrize(("verdict", "ratio"), [("found", 0.85 / 0.1), ("not-found", 0.15 / 0.9)])
def test_a_located_verdict_is_its_likelihood_ratio(verdict: str, ratio: float) -> None:
    """Sensitivity over false alarms; misses over specificity."""
    compiled = judged(VerdictGiven("ck-park", verdict, "front", "rc-end", "lf"))

    assert compiled.evidence == {"rc-end@lf": pytest.approx(ratio)}


def test_the_ratio_of_a_published_test_comes_out() -> None:
    """Serum ferritin for iron deficiency: sens 90 %, spec 85 %: LR+ 6, LR- 0.12.

    Published worksheet of the Centre for Evidence-Based Medicine (rounded there).
    """
    knowledge = small(
        [], cause("rc-a"), check("ck-a", "vehicle", "located", Detects("rc-a", 0.90, 0.85))
    )
    found, missed = (
        judged(VerdictGiven("ck-a", word), knowledge=knowledge).evidence["rc-a"]
        for word in ("found", "not-found")
    )

    assert found == pytest.approx(6.0, abs=0.05)
    assert missed == pytest.approx(0.12, abs=0.005)


def test_nothing_found_on_a_whole_check_speaks_of_every_target() -> None:
    """Both ends and the rack are clear, each by its own ratio."""
    compiled = judged(VerdictGiven("ck-park", "not-found"))

    assert compiled.evidence == {
        "rc-end@lf": pytest.approx(0.15 / 0.9),
        "rc-end@rf": pytest.approx(0.15 / 0.9),
        "rc-rack": pytest.approx(0.2 / 0.75),
    }
    assert len(compiled.items) == 1


def test_something_found_place_not_said_is_a_node_over_the_targets() -> None:
    """Net strengths 1 - (1 - sens) / spec, leak 1 - mean spec = 1 - (.9 + .9 + .75) / 3."""
    compiled = judged(VerdictGiven("ck-park", "found"))
    node = compiled.network.nodes["ck-park@front"]

    assert compiled.evidence == {"ck-park@front": True}
    assert node.base == pytest.approx(0.15)
    assert {p.id: p.strength for p in node.parents} == pytest.approx(
        {"rc-end@lf": 1 - 0.15 / 0.9, "rc-end@rf": 1 - 0.15 / 0.9, "rc-rack": 1 - 0.2 / 0.75}
    )


def test_a_cause_found_without_place_is_one_of_its_places() -> None:
    """One of the two ends is loose; the rack is not spoken of."""
    compiled = judged(VerdictGiven("ck-park", "found", "front", "rc-end"))
    node = compiled.network.nodes["ck-park@front:rc-end"]

    assert compiled.evidence == {"ck-park@front:rc-end": True}
    assert {p.id for p in node.parents} == {"rc-end@lf", "rc-end@rf"}


@pytest.mark.parametrize(("verdict", "value"), [("found", True), ("not-found", False)])
def test_a_check_with_one_verdict_is_its_node(verdict: str, value: bool) -> None:
    """A noise in a swerve names no joint."""
    assert judged(VerdictGiven("ck-one", verdict)).evidence == {"ck-one": value}


def test_cant_tell_is_no_evidence() -> None:
    """Could not do is never a pass."""
    assert judged(VerdictGiven("ck-park", "cant-tell", "front")).evidence == {}


def test_a_thing_at_the_front_is_not_seen_from_the_rear() -> None:
    """The links seat the rack in front, so rocking the rear wheels shows no rack."""
    offers = {(item.id, item.place): item.verdicts for item in judged().checks}

    assert ("ck-rock", "rear") not in offers
    assert {v.target for v in offers["ck-rock", "front"]} == {"rc-end@lf", "rc-end@rf", "rc-rack"}


def test_a_reading_speaks_in_place_of_the_word() -> None:
    """JCGM 106: 1.4 standard uncertainties beyond the limit is P = Phi(1.4) = 0.919243."""
    reading = Reading(0.19, "mm", 0.05, 0.1, "typed in")
    compiled = judged(VerdictGiven("ck-park", "found", "front", "rc-end", "lf", reading))
    w = 0.919243

    assert compiled.evidence["rc-end@lf"] == pytest.approx(
        (w * 0.85 + (1 - w) * 0.15) / (w * 0.1 + (1 - w) * 0.9), rel=1e-5
    )


def test_a_reading_on_a_check_with_one_verdict_is_soft_evidence_on_its_node() -> None:
    """Odds of beyond the limit: Phi(1.4) / (1 - Phi(1.4))."""
    compiled = judged(VerdictGiven("ck-one", "found", reading=Reading(0.19, "V", 0.05, 0.1, "x")))

    assert compiled.evidence == {"ck-one": pytest.approx(0.919243 / 0.080757, rel=1e-4)}


@pytest.mark.parametrize(("salted", "specificity"), [(True, 0.8), (None, 0.8), (False, 0.9)])
def test_looks_at_rust_are_less_specific_on_salted_cars(
    salted: bool | None, specificity: float
) -> None:
    """The review lowers the specificity of such looks by .1."""
    case = CaseInput(
        Vehicle(salted_roads=salted), verdicts=(VerdictGiven("ck-rust-probe", "found"),)
    )

    assert compile_case(CHECKS, case).evidence == {
        "rc-other": pytest.approx(0.85 / (1 - specificity))
    }


@pytest.mark.parametrize(
    ("verdict", "error", "match"),
    [
        (VerdictGiven("ck-pork", "found"), UnknownTermError, "unknown check 'ck-pork'.*'ck-park'"),
        (VerdictGiven("ck-park", "seen"), DocumentError, "verdict 'seen'.*found, not-found"),
        (VerdictGiven("ck-park", "found", cause="rc-no"), UnknownTermError, "unknown cause"),
        (
            VerdictGiven("ck-park", "found", cause="rc-other"),
            DocumentError,
            "'ck-park' cannot show 'rc-other'.*allowed: rc-end, rc-rack",
        ),
        (VerdictGiven("ck-park", "found", "rear"), PlaceError, "'ck-park' cannot be at.*front"),
        (VerdictGiven("ck-park", "found", "front", "rc-end", "lr"), PlaceError, "lf, rf"),
        (VerdictGiven("ck-one", "found", "up"), PlaceError, "'ck-one' cannot be at place 'up'"),
    ],
)
def test_a_verdict_that_cannot_be_is_refused(
    verdict: VerdictGiven, error: type[Exception], match: str
) -> None:
    """The message names what is allowed."""
    with pytest.raises(error, match=match):
        judged(verdict)


@pytest.mark.parametrize(
    "second",
    [
        VerdictGiven("ck-park", "not-found", "front", "rc-end", "lf"),
        VerdictGiven("ck-park", "not-found", "front"),
    ],
    ids=["same thing", "whole check"],
)
def test_found_and_not_found_of_one_thing_contradict(second: VerdictGiven) -> None:
    """One doing of a check has one outcome for each thing."""
    with pytest.raises(ContradictionError, match="'rc-end@lf' is stated as found and as not-found"):
        judged(VerdictGiven("ck-park", "found", "front", "rc-end", "lf"), second)


def test_the_same_said_twice_counts_once() -> None:
    """A double tap is not a second look."""
    once = VerdictGiven("ck-park", "found", "front", "rc-end", "lf")

    assert judged(once, once).evidence == judged(once).evidence


def test_found_on_the_whole_adds_nothing_to_found_at_a_place() -> None:
    """The place says more than the word."""
    at = VerdictGiven("ck-park", "found", "front", "rc-end", "lf")

    assert judged(VerdictGiven("ck-park", "found"), at).evidence == judged(at).evidence


def held(cap: float) -> Knowledge:
    """Return three checks of one thing that the same hand fools."""
    return small(
        [],
        cause("rc-a"),
        check("ck-a", "vehicle", "located", Detects("rc-a", 0.8, 0.9)),
        check("ck-b", "vehicle", "located", Detects("rc-a", 0.6, 0.9)),
        check("ck-c", "vehicle", "one-verdict", Detects("rc-a", 0.6, 0.9)),
        confounders=(Confounder("cf-hand", "same hand", ("ck-a", "ck-b", "ck-c"), cap),),
    )


@pytest.mark.parametrize(
    ("cap", "expected"), [(10.0, 10.0), (3.0, 8.0), (100.0, 48.0)], ids=["cap", "single", "free"]
)
def test_checks_fooled_together_are_held_at_the_cap(cap: float, expected: float) -> None:
    """8 times 6 is 48 apart; together at most the cap, but never below the strongest alone."""
    both = (VerdictGiven("ck-a", "found"), VerdictGiven("ck-b", "found"))

    assert judged(*both, knowledge=held(cap)).evidence == {"rc-a": pytest.approx(expected)}


def test_the_cap_holds_downwards_too() -> None:
    """Two blind looks do not clear a joint: .2222 * .4444 = .0988 is held at 1/5."""
    both = (VerdictGiven("ck-a", "not-found"), VerdictGiven("ck-b", "not-found"))

    assert judged(*both, knowledge=held(5.0)).evidence == {
        "rc-a": pytest.approx(min(1 / 5, 0.2 / 0.9))
    }


def test_a_check_with_one_verdict_is_held_by_softening_its_node() -> None:
    """The node's ratio L gives its target (L p + 1 - p) / (L q + 1 - q); the product is the cap."""
    both = (VerdictGiven("ck-a", "found"), VerdictGiven("ck-c", "found"))
    evidence = judged(*both, knowledge=held(10.0)).evidence
    soft, p, q = evidence["ck-c"], 0.6, 0.1
    through = (soft * p + 1 - p) / (soft * q + 1 - q)

    assert not isinstance(soft, bool)
    assert through * evidence["rc-a"] == pytest.approx(10.0)


def test_one_check_alone_is_not_held() -> None:
    """The specificity already holds what fools a single look."""
    compiled = judged(VerdictGiven("ck-a", "found"), knowledge=held(2.0))

    assert math.log(compiled.evidence["rc-a"]) == pytest.approx(math.log(8.0))
