"""What closes a gate: named checks, everywhere concerned, by somebody who may say so."""

from __future__ import annotations

import pytest

from graph.terms import Gate, GateTrigger
from triage.gate_closing import (
    MAY_LOWER,
    Answered,
    Closing,
    Event,
    House,
    Looked,
    Opened,
    Overruled,
    Person,
    Signed,
    standing_gates,
    why_refused,
)
from triage.gates import CORNERS, LEVELS, Situation

LIFT = "no-road-test-until-lift-check"
ANN = Person("Ann", "technician")
SAM = Person("Sam", "senior")
TIM = Person("Tim", "trainee")
KNOCK = GateTrigger(findings=("sy-knock",), because="it knocks")
NUTS = GateTrigger(verdicts=("rc-nuts",), because="loose nuts were found")
HERE = Situation(present=frozenset({"sy-knock"}), where={"sy-knock": CORNERS["lf"]})


def _gate(level: str = LIFT, *closes_on: str, always: bool = False) -> Gate:
    return Gate("sg-x", "X", level, "road-test", (KNOCK, NUTS), closes_on, "how", "b", always)


def _looked(check: str, who: Person = ANN, result: str = "not-found", place: str = "lf") -> Looked:
    return Looked(check, place, result, who)


def _is_open(gate: Gate, *events: Event, house: House | None = None) -> bool:
    return bool(standing_gates([gate], HERE, events, house or House()))


def test_a_gate_closes_when_each_of_its_checks_was_done() -> None:
    """The comma in the safety notes means all of them."""
    gate = _gate(LIFT, "ck-a", "ck-b")

    assert _is_open(gate, _looked("ck-a"))
    assert not _is_open(gate, _looked("ck-a"), _looked("ck-b"))


def test_of_alternatives_one_will_do_but_each_group_is_needed() -> None:
    """The stroke in the safety notes means either; what they show differs between groups."""
    gate = _gate(LIFT, "ck-a", "ck-b", "ck-c")
    house = House({"sg-x": Closing((("ck-a", "ck-b"), ("ck-c",)))})

    assert _is_open(gate, _looked("ck-a"), _looked("ck-b"), house=house)
    assert not _is_open(gate, _looked("ck-b"), _looked("ck-c"), house=house)


def test_each_corner_concerned_must_have_been_looked_at() -> None:
    """A look at the left says nothing of the right; a look at the front covers both."""
    gate = _gate(LIFT, "ck-a")
    front = Situation(present=frozenset({"sy-knock"}), where={"sy-knock": CORNERS["front"]})

    def rows(*places: str) -> list[str]:
        events = [_looked("ck-a", place=place) for place in places]
        return [
            line for row in standing_gates([gate], front, events, House()) for line in row.missing
        ]

    assert rows("lf") == ["ck-a at rf"]
    assert rows("lf", "rf") == []
    assert rows("front") == []
    assert rows("rear") == ["ck-a at front"]


def test_a_check_is_not_asked_for_where_it_cannot_be_done() -> None:
    """A dry-park check is done at the front axle; for the rear the other one of the group is."""
    gate = _gate(LIFT, "ck-a", "ck-b")
    house = House(
        {"sg-x": Closing((("ck-a", "ck-b"),))},
        {"ck-a": CORNERS["front"], "ck-b": CORNERS["vehicle"]},
    )
    rear = Situation(present=frozenset({"sy-knock"}), where={"sy-knock": CORNERS["lr"]})

    assert standing_gates([gate], rear, [_looked("ck-a", place="front")], house)
    assert not standing_gates([gate], rear, [_looked("ck-b", place="lr")], house)


@pytest.mark.parametrize("result", ["found", "cant-tell"])
def test_a_find_or_cant_tell_closes_nothing(result: str) -> None:
    """Only a result that speaks for the car does."""
    assert _is_open(_gate(LIFT, "ck-a"), _looked("ck-a", result=result))


def test_a_find_is_undone_only_by_looking_again() -> None:
    """Repaired is what the next look shows, not what somebody says."""
    gate = _gate(LIFT, "ck-a", "ck-b")
    house = House({"sg-x": Closing((("ck-a", "ck-b"),))})
    found = Looked("ck-a", "lf", "found", ANN, ("rc-nuts",))

    assert _is_open(gate, found, _looked("ck-b"), house=house)
    assert not _is_open(gate, found, _looked("ck-a"), house=house)


