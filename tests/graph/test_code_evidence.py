"""Codes: meanings in two layouts, status, failure type, and what they weigh."""

from __future__ import annotations

import math

import pytest

from graph.build import compile_case
from graph.case import CaseInput, CodeRead, FindingSeen, Vehicle
from graph.code_evidence import LIMIT
from graph.compiled import CompiledCase
from graph.load import load_knowledge
from graph.terms import CauseGroup, Fact, FailureByte, FailureShare, Knowledge, StatusShare
from tests.graph.small import cause, code, finding, link, small
from triage.errors import CodeFormatError, UnknownTermError

STATUS = {
    "active-static": 0.5,
    "active-drive": 0.1,
    "intermittent": 0.25,
    "pending": 0.05,
    "history": 0.1,
}
OTHER = {**STATUS, "active-static": 0.1, "active-drive": 0.2, "intermittent": 0.55}


def read(knowledge: Knowledge, *codes: CodeRead, **case: object) -> CompiledCase:
    """Return the compiled case of some codes."""
    return compile_case(knowledge, CaseInput(codes=codes, **case))  # type: ignore[arg-type]


WHEELS = small(
    [link("rc-s", "global", "dtc-wheel"), link("rc-t", "global", "dtc-switch")],
    cause("rc-s", is_part=True),
    cause("rc-t"),
    code("dtc-wheel", "C0034", earlier=("C0040",), part="rc-s"),
    code("dtc-switch", "C0040", earlier=("C0161",)),
    code("dtc-left", "C0031", earlier=("C0035",)),
    code("dtc-old", "", earlier=("C0245",)),
    facts={
        "vf-layout-early": Fact("vf-layout-early", "", "Layout?"),
        "vf-layout-late": Fact("vf-layout-late", "", "Layout?"),
    },
)


def test_a_code_is_present_and_names_its_part() -> None:
    """The part is what the parts swapper would buy."""
    compiled = read(WHEELS, CodeRead("C0034"))

    assert compiled.evidence == {"dtc-wheel": True}
    assert compiled.parts == ("rc-s",)
    assert compiled.complaint == {"dtc-wheel"}


@pytest.mark.parametrize(
    ("given", "node"),
    [
        (CodeRead("C0040", layout="current"), "dtc-switch"),
        (CodeRead("C0040", layout="earlier"), "dtc-wheel"),
        (CodeRead("C0040", meaning="dtc-wheel"), "dtc-wheel"),
        (CodeRead("C0245"), "dtc-old"),
    ],
)
def test_a_layout_or_a_person_settles_the_meaning(given: CodeRead, node: str) -> None:
    """One number, two meanings, by the layout (numbers from memory of both)."""
    compiled = read(WHEELS, given)

    assert compiled.evidence == {node: True}
    assert compiled.questions == ()


def test_an_open_layout_keeps_both_meanings_and_asks() -> None:
    """Never triage from the bare number."""
    compiled = read(WHEELS, CodeRead("C0040", "13"))
    node = compiled.network.nodes["code-C0040"]

    assert compiled.evidence == {"code-C0040": True}
    assert {(p.id, p.strength) for p in node.parents} == {("dtc-switch", 1.0), ("dtc-wheel", 1.0)}
    assert node.base == 0.0
    assert "C0040 means dtc-switch or dtc-wheel" in compiled.questions[0]


@pytest.mark.parametrize(
    ("fact", "node"), [("vf-layout-early", "dtc-wheel"), ("vf-layout-late", "dtc-switch")]
)
def test_a_fact_settles_the_layout(fact: str, node: str) -> None:
    """The layout is a property of the car."""
    compiled = read(WHEELS, CodeRead("C0040"), vehicle=Vehicle(facts=(fact,)))

    assert compiled.evidence == {node: True}


def test_a_sure_number_of_one_layout_settles_its_module_only() -> None:
    """C0031 exists in the current layout only, so the same module's C0040 is the switch."""
    same = read(WHEELS, CodeRead("C0031", module="abs"), CodeRead("C0040", module="abs"))
    other = read(WHEELS, CodeRead("C0031", module="abs"), CodeRead("C0040", module="x"))

    assert set(same.evidence) == {"dtc-left", "dtc-switch"}
    assert set(other.evidence) == {"dtc-left", "code-C0040"}


def test_a_meaning_that_the_code_cannot_have_is_refused() -> None:
    """A picked meaning must be one of those offered."""
    with pytest.raises(UnknownTermError, match="unknown meaning 'dtc-old'"):
        read(WHEELS, CodeRead("C0040", meaning="dtc-old"))


def test_a_number_without_meaning_in_the_stated_layout_is_asked_about() -> None:
    """The layout may be stated wrongly."""
    compiled = read(WHEELS, CodeRead("C0031", layout="earlier"))

    assert "no meaning in the earlier layout" in compiled.questions[0]


