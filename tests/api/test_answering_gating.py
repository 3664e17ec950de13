"""Every gate of the knowledge opens on each of its triggers and closes on its checks."""

from __future__ import annotations

from pathlib import Path

import pytest

from api.answering.closing import LICENSED_GATES, RULES, house_of
from api.answering.gating import (
    GateRecord,
    barring,
    gate_rows,
    gates_of,
    situation_of,
    unsigned_notes,
)
from api.documents import read_case
from graph.build import compile_case
from graph.case import CaseInput, FindingSeen, VerdictGiven
from graph.load import load_knowledge
from graph.terms import Gate, GateTrigger, Knowledge
from triage.exact import stand
from triage.gate_closing import Looked, Person, Signed, standing_gates
from triage.gates import LEVELS, OpenGate, Situation

KNOWLEDGE: Knowledge = load_knowledge()
GATES = KNOWLEDGE.gates
HOUSE = house_of(KNOWLEDGE)
SAM = Person("Sam", "senior")
NO_RECORD = GateRecord()
TRIGGERS = [
    pytest.param(gate, trigger, id=f"{gate.id}-{number}")
    for gate in GATES.values()
    for number, trigger in enumerate(gate.triggers, 1)
]


def _situation(trigger: GateTrigger) -> Situation:
    """Return a car on which the trigger just holds."""
    return Situation(
        present=frozenset({*trigger.findings, *trigger.codes}),
        contexts=frozenset(trigger.contexts),
        facts=frozenset(trigger.facts),
        found=frozenset(trigger.verdicts),
        chances={trigger.chance_of: trigger.chance_above + 0.001} if trigger.chance_of else {},
        age_years=trigger.min_age_years,
        salted=trigger.salted_only,
    )


def _doings(gate: Gate) -> list[Looked | Signed]:
    """Return everything that closes a gate, done by a senior technician."""
    rule = RULES.get(gate.id)
    groups = rule.groups if rule else tuple((check,) for check in gate.closes_on)
    looks = [Looked(group[-1], "vehicle", "not-found", SAM) for group in groups]
    return [*looks, Signed(gate.id, SAM)]


@pytest.mark.parametrize(("gate", "trigger"), TRIGGERS)
def test_a_gate_opens_on_each_of_its_triggers_and_closes_on_its_checks(
    gate: Gate, trigger: GateTrigger
) -> None:
    """Safety notes 2, row by row: a gate that does not open guards nothing."""
    situation = _situation(trigger)

    row = next(r for r in standing_gates([gate], situation, [], HOUSE) if r.id == gate.id)

    assert LEVELS.index(row.level) <= LEVELS.index(trigger.level or gate.level)
    assert trigger.because in row.because
    assert not standing_gates([gate], situation, _doings(gate), HOUSE)


@pytest.mark.parametrize("gate", GATES.values(), ids=lambda gate: gate.id)
def test_a_gate_does_not_close_with_one_of_its_groups_left_out(gate: Gate) -> None:
    """What closes a gate is all of it."""
    situation = _situation(gate.triggers[0]) if gate.triggers else Situation()
    doings = _doings(gate)

    for left in range(len(doings) - 1 or 1):
        rest = doings[:left] + doings[left + 1 :]
        assert standing_gates([gate], situation, rest, HOUSE), doings[left]


@pytest.mark.parametrize("gate", [g for g in GATES.values() if g.always], ids=lambda g: g.id)
def test_a_gate_that_stands_on_every_job_stands_on_a_car_of_which_nothing_is_known(
    gate: Gate,
) -> None:
    """Nothing asked yet: the questions themselves are what closes it."""
    assert standing_gates([gate], Situation(), [], HOUSE)
    assert not standing_gates([gate], Situation(), _doings(gate), HOUSE)


def test_the_sweeps_saw_every_gate_and_trigger() -> None:
    """Partner of the sweeps. The safety notes' table has 21 rows, four of them on every job."""
    always = {gate.id for gate in GATES.values() if gate.always}

    assert len(GATES) == 21
    assert len(TRIGGERS) == sum(len(gate.triggers) for gate in GATES.values()) >= 120
    assert {gate.id for gate in GATES.values() if gate.triggers} | always == set(GATES)
    assert always >= {"sg-pre-road-test", "sg-supported-vehicle"}


def test_closing_rules_speak_of_the_knowledges_gates_and_checks() -> None:
    """A rule with a slip of the pen would close on nothing, or never."""
    for gate, rule in RULES.items():
        named = {check for group in rule.groups for check in group} | set(rule.after_find)
        assert named == set(GATES[gate].closes_on), gate
    assert set(GATES) >= LICENSED_GATES
    assert len(LICENSED_GATES) == 5  # safety notes 6


