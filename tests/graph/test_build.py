"""Compiling a case: small cars worked out by hand, then the shipped knowledge."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from graph.build import compile_case, compile_network
from graph.case import (
    CaseInput,
    CodeRead,
    FindingSeen,
    Vehicle,
    VerdictGiven,
)
from graph.compiled import EvidenceItem, combine
from graph.load import load_knowledge
from graph.terms import Detects, Fact, FactEffect, Knowledge
from tests.graph.small import cause, check, code, finding, link, small, state
from triage.errors import ContradictionError
from triage.model import Network

PRACTICE = Path(__file__).parents[2] / "fixtures" / "practice"


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    """Return the shipped knowledge, read once."""
    return load_knowledge()


def joints() -> Knowledge:
    """Return a worn joint, its play, a clunk, and two checks."""
    return small(
        [link("rc-joint", "same-corner", "st-play", 0.8), link("st-play", "global", "sy-clunk")],
        cause("rc-joint", "front-corner"),
        state("st-play", "front-corner", leak=0.05),
        finding("sy-clunk", leak_salted=0.02),
        check("ck-rock", "corner", "located", Detects("rc-joint", 0.8, 0.9)),
        check("ck-drive", "vehicle", "one-verdict", Detects("st-play", 0.7, 0.95)),
        check("ck-ask", "vehicle", "intake"),
    )


def test_a_car_of_which_nothing_is_known_has_every_node_and_every_check() -> None:
    """An unknown fact excludes nothing."""
    compiled = compile_case(joints(), CaseInput())

    assert set(compiled.network.nodes) == {
        "rc-joint@lf",
        "rc-joint@rf",
        "st-play@lf",
        "st-play@rf",
        "sy-clunk",
        "ck-drive",
    }
    assert [(item.id, item.place) for item in compiled.checks] == [
        ("ck-rock", "lf"),
        ("ck-rock", "rf"),
        ("ck-drive", "vehicle"),
    ]
    assert compiled.intake == ("ck-ask",)
    assert compiled.evidence == {}


def test_a_doing_without_targets_is_not_offered() -> None:
    """A corner check of a front-only joint has nothing to do at the rear."""
    places = {item.place for item in compile_case(joints(), CaseInput()).checks}

    assert places == {"lf", "rf", "vehicle"}


def test_a_one_verdict_node_holds_net_strengths_and_a_leak() -> None:
    """A sensitivity of .7 contains the false alarms of .05: net 1 - .3/.95."""
    node = compile_case(joints(), CaseInput()).network.nodes["ck-drive"]

    assert node.base == pytest.approx(0.05, abs=1e-12)
    assert [p.strength for p in node.parents] == pytest.approx([1 - 0.3 / 0.95] * 2, abs=1e-12)


def test_the_one_verdict_node_gives_the_sensitivity_back() -> None:
    """P(found | it alone is there) is the number that was written down."""
    node = compile_case(joints(), CaseInput()).network.nodes["ck-drive"]

    assert 1 - (1 - node.base) * (1 - node.parents[0].strength) == pytest.approx(0.7, abs=1e-12)


def test_the_complaint_is_codes_and_told_findings_not_verdicts() -> None:
    """Responsibility asks for a part in what the customer came for."""
    knowledge = small(
        [
            link("rc-a", "global", "dtc-a"),
            link("rc-a", "global", "sy-a"),
            link("rc-a", "global", "sy-rust"),
        ],
        cause("rc-a"),
        code("dtc-a", "C0051"),
        finding("sy-a", group="noise"),
        finding("sy-rust", group="seen"),
        check("ck-a", "vehicle", "located", Detects("rc-a", 0.8, 0.9)),
    )
    case = CaseInput(
        codes=(CodeRead("C0051"),),
        findings=(FindingSeen("sy-a", "present"), FindingSeen("sy-rust", "present")),
        verdicts=(VerdictGiven("ck-a", "found"),),
    )
    compiled = compile_case(knowledge, case)

    assert compiled.complaint == {"dtc-a", "sy-a"}
    assert compiled.evidence == {
        "dtc-a": True,
        "sy-a": True,
        "sy-rust": True,
        "rc-a": pytest.approx(8.0),
    }


def test_a_walk_round_sight_stands_in_when_nothing_was_complained_of() -> None:
    """Something brought the car in."""
    knowledge = small(
        [link("rc-a", "global", "sy-rust")], cause("rc-a"), finding("sy-rust", group="seen")
    )
    compiled = compile_case(knowledge, CaseInput(findings=(FindingSeen("sy-rust", "present"),)))

    assert compiled.complaint == {"sy-rust"}


def test_ratios_on_one_node_multiply_and_a_sight_outweighs_them() -> None:
    """Bayes: independent ratios multiply; a thing that was seen needs no ratio."""
    ratio = EvidenceItem("a", "verdict", (("rc-a", 4.0),), in_complaint=False)
    other = EvidenceItem("b", "verdict", (("rc-a", 0.5),), in_complaint=False)
    seen = EvidenceItem("c", "finding", (("rc-a", True),), in_complaint=False)

    assert combine([ratio, other]) == {"rc-a": 2.0}
    assert combine([ratio, seen]) == {"rc-a": True}
    with pytest.raises(ContradictionError, match="'rc-a' is stated as present and as absent"):
        combine([seen, EvidenceItem("d", "finding", (("rc-a", False),), in_complaint=False)])


def test_a_stated_fact_removes_a_term_its_links_and_its_check() -> None:
    """What such a car cannot have is gone, not just unlikely."""
    fact = Fact("vf-x", "x", "Which?", (FactEffect("rc-joint"), FactEffect("ck-drive")))
    knowledge = small(
        joints().links,
        *joints().causes.values(),
        *joints().states.values(),
        *joints().findings.values(),
        *joints().checks.values(),
        facts={"vf-x": fact},
    )
    compiled = compile_case(knowledge, CaseInput(Vehicle(facts=("vf-x",))))

    assert set(compiled.network.nodes) == {"st-play@lf", "st-play@rf", "sy-clunk"}
    assert compiled.checks == ()


def test_a_code_that_a_fact_rules_out_is_left_out_and_asked_about() -> None:
    """Either the fact or the code is wrong, and a person must say which."""
    knowledge = small(
        [link("rc-a", "global", "dtc-a")],
        cause("rc-a"),
        code("dtc-a", "C0051"),
        facts={"vf-x": Fact("vf-x", "x", "Which?", (FactEffect("dtc-a"),))},
    )
    case = CaseInput(Vehicle(facts=("vf-x",)), codes=(CodeRead("C0051"),))
    compiled = compile_case(knowledge, case)

    assert compiled.evidence == {}
    assert "vf-x this car cannot have dtc-a" in compiled.questions[0]


def test_an_answered_check_is_not_offered_again() -> None:
    """Re-planning must not send the technician twice."""
    case = CaseInput(verdicts=(VerdictGiven("ck-rock", "cant-tell", "lf"),))
    compiled = compile_case(joints(), case)

    assert [(i.id, i.place) for i in compiled.checks] == [
        ("ck-rock", "rf"),
        ("ck-drive", "vehicle"),
    ]
    assert compiled.evidence == {}


def test_an_intake_check_with_a_verdict_is_done() -> None:
    """Intake has no weight of its own, it is only ticked off."""
    compiled = compile_case(joints(), CaseInput(verdicts=(VerdictGiven("ck-ask", "found"),)))

    assert compiled.intake == ()
    assert compiled.evidence == {}


def test_a_network_alone_can_be_compiled() -> None:
    """The export needs no case."""
    assert (
        compile_network(joints()).to_document()
        == compile_case(joints(), CaseInput()).network.to_document()
    )


def test_the_shipped_knowledge_compiles_for_a_car_of_which_nothing_is_known(
    shipped: Knowledge,
) -> None:
    """861 placed nodes, and one node for each doing of a check with one verdict."""
    compiled = compile_case(shipped, CaseInput())
    verdicts = {item.verdicts[0].node for item in compiled.checks} - {None}

    assert len(compiled.network.nodes) == 861 + len(verdicts)
    assert {item.setup for item in compiled.checks} <= set(shipped.setups)
    assert all(0.0 < v.p_found_if_off < 1.0 for i in compiled.checks for v in i.verdicts)
    assert all(0.0 < compiled.network.nodes[c].base < 0.5 for c in compiled.network.causes)


def practice_case(document: dict[str, object]) -> CaseInput:
    """Return the values of a practice document, read by hand here."""
    vehicle, codes, findings = (document[key] for key in ("vehicle", "codes", "findings"))
    assert isinstance(vehicle, dict)
    assert isinstance(codes, list)
    assert isinstance(findings, list)
    vehicle.pop("label")
    context = document["context"]
    assert isinstance(context, list)
    return CaseInput(
        Vehicle(**{**vehicle, "facts": tuple(vehicle["facts"])}),
        tuple(context),
        tuple(CodeRead(**row) for row in codes),
        tuple(FindingSeen(row["id"], row["state"], row.get("place")) for row in findings),
    )


FILES = sorted((PRACTICE / "cases").glob("*.json"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_practice_case_compiles_and_its_truth_is_among_the_nodes(
    path: Path, shipped: Knowledge
) -> None:
    """Places, ids and contexts of the documents fit the knowledge; nothing is left to ask."""
    document = json.loads(path.read_text(encoding="utf-8"))
    compiled = compile_case(shipped, practice_case(document))
    truth = json.loads((PRACTICE / "truth.json").read_text(encoding="utf-8"))[path.stem]

    assert set(truth["causes"]) <= set(compiled.network.causes)
    assert compiled.complaint
    assert compiled.questions == ()
    assert all(
        isinstance(value, bool) or math.isfinite(value) for value in compiled.evidence.values()
    )


def test_all_practice_cases_were_collected() -> None:
    """A glob that finds nothing would pass silently."""
    assert len(FILES) == 24


def test_the_network_of_the_shipped_knowledge_survives_its_own_document(shipped: Knowledge) -> None:
    """What is exported is what is computed."""
    network = compile_network(shipped)

    assert Network.from_document(network.to_document()).nodes == network.nodes