def test_a_find_that_the_gate_does_not_speak_of_is_no_reason_against_it() -> None:
    """Play in a hub bearing does not keep the ball joints' gate open."""
    gate = _gate(LIFT, "ck-a")

    assert not _is_open(gate, Looked("ck-a", "lf", "found", ANN, ("rc-other",)))


def test_after_a_find_the_further_check_is_needed() -> None:
    """Brakes that have been opened are held for a minute before the car moves."""
    gate = _gate(LIFT, "ck-a")
    house = House({"sg-x": Closing((("ck-a",),), after_find=("ck-hold",))})
    found = Looked("ck-a", "lf", "found", ANN, ("rc-nuts",))

    assert not _is_open(gate, _looked("ck-a"), house=house)
    assert _is_open(gate, found, _looked("ck-a"), house=house)
    assert not _is_open(gate, found, _looked("ck-a"), _looked("ck-hold"), house=house)


def test_what_goes_away_by_itself_closes_nothing() -> None:
    """A lamp that went out, a code that was cleared: the record remembers."""
    opened = Opened("sg-x", "it knocked", LIFT)

    rows = standing_gates([_gate(LIFT, "ck-a")], Situation(), [opened], House())

    assert rows[0].because == ("it knocked",)


def test_a_new_reason_opens_it_again_and_old_looks_do_not_count() -> None:
    """What was looked at before the knock came back says nothing about it."""
    gate = _gate(LIFT, "ck-a")

    assert not _is_open(gate, _looked("ck-a"))
    assert _is_open(gate, _looked("ck-a"), Opened("sg-x", "it knocks again", LIFT))
    assert not _is_open(
        gate,
        _looked("ck-a"),
        Opened("sg-x", "it knocks again", LIFT),
        _looked("ck-a", place="vehicle"),
    )


@pytest.mark.parametrize(
    ("answer", "opens"), [("yes", True), ("unknown", True), ("skipped", True), ("no", False)]
)
def test_only_a_no_is_a_no(answer: str, opens: bool) -> None:
    """Safety notes 1: uncertain and skipped count as yes."""
    event = Answered("sy-knock", answer)

    rows = standing_gates([_gate(LIFT, "ck-a")], Situation(), [event], House())

    assert bool(rows) is opens


def test_a_no_does_not_close_what_is_open() -> None:
    """The customer says it is fine: safety notes 1, that never closes a gate."""
    assert _is_open(_gate(LIFT, "ck-a"), Answered("sy-knock", "no"))


@pytest.mark.parametrize("who", [TIM, Person("", "technician"), Person("  ", "senior")])
def test_a_trainee_or_nobody_closes_nothing(who: Person) -> None:
    """A result needs the name of somebody who answers for it."""
    gate = _gate(LIFT, "ck-a")

    assert _is_open(gate, _looked("ck-a", who))
    assert why_refused("sg-x", _looked("ck-a", who), House())


def test_what_a_trainee_finds_counts_all_the_same() -> None:
    """Whoever sees a loose nut, the car does not move."""
    rows = standing_gates(
        [_gate(LIFT, "ck-a")], Situation(), [_looked("ck-a", TIM, "found")], House()
    )

    assert rows


def test_a_car_that_must_not_be_driven_waits_for_a_senior_technician() -> None:
    """Safety notes 1: the gravest level is lowered by a master technician after the check."""
    gate = _gate("do-not-drive", "ck-a")
    row = standing_gates([gate], HERE, [_looked("ck-a")], House())[0]

    assert row.missing == ("a senior technician's name",)
    assert not _is_open(gate, _looked("ck-a"), Signed("sg-x", SAM))
    assert not _is_open(gate, _looked("ck-a", SAM))
    assert _is_open(gate, Signed("sg-x", SAM), _looked("ck-a"))


