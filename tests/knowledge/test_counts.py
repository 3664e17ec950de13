"""The shipped knowledge holds what its sources state, no more and no less.

The numbers are those that the catalogue and its review give for themselves, plus what
decision 0011 added (`differences.py`). Rules of
the outside world are held against Directive 2014/45/EU, Annex I point 3 (table of the
corrigendum OJ L 219, 22.8.2019, p. 25).
"""

from __future__ import annotations

import networkx as nx
import pytest

from graph.load import load_knowledge
from graph.placing import place_knowledge
from graph.terms import SCOPES, Knowledge
from tests.knowledge import differences
from tests.knowledge.at_first import at_first

#: Attribute -> how many the sources state. Gates: 21 rows of the safety notes.
COUNTS = {
    "codes": 69,
    "findings": 82 + 81 + 14,
    "states": 54 + 5,
    "causes": 115 + 19 + 1,
    "checks": 111 + 33,
    "setups": 10,
    "repairs": 93 + 14,
    "gates": 21,
    "contexts": 34,
    "facts": 50,
    "links": 1340 + 16 + 30 + 111,
    "curves": 7 + 7,
    "confounders": 17,
    "cause_groups": 34,
    "code_families": 20,
    "failure_shares": 79,
    "failure_bytes": 88,
    "status_shares": 22,
    "odds_rules": 15,
    "failure_default": 10,
}
#: What a roadworthiness test calls ABS, electric assist and ESC.
LAMP_ITEMS = ("1.6 ", "2.6 ", "7.12 ")


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    """Return the knowledge that is installed with the program."""
    return load_knowledge()


@pytest.mark.parametrize(("attribute", "count"), COUNTS.items(), ids=COUNTS)
def test_the_count_is_the_stated_one(shipped: Knowledge, attribute: str, count: int) -> None:
    """A row lost or doubled on the way shows here."""
    assert len(getattr(shipped, attribute)) == count


def test_every_collection_is_counted(shipped: Knowledge) -> None:
    """A collection that nobody counts could be empty for ever."""
    counted = {
        name for name in shipped.__dataclass_fields__ if not isinstance(getattr(shipped, name), str)
    }

    assert counted - {"failure_exponent"} == set(COUNTS)


def test_active_and_rejected_links_are_kept_apart(shipped: Knowledge) -> None:
    """1,340 less 10 plus 111 links work; 16 + 10 removed and 30 replaced ones keep a reason."""
    rejected = [link for link in shipped.links if link.deprecated]
    later = {link.id for link in rejected if "decision 0011" in link.deprecated}

    assert len(shipped.links) - len(rejected) == 1340 - 10 + 111
    assert later == differences.LINKS_REJECTED
    assert len(later) == 10
    assert sum("block" in link.deprecated for link in rejected) == 30
    assert sum("block" not in link.deprecated for link in rejected) == 16 + 10


def test_no_rejected_link_is_active_as_well(shipped: Knowledge) -> None:
    """Rejecting a link while the same one works would say nothing."""
    active = {(x.source, x.reach, x.target) for x in shipped.links if not x.deprecated}

    assert not [
        x.id for x in shipped.links if x.deprecated and (x.source, x.reach, x.target) in active
    ]


def test_link_ids_are_numbered_without_a_gap(shipped: Knowledge) -> None:
    """A number is never used again, so the first free one must be plain."""
    assert sorted(link.id for link in shipped.links) == [
        f"lk-{number:04d}" for number in range(1, len(shipped.links) + 1)
    ]


def test_contexts_hold_the_stated_number_of_factors(shipped: Knowledge) -> None:
    """The review states 289 factors, 0011 adds 9; salted roads work through a curve instead."""
    factors = {key: len(context.odds) for key, context in shipped.contexts.items()}

    assert sum(map(len, differences.FACTORS_ADDED.values())) == 9
    assert sum(factors.values()) == 289 + 9
    assert [key for key, count in factors.items() if count == 0] == ["cx-salted-road"]


def test_the_placed_knowledge_has_no_loop(shipped: Knowledge) -> None:
    """The review states 3,049 located links without loops on 833 nodes (we count 834).

    With decision 0011: 3,301 on 861, and still no loop.
    """
    first, placed = place_knowledge(at_first(shipped)), place_knowledge(shipped)
    arrows = nx.DiGraph((a.source, node) for node, into in placed.into.items() for a in into)

    assert (first.links, len(first.nodes)) == (3049, 834)
    assert (placed.links, len(placed.nodes)) == (3301, 861)
    assert nx.is_directed_acyclic_graph(arrows)


def test_shares_of_failure_types_and_status_sum_to_one(shipped: Knowledge) -> None:
    """Shares of exclusive answers are a distribution (the review allows .015 of rounding)."""
    rows = [share.shares for share in shipped.failure_shares]
    rows += [tuple(share.shares.values()) for share in shipped.status_shares]

    assert len(rows) == 79 + 22
    assert [row for row in rows if sum(row) != pytest.approx(1.0, abs=0.015)] == []