def test_a_gate_over_the_road_does_not_ask_for_the_road_only() -> None:
    """A road test as the only way to be allowed on the road would be no way."""
    for gate in GATES.values():
        rule = RULES.get(gate.id)
        groups = rule.groups if rule else tuple((check,) for check in gate.closes_on)
        if gate.stage == "road-test":
            for group in groups:
                assert {KNOWLEDGE.checks[c].setup for c in group} != {"su-road"}, gate.id


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("kerb-strike-van", {}),
        ("must-not-be-driven", {"sg-wheel-separation": "do-not-drive"}),
        ("sensor-really-bad", {}),
    ],
)
def test_a_demo_case_shows_the_gates_of_its_story(name: str, expected: dict[str, str]) -> None:
    """The story of each demo case says whether it may be driven; no gate cries wolf."""
    case = read_case(Path("fixtures/cases") / f"{name}.json").to_input()

    rows = gate_rows(KNOWLEDGE, _open(case))

    barred = {row.id: row.level for row in rows if row.because and row.level in LEVELS[:2]}
    assert barred == expected
    assert "sg-pre-road-test" in {row.id for row in rows}


@pytest.mark.parametrize(
    ("name", "gate"),
    [
        ("v07", "sg-wheel-separation"),
        ("v16", "sg-brake-hydraulic"),
        ("v27", "sg-brake-hydraulic"),
        ("v37", "sg-joint-separation"),
        ("v39", "sg-steering-control"),
        ("v43", "sg-brake-hydraulic"),
    ],
)
def test_a_practice_case_shows_the_gate_its_author_expects(name: str, gate: str) -> None:
    """Written down by the cases' author beside each case, without sight of the triggers."""
    opened = _open(_practice(name))

    assert gate in {row.id for row in opened if row.because}


@pytest.mark.parametrize("name", ["v06", "v11", "v19", "v29", "v35", "v41"])
def test_an_ordinary_practice_case_is_not_kept_off_the_road(name: str) -> None:
    """Their author asks for the usual look before a road test and nothing more."""
    assert not barring(KNOWLEDGE, _open(_practice(name)))


def test_a_look_that_every_car_needs_anyway_bars_nothing_more() -> None:
    """Brake lamps are looked at before any road test: a cruise that refuses adds nothing."""
    rows = _open(_practice("v47"))

    assert "sg-brake-lamps" in {row.id for row in rows if row.because}
    assert not barring(KNOWLEDGE, rows)


def test_a_gate_question_answered_with_unknown_counts_as_yes() -> None:
    """The technician asked, the customer did not know: it knocks until proven otherwise."""
    asked = CaseInput(findings=(FindingSeen("sy-knock-wheel-speed", "unknown", "lf"),))

    gates = {row.id: row for row in _open(asked)}

    assert gates["sg-wheel-separation"].level == "do-not-drive"
    assert "counts as yes" in gates["sg-wheel-separation"].because[0]
    assert "sg-wheel-separation" not in {row.id for row in _open(CaseInput()) if row.because}


def test_a_pedal_that_a_check_found_sinking_opens_the_brake_gate() -> None:
    """What the technician saw is as good a reason as what the customer says."""
    case = CaseInput(verdicts=(VerdictGiven("ck-pedal-static", "found"),))

    gate = next(row for row in _open(case) if row.id == "sg-brake-hydraulic")

    assert gate.level == "do-not-drive"


def test_verdicts_without_a_name_close_nothing_and_the_answer_says_so() -> None:
    """A case document carries no names; the gate waits, and nobody is left to wonder why."""
    case = CaseInput(
        findings=(FindingSeen("sy-pedal-spongy", "present"),),
        verdicts=tuple(
            VerdictGiven(check, "not-found")
            for check in ("ck-pedal-static", "ck-fluid-level", "ck-leak-look")
        ),
    )
    rows = _open(case)

    notes = unsigned_notes(case, rows, GateRecord())

    assert "sg-brake-hydraulic" in {row.id for row in rows}
    assert any("ck-leak-look is answered without a name" in note for note in notes)


def test_a_record_with_names_closes_the_gate() -> None:
    """The same three looks, signed: the brakes' gate is gone."""
    case = CaseInput(findings=(FindingSeen("sy-pedal-spongy", "present"),))
    ann = Person("Ann", "technician")
    looks = tuple(
        Looked(check, "vehicle", "not-found", ann)
        for check in ("ck-pedal-static", "ck-fluid-level", "ck-leak-look")
    )

    listed = GateRecord(looks, frozenset({"Sam"}))

    assert "sg-brake-hydraulic" in {row.id for row in _open(case)}
    assert "sg-brake-hydraulic" not in {row.id for row in _open(case, GateRecord(looks))}
    assert "sg-brake-hydraulic" in {row.id for row in _open(case, listed)}


def test_a_chance_that_nothing_seen_touches_still_opens_a_gate() -> None:
    """The risk states have no onward links: a chance trigger must see them all the same."""
    rows = {row.id: row for row in _open(_practice("v07"))}

    assert "a loose wheel is likely enough to look first" in rows["sg-wheel-separation"].because


def _practice(name: str) -> CaseInput:
    return read_case(Path("fixtures/practice/cases") / f"{name}.json").to_input()


def _open(case: CaseInput, record: GateRecord = NO_RECORD) -> list[OpenGate]:
    """Return the open gates of a case."""
    compiled = compile_case(KNOWLEDGE, case)
    state = stand(compiled.network, compiled.evidence, rough=True)
    situation = situation_of(case, compiled, state, KNOWLEDGE)
    return gates_of(KNOWLEDGE, situation, case, record)
