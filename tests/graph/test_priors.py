"""Priors and vehicle facts: numbers worked out by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from graph.build import compile_case
from graph.case import CaseInput, CodeRead, FindingSeen, Vehicle
from graph.facts import facts_of
from graph.load import load_knowledge
from graph.odds_rules import holds, rule_effects
from graph.priors import MILES_PER_KM, context_odds, curve_odds, place_shares
from graph.terms import Context, Curve, Fact, FactEffect, Knowledge, OddsRule
from tests.graph.small import cause, finding, link, small, state
from triage.errors import ContradictionError, ParameterError, UnknownTermError

INF = math.inf


def prior(knowledge: Knowledge, node: str = "rc-a", **case: object) -> float:
    """Return the prior of one cause node of a case."""
    vehicle = case.pop("vehicle", Vehicle())
    compiled = compile_case(knowledge, CaseInput(vehicle=vehicle, **case))  # type: ignore[arg-type]
    return compiled.network.nodes[node].base


def odds(chance: float) -> float:
    """Return the odds of a probability."""
    return chance / (1 - chance)


@given(base=st.floats(0.0001, 0.5), front=st.floats(0.01, 0.99))
def test_the_places_together_give_the_base_rate_back(base: float, front: float) -> None:
    """The base rate is P(somewhere on the car), so 1 - prod(1 - p) must be it again."""
    knowledge = small([], cause("rc-a", "corner", base, front_share=front))
    nodes = compile_case(knowledge, CaseInput()).network.nodes.values()

    assert 1 - math.prod(1 - n.base for n in nodes) == pytest.approx(base, abs=1e-12)


def test_the_front_share_divides_corners_and_axles() -> None:
    """Six parts in ten at the front: .3 each there, .2 each at the rear."""
    corner = place_shares(cause("rc-a", "corner", front_share=0.6))
    axle = place_shares(cause("rc-a", "axle", front_share=0.6))

    assert corner == pytest.approx({"lf": 0.3, "rf": 0.3, "lr": 0.2, "rr": 0.2})
    assert axle == pytest.approx({"front": 0.6, "rear": 0.4})


def test_a_cause_at_one_end_only_is_split_evenly() -> None:
    """A front share says nothing about a thing that has no rear."""
    assert place_shares(cause("rc-a", "front-corner", front_share=0.9)) == {"lf": 0.5, "rf": 0.5}


@pytest.mark.parametrize(("salted", "expected"), [(True, 0.2), (None, 0.2), (False, 0.05)])
def test_unknown_roads_count_as_salted(salted: bool | None, expected: float) -> None:
    """The shop stands where salt is spread; a dry region must be said."""
    knowledge = small([], cause("rc-a", base_salted=0.2, base_dry=0.05))

    assert prior(knowledge, vehicle=Vehicle(salted_roads=salted)) == pytest.approx(expected)


def test_leaks_follow_the_roads() -> None:
    """Rust scale is everywhere on a salted car and rare on a dry one."""
    knowledge = small([], finding("sy-rust", leak_salted=0.5, leak_dry=0.05))

    def leak(salted: bool | None) -> float:
        case = CaseInput(Vehicle(salted_roads=salted))
        return compile_case(knowledge, case).network.nodes["sy-rust"].base

    assert [leak(True), leak(None), leak(False)] == [0.5, 0.5, 0.05]


@pytest.mark.parametrize(
    ("factors", "expected"), [((3.0, 4.0), 12.0), ((20.0, 30.0), 50.0), ((0.2, 0.3), 0.1)]
)
def test_contexts_multiply_and_are_capped(factors: tuple[float, ...], expected: float) -> None:
    """The review caps the product at 50 up and 0.1 down."""
    contexts = {f"cx-{n}": Context(f"cx-{n}", "", {"rc-a": f}) for n, f in enumerate(factors)}
    knowledge = small([], cause("rc-a", base=0.01), contexts=contexts)

    assert context_odds(knowledge, contexts) == {"rc-a": pytest.approx(expected)}
    assert odds(prior(knowledge, context=tuple(contexts))) == pytest.approx(expected * odds(0.01))


def test_an_unknown_context_is_refused_with_the_nearest() -> None:
    """A misspelt circumstance must not be dropped."""
    knowledge = small([], cause("rc-a"), contexts={"cx-strike": Context("cx-strike", "", {})})

    with pytest.raises(UnknownTermError, match=r"unknown context 'cx-strik'.*'cx-strike'"):
        compile_case(knowledge, CaseInput(context=("cx-strik",)))


AGE = Curve("cv-a", "age", ("rc-a",), (3.5, INF), (0.25, 4.0), (0.5, 2.0))
MILES = Curve("cm-a", "mileage", ("rc-a",), (60.0, INF), (0.5, 9.0), (0.5, 9.0))


def test_age_and_mileage_together_are_their_geometric_mean() -> None:
    """sqrt(4 * 9) = 6, not 36: both say the same of an old car."""
    knowledge = small([], cause("rc-a", base=0.01), curves=(AGE, MILES))
    vehicle = Vehicle(age_years=10, odometer_km=200_000)

    assert curve_odds(knowledge, vehicle) == {"rc-a": pytest.approx(6.0)}
    assert odds(prior(knowledge, vehicle=vehicle)) == pytest.approx(6.0 * odds(0.01))


@pytest.mark.parametrize(("km", "factor"), [(96_560.0, 0.5), (96_562.0, 9.0)])
def test_mileage_columns_are_miles(km: float, factor: float) -> None:
    """60,000 international miles of 1959 are 96,560.64 km."""
    knowledge = small([], cause("rc-a"), curves=(MILES,))

    assert curve_odds(knowledge, Vehicle(odometer_km=km)) == {"rc-a": factor}
    assert pytest.approx(0.621371, abs=1e-6) == MILES_PER_KM


def test_a_dry_curve_relative_to_the_salted_base_starts_from_it() -> None:
    """The review gives dry rust columns relative to the salted base: 0.2 of its odds."""
    curve = Curve("cv-r", "age", ("rc-a",), (INF,), (1.0,), (0.2,), dry_relative_to_salted=True)
    knowledge = small([], cause("rc-a", base_salted=0.1, base_dry=0.03), curves=(curve,))
    vehicle = Vehicle(age_years=10, salted_roads=False)

    assert odds(prior(knowledge, vehicle=vehicle)) == pytest.approx(0.2 * odds(0.1))


def test_the_battery_curve_is_not_read_at_the_age_of_an_old_car() -> None:
    """The battery of a 12-year-old car is not 12 years old."""
    curve = Curve("cv-battery-age", "age", ("rc-a",), (2.5, INF), (0.2, 3.0), (0.2, 3.0))
    knowledge = small([], cause("rc-a"), curves=(curve,))

    assert curve_odds(knowledge, Vehicle(age_years=12)) == {}
    assert curve_odds(knowledge, Vehicle(age_years=2)) == {"rc-a": 0.2}


@pytest.mark.parametrize(
    ("vehicle", "name"),
    [(Vehicle(age_years=-1), "age_years"), (Vehicle(odometer_km=INF), "odometer_km")],
)
def test_an_age_or_mileage_that_cannot_be_is_refused(vehicle: Vehicle, name: str) -> None:
    """A typing slip must not become a factor."""
    with pytest.raises(ParameterError, match=rf"{name} of vehicle is .* outside \[0, inf\)"):
        compile_case(small([], cause("rc-a"), curves=(AGE, MILES)), CaseInput(vehicle))


def facts(*rows: Fact) -> Knowledge:
    """Return two causes, a state and some facts."""
    return small(
        [link("rc-a", "global", "st-b", 0.4)],
        cause("rc-a"),
        cause("rc-c", "corner"),
        state("st-b"),
        facts={row.id: row for row in rows},
    )


STRUT = Fact("vf-strut", "", "Front?", enables=("rc-a",), default_shares={("fwd", 9, 15): 0.7})
SOLID = Fact("vf-solid", "", "Front?", (FactEffect("rc-c", "front", 0.0),))


def test_an_open_fact_weighs_a_cause_by_the_share_of_cars_that_have_it() -> None:
    """Of front-drive cars of ten years seven in ten have struts."""
    knowledge = facts(STRUT, SOLID)
    vehicle = Vehicle("fwd", 10)

    assert odds(prior(knowledge, vehicle=vehicle)) == pytest.approx(0.7 * odds(0.1))


def test_the_share_left_over_weighs_what_the_other_answers_rule_out() -> None:
    """Three in ten have the solid axle, and no such thing in front."""
    knowledge = facts(STRUT, SOLID)
    open_front, rear = (
        prior(knowledge, node, vehicle=Vehicle("fwd", 10)) for node in ("rc-c@lf", "rc-c@lr")
    )

    assert odds(open_front) == pytest.approx(0.7 * odds(rear))


def test_a_stated_fact_gives_the_whole_prior() -> None:
    """Known is known."""
    knowledge = facts(STRUT, SOLID)

    assert prior(knowledge, vehicle=Vehicle("fwd", 10, facts=("vf-strut",))) == pytest.approx(0.1)


def test_another_answer_to_the_question_removes_what_only_the_first_has() -> None:
    """A solid axle has no strut to bend; its fronts are gone, its rears stay."""
    vehicle = Vehicle("fwd", 10, facts=("vf-solid",))
    nodes = compile_case(facts(STRUT, SOLID), CaseInput(vehicle)).network.nodes

    assert set(nodes) == {"rc-c@lr", "rc-c@rr", "st-b"}


def test_two_answers_to_one_question_contradict() -> None:
    """A car has one front suspension."""
    with pytest.raises(ContradictionError, match="'Front\\?' is stated as vf-strut and as"):
        facts_of(facts(STRUT, SOLID), Vehicle(facts=("vf-strut", "vf-solid")))


def test_an_unknown_fact_is_refused_and_an_alias_is_understood() -> None:
    """Ids have neighbours in use; a misspelt one must not be dropped."""
    knowledge = facts(Fact("vf-a", "", "A?", aliases=("vf-old-a",)))

    assert [f.id for f in facts_of(knowledge, Vehicle(facts=("vf-old-a", "vf-a")))] == ["vf-a"]
    with pytest.raises(UnknownTermError, match="unknown vehicle fact 'vf-b'"):
        facts_of(knowledge, Vehicle(facts=("vf-b",)))


@pytest.mark.parametrize(
    ("effect", "expected"),
    [
        (FactEffect("rc-a", link_to="st-b", link_strength=0.9), {"rc-a": 0.9}),
        (FactEffect("rc-a", factor=2.0, link_to="st-b"), {"rc-a": 0.8}),
        (FactEffect("rc-a", factor=3.0, link_to="st-b"), {"rc-a": 0.97}),
        (FactEffect("rc-a", link_to="st-b", link_strength=0.0), {}),
    ],
    ids=["set", "scaled", "scaled below certainty", "cut"],
)
def test_a_fact_changes_a_link(effect: FactEffect, expected: dict[str, float]) -> None:
    """Where the angle sensor sits decides what a refitted wheel does to it."""
    knowledge = facts(Fact("vf-a", "", "A?", (effect,)))
    node = compile_case(knowledge, CaseInput(Vehicle(facts=("vf-a",)))).network.nodes["st-b"]

    assert {p.id: p.strength for p in node.parents} == pytest.approx(expected)


@pytest.mark.parametrize(
    ("drive", "gone", "kept"),
    [
        ("fwd", "rc-propshaft-imbalance", "rc-cv-outer-worn@lf"),
        ("rwd", "rc-cv-outer-worn@lf", "rc-propshaft-imbalance"),
        ("awd", "", "rc-cv-outer-worn@lf"),
        ("4wd", "", "rc-propshaft-imbalance"),
    ],
)
def test_the_drive_is_a_fact(drive: str, gone: str, kept: str) -> None:
    """Front drive has no propeller shaft, rear drive no front shafts, both axles have all."""
    nodes = compile_case(load_knowledge(), CaseInput(Vehicle(drive))).network.nodes

    assert gone not in nodes
    assert kept in nodes


def rule(**stated: object) -> OddsRule:
    """Return a rule for one cause."""
    return OddsRule("or-1", "rc-a", 4.0, "so it is", **stated)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("stated", "expected"),
    [
        ({}, False),
        ({"contexts": ("cx-a",)}, True),
        ({"contexts": ("cx-b",)}, False),
        ({"present": ("sy-a",), "absent": ("sy-b",)}, True),
        ({"present": ("sy-a", "sy-b")}, False),
        ({"present_any": ("sy-a", "sy-b")}, True),
        ({"codes": "any-confirmed-chassis"}, True),
        ({"codes": "none"}, False),
        ({"codes": "none-tests-complete"}, False),
    ],
)
def test_a_rule_holds_when_all_it_states_holds(stated: dict[str, object], expected: bool) -> None:
    """A rule that states nothing a case can say is for a person."""
    case = CaseInput(
        context=("cx-a",),
        codes=(CodeRead("C0051", status="2F"),),
        findings=(FindingSeen("sy-a", "present"), FindingSeen("sy-b", "absent")),
    )

    assert holds(rule(**stated), case) is expected


def test_codes_that_were_tested_and_passed_are_none() -> None:
    """ISO 14229-1: no bit of the byte set means the test has run and passed."""
    case = CaseInput(codes=(CodeRead("C0051", status="00"),))

    assert holds(rule(codes="none-tests-complete"), case)
    assert holds(rule(codes="none"), case)
    assert not holds(rule(codes="any-confirmed-chassis"), case)


def test_a_rule_speaks_in_place_of_the_context_it_replaces() -> None:
    """The same circumstance must not count twice for one cause."""
    knowledge = small(
        [],
        cause("rc-a", base=0.01),
        contexts={"cx-a": Context("cx-a", "", {"rc-a": 12.0})},
        odds_rules=(rule(contexts=("cx-a",), replaces="cx-a"),),
    )
    case = CaseInput(context=("cx-a",))

    assert rule_effects(knowledge, case).replaced == {("cx-a", "rc-a")}
    assert odds(prior(knowledge, context=("cx-a",))) == pytest.approx(4.0 * odds(0.01))