def test_lamp_items_are_exactly_major(shipped: Knowledge) -> None:
    """Items 1.6, 2.6 c and 7.12 are major in the Directive, never minor or dangerous."""
    lamp = [c for c in shipped.causes.values() if f"{c.directive_item} ".startswith(LAMP_ITEMS)]

    assert len(lamp) > 20
    assert {cause.deficiency for cause in lamp} == {"major"}


def test_what_must_not_be_driven_is_dangerous_by_a_mechanical_item(shipped: Knowledge) -> None:
    """Safety class S3 and class dangerous belong together, and no lamp carries them."""
    dangerous = {c.id for c in shipped.causes.values() if c.deficiency == "dangerous"}

    assert dangerous == {c.id for c in shipped.causes.values() if c.safety == "S3"}
    assert all(shipped.causes[key].nature == "mechanical" for key in dangerous)
    assert all(shipped.causes[key].directive_item for key in dangerous)


def test_base_rates_are_the_stated_faults_per_car(shipped: Knowledge) -> None:
    """Review 9: 4.1 faults per salted car and 2.5 per dry one, .34 and .18 of them new."""
    assert sum(c.base_salted for c in shipped.causes.values()) == pytest.approx(4.1, abs=0.1)
    assert sum(c.base_dry for c in shipped.causes.values()) == pytest.approx(2.5, abs=0.1)


def test_no_pair_is_as_good_as_chance(shipped: Knowledge) -> None:
    """Review 8.2 (b): sensitivity must exceed the false alarms by more than .1."""
    pairs = [(c.id, d) for c in shipped.checks.values() for d in c.detects]

    assert len(pairs) > 300
    assert [key for key, d in pairs if d.sensitivity <= 1.0 - d.specificity + 0.1 + 1e-9] == []


def test_every_cause_can_be_seen_by_a_check(shipped: Knowledge) -> None:
    """A cause is seen itself or through a state it makes; two only by asking and scanning."""
    seen = {d.target for c in shipped.checks.values() if c.kind != "intake" for d in c.detects}
    inner = [x for x in shipped.links if not x.deprecated and x.target.startswith(("st-", "rc-"))]
    for _ in range(6):  # no chain of states is longer
        seen |= {link.source for link in inner if link.target in seen}

    assert set(shipped.causes) - seen == {"rc-engine-fault-upstream", "rc-normal-operation"}


def test_every_cause_can_be_repaired(shipped: Knowledge) -> None:
    """A cause without a repair would leave a technician with a finding and no job."""
    assert set(shipped.causes) == {key for r in shipped.repairs.values() for key in r.fixes}


def test_the_part_that_a_code_names_is_marked_as_a_part(shipped: Knowledge) -> None:
    """Sensor-first asks about exactly these."""
    named = {code.part for code in shipped.codes.values()} - {""}

    assert named == {cause.id for cause in shipped.causes.values() if cause.is_part}
    assert len(named) == 10


def test_one_number_with_two_meanings_keeps_both(shipped: Knowledge) -> None:
    """C0040 is right-front wheel speed in one layout and the brake switch in the other."""
    meanings = {
        code.id for code in shipped.codes.values() if "C0040" in (code.notation, *code.earlier)
    }

    assert meanings == {"dtc-wss-rf", "dtc-brake-sw-a"}


def test_a_check_covers_places_that_its_targets_can_have(shipped: Knowledge) -> None:
    """A rear check must not promise to find a front joint only."""
    scopes = {key: cause.scope for key, cause in shipped.causes.items()}
    scopes |= {key: state.scope for key, state in shipped.states.items()}
    corners = {"front": {"lf", "rf"}, "rear": {"lr", "rr"}}

    def wheels(scope: str) -> set[str]:
        places = SCOPES[scope]
        return {w for p in places for w in corners.get(p, {p} if p != "vehicle" else set())}

    for check in shipped.checks.values():
        for pair in check.detects:
            reach, scope = wheels(check.per), wheels(scopes[pair.target])
            assert not reach or not scope or reach & scope, (check.id, pair.target)


def test_states_that_are_gates_open_them(shipped: Knowledge) -> None:
    """Catalogue g.9: a risk of losing a wheel, a joint or the brakes is a gate."""
    for state in (s for s in shipped.states.values() if s.gate):
        triggers = shipped.gates[state.gate].triggers
        assert any(state.id in trigger.verdicts for trigger in triggers), state.id
        assert any(trigger.chance_of == state.id for trigger in triggers), state.id

    assert sum(bool(state.gate) for state in shipped.states.values()) == 3


def test_a_gate_has_a_way_to_open_and_its_closing_words(shipped: Knowledge) -> None:
    """A gate that nothing opens guards nothing; one that nothing closes stops the job."""
    for gate in shipped.gates.values():
        assert gate.triggers or gate.always, gate.id
        assert gate.closes_how, gate.id
        assert gate.basis, gate.id
        assert gate.stage != "road-test" or gate.closes_on, gate.id


def test_the_design_names_of_two_facts_are_aliases(shipped: Knowledge) -> None:
    """Documents may use either name."""
    aliases = {name: fact.id for fact in shipped.facts.values() for name in fact.aliases}

    assert aliases == {
        "vf-active-wheel-sensors": "vf-wss-active",
        "vf-strut-front": "vf-front-strut",
    }
