"""What must come before what on the list, read from the shipped knowledge."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import pytest

from api.answering.rules import ROAD, TORQUE, hands_of, rules_for
from graph.build import compile_case
from graph.case import CaseInput
from graph.compiled import CheckItem
from graph.load import load_knowledge
from graph.terms import Knowledge
from triage.gates import OpenGate
from triage.precedence import Rules, predecessors

PRE_DRIVE = OpenGate(
    "sg-pre-road-test",
    "no-road-test-until-lift-check",
    (),
    ("ck-safety-questions", "ck-wheel-nut-look", "ck-tyre-pressure-cold", "ck-pedal-static"),
)


@cache
def shipped() -> tuple[Knowledge, tuple[CheckItem, ...]]:
    """Return the shipped knowledge and all checks of a car of which nothing is known."""
    knowledge = load_knowledge()
    return knowledge, compile_case(knowledge, CaseInput()).checks


def rules(*gates: OpenGate, chance: dict[str, float] | None = None) -> Rules:
    """Return the rules over all checks."""
    knowledge, offers = shipped()
    return rules_for(knowledge, offers, chance or {}, gates)


def row(check: str, place: str = "vehicle") -> int:
    """Return the index of a check at a place."""
    return next(k for k, o in enumerate(shipped()[1]) if (o.id, o.place) == (check, place))


def earlier(first: int, second: int, found: Rules) -> bool:
    """Return whether the rules put the first check before the second."""
    setups = [offer.setup for offer in shipped()[1]]
    return first in predecessors([first, second], setups, found)[second]


def ids(rows: Sequence[int]) -> list[str]:
    """Return the checks behind rows."""
    return [shipped()[1][k].id for k in rows]


def test_before_the_first_road_check_come_the_checks_of_the_pre_drive_gate() -> None:
    """The safety questions are intake and stand before the list; the rest are rows of it."""
    found = rules(PRE_DRIVE)

    assert ids(found.gates[ROAD]) == [
        "ck-wheel-nut-look",
        "ck-tyre-pressure-cold",
        "ck-pedal-static",
    ]
    assert rules().gates[ROAD] == ()


@pytest.mark.parametrize(
    ("check", "place"),
    [
        ("ck-dry-park", "front"),
        ("ck-wheel-shake-3-9", "lf"),
        ("ck-wheel-shake-12-6", "rr"),
        ("ck-link-loaded-pry", "rear"),
        ("ck-bushing-pry", "front"),
        ("ck-tyre-pressure-cold", "vehicle"),
        ("ck-ride-height", "vehicle"),
    ],
)
def test_joints_tyres_and_height_are_looked_at_before_the_rack(check: str, place: str) -> None:
    """Common practice, no source: the rack is not booked until the joints are proven."""
    rack, look = row("ck-align-measure"), row(check, place)

    assert earlier(look, rack, rules())
    assert not earlier(rack, look, rules())


def test_what_has_nothing_to_do_with_the_alignment_does_not_wait_for_it() -> None:
    """The rule is about loose parts, not about every check."""
    assert not earlier(row("ck-cranking-volt"), row("ck-align-measure"), rules())


def test_status_is_saved_before_anything_is_cleared() -> None:
    """Common practice, no source. Both closing checks are intake, so they stand before the list."""
    knowledge, _ = shipped()
    gate = knowledge.gates["sg-clear-codes"]

    assert set(gate.closes_on) == {"ck-save-freeze-frame", "ck-status-bits"}
    assert "ck-clear-and-return" in gate.before
    assert {knowledge.checks[check].kind for check in gate.closes_on} == {"intake"}


def test_a_gate_that_something_opened_is_closed_at_the_likeliest_place_first() -> None:
    """The corner that knocks is the corner that is looked at."""
    knock = OpenGate("sg-wheel-separation", "do-not-drive", ("it knocks",), ("ck-hub-face-look",))
    corner = {"rc-hub-face-rust@rr": 0.4, "rc-hub-face-rust@lf": 0.1}

    found = rules(knock, chance=corner)

    assert found.first == (row("ck-hub-face-look", "rr"),)


def test_a_gate_that_nothing_opened_forces_nothing() -> None:
    """The pre-drive gate stands before every drive, not before every list."""
    assert rules(PRE_DRIVE).first == ()


def test_wheels_are_tightened_between_wheel_off_and_road() -> None:
    """Six minutes with the torque wrench, on its wheels, before the car moves."""
    refit = rules().refit

    assert refit is not None
    assert (refit.off, refit.road, refit.minutes) == ("su-wheel-off", "su-road", 6.0)
    assert ids([refit.offer]) == [TORQUE]


def test_set_ups_with_a_helper_take_two_people() -> None:
    """A helper costs the shop's labour twice."""
    assert hands_of(shipped()[0]) == {"su-ground-helper": 2}
