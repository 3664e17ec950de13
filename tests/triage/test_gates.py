"""What opens a gate: any trigger, chance times consequence, and what nobody answered."""

from __future__ import annotations

import pytest

from graph.terms import Gate, GateTrigger
from triage.gates import CORNERS, LEVELS, Situation, gravest, open_gates, openings

LIFT = "no-road-test-until-lift-check"


def _gate(*triggers: GateTrigger, level: str = "do-not-drive", always: bool = False) -> Gate:
    return Gate("sg-x", "A gate", level, "road-test", triggers, ("ck-a",), "how", "basis", always)


#: One condition each, a situation in which it holds, and one in which it does not.
CONDITIONS = {
    "finding": (GateTrigger(findings=("sy-a",)), Situation(present=frozenset({"sy-a"}))),
    "context": (GateTrigger(contexts=("cx-a",)), Situation(contexts=frozenset({"cx-a"}))),
    "code": (GateTrigger(codes=("dtc-a",)), Situation(present=frozenset({"dtc-a"}))),
    "verdict": (GateTrigger(verdicts=("rc-a",)), Situation(found=frozenset({"rc-a"}))),
    "fact": (GateTrigger(facts=("vf-a",)), Situation(facts=frozenset({"vf-a"}))),
    "chance": (
        GateTrigger(chance_of="st-a", chance_above=0.02),
        Situation(chances={"st-a": 0.03}),
    ),
}


@pytest.mark.parametrize("name", CONDITIONS)
def test_a_trigger_opens_when_its_condition_holds_and_not_otherwise(name: str) -> None:
    """One yes is enough; nothing known opens nothing."""
    trigger, situation = CONDITIONS[name]
    gate = _gate(trigger)

    assert [row.id for row in open_gates([gate], situation)] == ["sg-x"]
    assert open_gates([gate], Situation()) == []


def test_every_condition_of_a_trigger_was_tried() -> None:
    """Partner of the sweep: six conditions, and three that only narrow one."""
    fields = set(GateTrigger.__dataclass_fields__) - {"level", "because", "chance_above"}

    assert len(fields - {"min_age_years", "salted_only"}) == len(CONDITIONS) == 6


def test_all_conditions_of_one_trigger_must_hold() -> None:
    """Wander and clunk is one reason; wander alone is none."""
    gate = _gate(GateTrigger(findings=("sy-a", "sy-b")))

    assert not open_gates([gate], Situation(present=frozenset({"sy-a"})))
    assert open_gates([gate], Situation(present=frozenset({"sy-a", "sy-b"})))


@pytest.mark.parametrize(("age", "opens"), [(7.9, False), (8.0, True), (None, True)])
def test_an_age_that_nobody_knows_counts_as_old_enough(age: float | None, opens: bool) -> None:
    """Safety notes 1: uncertain counts as yes."""
    gate = _gate(GateTrigger(findings=("sy-a",), min_age_years=8.0))
    situation = Situation(present=frozenset({"sy-a"}), age_years=age)

    assert bool(open_gates([gate], situation)) is opens


@pytest.mark.parametrize(("salted", "opens"), [(False, False), (True, True), (None, True)])
def test_roads_that_nobody_knows_count_as_salted(salted: bool | None, opens: bool) -> None:
    """Safety notes 1: uncertain counts as yes."""
    gate = _gate(GateTrigger(findings=("sy-a",), salted_only=True))
    situation = Situation(present=frozenset({"sy-a"}), salted=salted)

    assert bool(open_gates([gate], situation)) is opens


def test_a_question_that_was_asked_and_not_answered_counts_as_yes() -> None:
    """Safety notes 1: a skipped gate question counts as yes; and the sentence says so."""
    gate = _gate(GateTrigger(findings=("sy-a",), because="it knocks"))

    row = open_gates([gate], Situation(unsure=frozenset({"sy-a"})))[0]

    assert row.because == ("it knocks (asked and not answered, which counts as yes)",)


def test_a_small_chance_of_something_grave_opens_before_a_large_one_of_something_light() -> None:
    """Safety notes 1: consequence times chance, not chance alone; the threshold is the gate's."""
    grave = _gate(GateTrigger(chance_of="st-a", chance_above=0.02))
    light = _gate(GateTrigger(chance_of="st-b", chance_above=0.2))
    situation = Situation(chances={"st-a": 0.03, "st-b": 0.15})

    assert open_gates([grave], situation)
    assert not open_gates([light], situation)


def test_a_chance_at_its_threshold_does_not_open() -> None:
    """Above means above, so that a threshold of one never opens."""
    gate = _gate(GateTrigger(chance_of="st-a", chance_above=0.05))

    assert not open_gates([gate], Situation(chances={"st-a": 0.05}))


def test_levels_are_ordered_gravest_first() -> None:
    """Safety notes 1, table of levels, in its order."""
    assert LEVELS == (
        "do-not-drive",
        "no-road-test-until-lift-check",
        "road-test-lot-only",
        "lot-or-spare-limit",
        "none",
    )
    assert gravest(["none", "lot-or-spare-limit", LIFT]) == LIFT


def test_the_gravest_trigger_sets_the_level_and_the_gravest_gate_stands_first() -> None:
    """Two reasons for one gate: the graver one decides."""
    both = _gate(
        GateTrigger(findings=("sy-a",), level=LIFT, because="one"),
        GateTrigger(findings=("sy-b",), because="two"),
    )
    standing = Gate("sg-a", "Always", "none", "work", (), (), "how", "basis", True)
    situation = Situation(present=frozenset({"sy-a", "sy-b"}))

    rows = open_gates([standing, both], situation)

    assert [row.id for row in rows] == ["sg-x", "sg-a"]
    assert rows[0].level == "do-not-drive"
    assert rows[0].because == ("one", "two")


def test_an_opening_concerns_the_corners_of_what_it_names() -> None:
    """A knock at the left front is no reason to take the right rear wheel off."""
    gate = _gate(GateTrigger(findings=("sy-a",)), GateTrigger(chance_of="st-a", chance_above=0.1))
    situation = Situation(
        present=frozenset({"sy-a"}),
        where={"sy-a": CORNERS["front"]},
        chances={"st-a": 0.3},
        chance_at={"st-a": {"lf": 0.3, "rr": 0.05}},
    )

    assert [hit.corners for hit in openings(gate, situation)] == [
        CORNERS["front"],
        CORNERS["lf"],
    ]


def test_what_is_somewhere_concerns_every_corner() -> None:
    """Place not said: all of them have to be looked at."""
    gate = _gate(GateTrigger(findings=("sy-a",)))

    hit = openings(gate, Situation(present=frozenset({"sy-a"})))[0]

    assert hit.corners == CORNERS["vehicle"]