@pytest.mark.parametrize(
    ("text", "note"),
    [("C1234", "fixed by the maker"), ("C3456", "reserved"), ("C0999", "no entry")],
)
def test_a_code_without_meaning_is_kept_as_text(text: str, note: str) -> None:
    """The tool must not invent a meaning."""
    compiled = read(WHEELS, CodeRead(text))

    assert compiled.evidence == {}
    assert any(note in line for line in compiled.notes)


def test_what_is_no_code_is_refused() -> None:
    """A typing slip is named."""
    with pytest.raises(CodeFormatError, match="no trouble code in 'C05'"):
        read(WHEELS, CodeRead("C05"))


@pytest.mark.parametrize(
    ("status", "evidence"),
    [("2F", True), ("28", True), ("26", True), ("50", None), ("00", False), ("", True)],
)
def test_the_status_byte_says_whether_a_code_is_there(status: str, evidence: bool | None) -> None:
    """ISO 14229-1: 50 = test not run, which is no evidence; 00 = run and passed, absent."""
    compiled = read(WHEELS, CodeRead("C0034", status=status))

    assert compiled.evidence.get("dtc-wheel") is evidence


def shares(**more: object) -> Knowledge:
    """Return a lead and a hub that can make one code, with shares for its type."""
    lead, hub = [0.0] * 10, [0.0] * 10
    lead[1], lead[0], hub[1], hub[2] = 0.8, 0.2, 0.2, 0.8
    parts: dict[str, object] = {
        "cause_groups": {k: CauseGroup(k, (f"rc-{k[3:]}",)) for k in ("fg-lead", "fg-hub")},
        "failure_shares": (
            FailureShare("fg-lead", "wss", tuple(lead)),
            FailureShare("fg-hub", "wss", tuple(hub)),
        ),
        "failure_default": (0.1,) * 10,
        **more,
    }
    return small(
        [link("rc-lead", "same-corner", "dtc-w-*", 0.5), link("rc-hub", "same-corner", "dtc-w-*")],
        cause("rc-lead", "corner"),
        cause("rc-hub", "corner"),
        *(
            code(
                f"dtc-w-{place}",
                f"C000{n}",
                place=place,
                family="dtc-w",
                failure_family="wss",
                leak=0.0,
            )
            for n, place in enumerate(("lf", "rf", "lr", "rr"))
        ),
        **parts,
    )


def test_a_failure_type_weighs_by_share_over_average() -> None:
    """By hand: average (.8 + .2) / 2 = .5; ratios 1.6 and .4, at half strength their roots.

    With equal priors p and strengths s = .5 the blame is s / (s + (1 - s) p s).
    """
    compiled = read(shares(), CodeRead("C0000", "11"))
    p = compiled.network.nodes["rc-lead@lf"].base
    blame = 0.5 / (0.5 + 0.5 * p * 0.5)

    assert compiled.evidence == {
        "dtc-w-lf": True,
        "rc-lead@lf": pytest.approx(1 + blame * (math.sqrt(1.6) - 1)),
        "rc-hub@lf": pytest.approx(1 + blame * (math.sqrt(0.4) - 1)),
    }


@pytest.mark.parametrize("byte", ["", "00"])
def test_no_failure_type_is_no_weight(byte: str) -> None:
    """A tool that shows none says nothing."""
    assert read(shares(), CodeRead("C0000", byte)).evidence == {"dtc-w-lf": True}


def test_a_byte_with_its_own_factors_is_used_instead_of_its_category() -> None:
    """Its factor 4 at half strength is 2, less the part of the blame that is not its own."""
    knowledge = shares(failure_bytes=(FailureByte("11", "wss", {"rc-lead": 4.0}),))
    compiled = read(knowledge, CodeRead("C0000", "11"))
    p = compiled.network.nodes["rc-lead@lf"].base

    assert compiled.evidence == {
        "dtc-w-lf": True,
        "rc-lead@lf": pytest.approx(1 + 0.5 / (0.5 + 0.25 * p)),
    }


def test_a_cause_that_hardly_reaches_the_code_is_hardly_judged_by_its_type() -> None:
    """The code is almost surely another's, so its type says almost nothing of this cause."""
    knowledge = small(
        [link("rc-a", "global", "dtc-a", 0.001), link("rc-b", "global", "dtc-a", 0.9)],
        cause("rc-a"),
        cause("rc-b"),
        code("dtc-a", "C0051", failure_family="sas"),
        failure_bytes=(FailureByte("64", "sas", {"rc-a": 16.0}),),
        failure_default=(0.1,) * 10,
    )
    ratio = read(knowledge, CodeRead("C0051", "64")).evidence["rc-a"]

    assert 1.0 < ratio < 1.05


def test_a_cause_behind_another_cause_is_left_to_it() -> None:
    """A rough bearing sets the code through the play it becomes."""
    knowledge = small(
        [link("rc-rough", "global", "rc-play"), link("rc-play", "global", "dtc-a")],
        cause("rc-rough"),
        cause("rc-play"),
        code("dtc-a", "C0051", failure_family="sas"),
        failure_bytes=(FailureByte("64", "sas", {"rc-rough": 16.0, "rc-play": 4.0}),),
        failure_default=(0.1,) * 10,
    )

    assert set(read(knowledge, CodeRead("C0051", "64")).evidence) == {"dtc-a", "rc-play"}