def test_a_gate_may_ask_for_a_senior_technician_at_any_level() -> None:
    """Whether rusted structure holds is a senior's decision."""
    house = House({"sg-x": Closing((("ck-a",),), senior=True)})

    assert _is_open(_gate(LIFT, "ck-a"), _looked("ck-a"), house=house)
    assert not _is_open(_gate(LIFT, "ck-a"), _looked("ck-a", SAM), house=house)


def test_a_gate_without_checks_closes_on_a_name() -> None:
    """What the gate asks for is stated to have been done."""
    assert _is_open(_gate(LIFT))
    assert _is_open(_gate(LIFT), Signed("sg-x", TIM))
    assert not _is_open(_gate(LIFT), Signed("sg-x", ANN))


def test_a_gate_may_go_down_to_a_lower_level_before_it_closes() -> None:
    """No road test, then the lot only with a second person, then free."""
    gate = _gate(LIFT, "ck-a")
    house = House({"sg-x": Closing((("ck-a",),), lowers_to="road-test-lot-only")})

    row = standing_gates([gate], HERE, [_looked("ck-a")], house)[0]

    assert row.level == "road-test-lot-only"
    assert not _is_open(gate, _looked("ck-a"), Signed("sg-x", ANN), house=house)


def test_a_signature_stands_for_nothing_while_a_check_is_missing() -> None:
    """Nobody signs for what was not looked at."""
    assert _is_open(_gate(LIFT, "ck-a"), Signed("sg-x", SAM))


def _overruled(who: Person = SAM) -> Overruled:
    return Overruled("sg-x", who, "seen yesterday", "towed", "10:40")


def test_a_senior_technician_overrules_with_a_reason() -> None:
    """Safety notes 1: who, why, when, what was done instead."""
    gate = _gate("do-not-drive", "ck-a")

    assert not _is_open(gate, _overruled())
    assert _is_open(gate, _overruled(), Opened("sg-x", "it knocks again", LIFT))


@pytest.mark.parametrize("field", ["reason", "instead", "when"])
def test_overruling_without_a_word_of_it_is_refused(field: str) -> None:
    """An overruling nobody can follow later is none."""
    told = {"reason": "seen yesterday", "instead": "towed", "when": "10:40", field: " "}
    event = Overruled("sg-x", SAM, told["reason"], told["instead"], told["when"])

    assert _is_open(_gate(LIFT, "ck-a"), event)
    assert field in why_refused("sg-x", event, House())


@pytest.mark.parametrize("who", [TIM, ANN, Person("", "senior")])
def test_nobody_but_a_senior_technician_overrules(who: Person) -> None:
    """Safety notes 1: apprentices cannot override; the design gives it to seniors alone."""
    assert _is_open(_gate(LIFT, "ck-a"), _overruled(who))


def test_names_outside_the_shops_list_count_for_nothing_at_the_gates_it_guards() -> None:
    """Safety notes 6; a shop that keeps no list has set no such rule."""
    gate = _gate(LIFT, "ck-a")
    guarded = House(licensed_gates=frozenset({"sg-x"}), licensed=frozenset({"Ann"}))
    no_list = House(licensed_gates=frozenset({"sg-x"}))
    other = House(licensed_gates=frozenset({"sg-y"}), licensed=frozenset({"Ann"}))

    assert not _is_open(gate, _looked("ck-a", ANN), house=guarded)
    assert _is_open(gate, _looked("ck-a", SAM), house=guarded)
    assert _is_open(gate, _overruled(SAM), house=guarded)
    assert not _is_open(gate, _looked("ck-a", SAM), house=no_list)
    assert not _is_open(gate, _looked("ck-a", SAM), house=other)


def test_every_level_has_somebody_who_may_lower_it_and_never_a_trainee() -> None:
    """A level that nobody could lower would stop the job for good."""
    assert set(MAY_LOWER) == set(LEVELS)
    assert all(roles and "trainee" not in roles for roles in MAY_LOWER.values())
    assert MAY_LOWER["do-not-drive"] == {"senior"}


def test_gates_stand_gravest_first() -> None:
    """The one that stops the car is read first."""
    light = Gate("sg-a", "A", "none", "work", (KNOCK,), (), "how", "b")

    rows = standing_gates([light, _gate("do-not-drive", "ck-a")], HERE, [], House())

    assert [row.id for row in rows] == ["sg-x", "sg-a"]