def test_an_internal_failure_at_low_voltage_is_not_weighed() -> None:
    """Set while cranking, it means nothing until it comes back on good supply."""
    knowledge = small(
        [link("rc-a", "global", "dtc-a")],
        cause("rc-a"),
        code("dtc-a", "C0051", failure_family="sas"),
        finding("sy-ff-low-voltage", group="freeze-frame"),
        failure_bytes=(FailureByte("49", "sas", {"rc-a": 4.0}),),
        failure_default=(0.1,) * 10,
    )
    low = (FindingSeen("sy-ff-low-voltage", "present"),)

    assert "rc-a" in read(knowledge, CodeRead("C0051", "49")).evidence
    assert "rc-a" not in read(knowledge, CodeRead("C0051", "49"), findings=low).evidence


def status_shares() -> Knowledge:
    """Return the two causes with shares for the status instead of the type."""
    return shares(
        failure_default=(),
        status_shares=(
            StatusShare("ss-lead", ("rc-lead",), STATUS),
            StatusShare("ss-hub", ("rc-hub",), OTHER),
        ),
    )


@pytest.mark.parametrize(
    ("status", "lead", "hub"),
    [
        ("2F", 0.6, 0.3),  # active: static and drive
        ("48", 0.35, 0.75),  # not run this cycle: the drive is still to be made
        ("0A", 0.25, 0.55),  # failed this cycle, not now
        ("24", 0.05, 0.05),  # pending
        ("28", 0.1, 0.1),  # passed this cycle
    ],
)
def test_the_status_weighs_at_full_strength(status: str, lead: float, hub: float) -> None:
    """By hand: share over the average of two equally likely causes."""
    compiled = read(status_shares(), CodeRead("C0000", status=status))
    p = compiled.network.nodes["rc-lead@lf"].base
    blame, average = 0.5 / (0.5 + 0.25 * p), (lead + hub) / 2

    for node, share in (("rc-lead@lf", lead), ("rc-hub@lf", hub)):
        expected = 1 + blame * (share / average - 1)
        assert compiled.evidence.get(node, 1.0) == pytest.approx(expected, abs=0.005)


def test_companions_of_the_one_lamp_owner_count_half() -> None:
    """Bit 7 set on one code only: the other's log ratio is halved."""
    owner, other = CodeRead("C0000", status="AF"), CodeRead("C0001", status="2F")
    alone = read(status_shares(), other).evidence["rc-lead@rf"]
    both = read(status_shares(), owner, other).evidence["rc-lead@rf"]
    two = read(status_shares(), owner, CodeRead("C0001", status="AF")).evidence["rc-lead@rf"]

    assert math.log(both) == pytest.approx(math.log(alone) / 2)
    assert two == pytest.approx(alone)


def test_types_of_all_codes_together_are_held_at_the_limit() -> None:
    """Three bytes that each speak twelvefold for one cause do not make it certain."""
    knowledge = small(
        [link("rc-a", "global", f"dtc-{n}", 0.9) for n in range(3)],
        cause("rc-a", base=0.01),
        *(code(f"dtc-{n}", f"C000{n}", failure_family="sas", leak=0.0) for n in range(3)),
        failure_bytes=(FailureByte("64", "sas", {"rc-a": 144.0}),),
        failure_default=(0.1,) * 10,
    )
    compiled = read(knowledge, *(CodeRead(f"C000{n}", "64") for n in range(3)))

    assert compiled.evidence["rc-a"] == pytest.approx(LIMIT)


def test_two_modules_with_one_code_are_one_observation() -> None:
    """The code is one node; its ratio is the mean of the two, not their product."""
    once = read(shares(), CodeRead("C0000", "11", module="abs"))
    twice = read(
        shares(), CodeRead("C0000", "11", module="abs"), CodeRead("C0000", "11", module="pcm")
    )

    assert twice.evidence == pytest.approx(once.evidence)
    assert len(twice.items) == 1


def test_leaving_a_code_out_leaves_its_type_and_status_out() -> None:
    """One item holds everything that one code says."""
    compiled = read(status_shares(), CodeRead("C0000", "11", "2F"))

    assert {node for node, _value in compiled.items[0].contributions} == set(compiled.evidence)


def test_failure_types_of_the_shipped_knowledge_point_the_way_the_trade_does() -> None:
    """An open circuit is the lead, a wrong comparison the tyre (common practice, no source)."""
    knowledge = load_knowledge()
    circuit = read(knowledge, CodeRead("C0031", "13", "AF")).evidence
    compared = read(knowledge, CodeRead("C0031", "62", "AF")).evidence

    assert circuit["rc-wss-harness-chafed@lf"] > 1 > circuit["rc-bearing-play@lf"]
    assert compared["rc-tyre-size-mismatch@lf"] > 1 > compared["rc-wss-harness-chafed@lf"]
    assert not any(node.endswith("@rr") and node.startswith("rc-wss-h") for node in circuit)
