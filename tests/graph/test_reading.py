"""Reading findings: present, absent, somewhere, and one memory told twice."""

from __future__ import annotations

import pytest

from graph.build import compile_case
from graph.case import CaseInput, FindingSeen
from graph.compiled import CompiledCase
from graph.terms import Context, Finding, Knowledge, OddsRule
from tests.graph.small import cause, finding, link, small, state
from triage.errors import (
    ContradictionError,
    DocumentError,
    PlaceError,
    UnknownTermError,
)

WEAR = small(
    [link("rc-a", "same-corner", "sy-wear"), link("rc-a", "global", "sy-hum")],
    cause("rc-a", "corner"),
    finding("sy-wear", "corner", group="wear"),
    finding("sy-hum", group="noise"),
    state("st-lash"),
)


def read(knowledge: Knowledge, *findings: FindingSeen, **case: object) -> CompiledCase:
    """Return the compiled case of some findings."""
    return compile_case(knowledge, CaseInput(findings=findings, **case))  # type: ignore[arg-type]


def test_a_placed_finding_is_evidence_at_its_place() -> None:
    """Wear at the left rear says nothing of the other three."""
    compiled = read(WEAR, FindingSeen("sy-wear", "present", "lr"))

    assert compiled.evidence == {"sy-wear@lr": True}


def test_unknown_is_no_evidence() -> None:
    """Absent is evidence, unknown is not."""
    assert read(WEAR, FindingSeen("sy-hum", "unknown")).evidence == {}


@pytest.mark.parametrize(
    ("place", "node", "parents"),
    [
        (None, "sy-wear@somewhere", ["lf", "rf", "lr", "rr"]),
        ("rear", "sy-wear@rear", ["lr", "rr"]),
        ("left", "sy-wear@left", ["lf", "lr"]),
    ],
)
def test_present_somewhere_is_a_certain_or_over_the_places(
    place: str | None, node: str, parents: list[str]
) -> None:
    """The node is on exactly when one of the places is: strength 1, leak 0."""
    compiled = read(WEAR, FindingSeen("sy-wear", "present", place))
    either = compiled.network.nodes[node]

    assert compiled.evidence == {node: True}
    assert either.base == 0.0
    assert {(p.id, p.strength) for p in either.parents} == {(f"sy-wear@{p}", 1.0) for p in parents}


def test_absent_without_place_is_absent_everywhere() -> None:
    """Nobody saw it anywhere."""
    compiled = read(WEAR, FindingSeen("sy-wear", "absent"))

    assert compiled.evidence == dict.fromkeys(
        ("sy-wear@lf", "sy-wear@rf", "sy-wear@lr", "sy-wear@rr"), False
    )
    assert compiled.complaint == frozenset()


def test_somewhere_leaves_out_the_places_where_it_is_absent() -> None:
    """Present at the rear and not at the right rear is present at the left rear."""
    compiled = read(
        WEAR, FindingSeen("sy-wear", "present", "rear"), FindingSeen("sy-wear", "absent", "rr")
    )

    assert compiled.evidence == {"sy-wear@lr": True, "sy-wear@rr": False}


def test_a_narrower_place_of_a_finding_of_the_whole_car_is_a_hint() -> None:
    """Customers say "from the back left"; where a hum is heard is not where it is."""
    wide = read(WEAR, FindingSeen("sy-hum", "present"))
    told = read(WEAR, FindingSeen("sy-hum", "present", "lr"))

    assert told.evidence == wide.evidence == {"sy-hum": True}
    assert [item.key for item in told.items] == ["sy-hum"]
    assert told.complaint == {"sy-hum"}
    assert [note for note in told.notes if note not in wide.notes] == [
        "sy-hum@lr present: the place is kept as a hint and not used as evidence; "
        "it counts as sy-hum of the whole car"
    ]


def test_a_finding_told_twice_counts_once() -> None:
    """With and without its place it is one memory."""
    compiled = read(WEAR, FindingSeen("sy-hum", "present"), FindingSeen("sy-hum", "present", "lr"))

    assert [item.key for item in compiled.items] == ["sy-hum"]


def test_absent_at_a_narrower_place_says_nothing_of_the_whole_car() -> None:
    """A hum from the back and none from the front is no contradiction."""
    compiled = read(
        WEAR, FindingSeen("sy-hum", "present", "rear"), FindingSeen("sy-hum", "absent", "front")
    )

    assert compiled.evidence == {"sy-hum": True}
    assert any(
        "sy-hum@front absent" in note and "absent there only" in note for note in compiled.notes
    )


def test_a_state_can_be_observed() -> None:
    """Lash felt at the rim is a state, and nobody complained of it."""
    compiled = read(WEAR, FindingSeen("st-lash", "present"), FindingSeen("sy-hum", "present"))

    assert compiled.evidence["st-lash"] is True
    assert compiled.complaint == {"sy-hum"}


@pytest.mark.parametrize(
    ("findings", "error", "match"),
    [
        (("sy-hum", "present", "fl"), PlaceError, "'sy-hum' cannot be at place 'fl'.*vehicle"),
        (("st-lash", "present", "lf"), PlaceError, "'st-lash' cannot be at place 'lf'.*vehicle"),
        (("sy-wear", "present", "up"), PlaceError, "'up'.*lf, rf, lr, rr, front, rear, left"),
        (("sy-hun", "present", None), UnknownTermError, "unknown finding 'sy-hun'.*'sy-hum'"),
        (("rc-a", "present", None), UnknownTermError, "unknown finding 'rc-a'"),
        (("sy-hum", "maybe", None), DocumentError, "state 'maybe'.*present, absent, unknown"),
    ],
)
def test_a_finding_that_cannot_be_is_refused(
    findings: tuple[str, str, str | None], error: type[Exception], match: str
) -> None:
    """The message names what is allowed."""
    with pytest.raises(error, match=match):
        read(WEAR, FindingSeen(*findings))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (FindingSeen("sy-hum", "present"), FindingSeen("sy-hum", "absent")),
        (FindingSeen("sy-wear", "present", "lf"), FindingSeen("sy-wear", "absent")),
    ],
    ids=["same place", "absent everywhere"],
)
def test_present_and_absent_of_one_thing_contradict(
    first: FindingSeen, second: FindingSeen
) -> None:
    """Two statements that cannot both hold are refused."""
    with pytest.raises(ContradictionError, match="is stated as present"):
        read(WEAR, first, second)


SINCE = small(
    [link("rc-a", "global", key) for key in ("sy-after", "sy-since-tyres", "sy-in", "sy-out")],
    cause("rc-a"),
    Finding("sy-after", "", "vehicle"),
    Finding("sy-since-tyres", "", "vehicle", specific_of="sy-after"),
    Finding("sy-in", "", "vehicle", choice="ch-edge"),
    Finding("sy-out", "", "vehicle", choice="ch-edge"),
    contexts={"cx-tyres-recent": Context("cx-tyres-recent", "", {"rc-a": 2.0})},
    odds_rules=(OddsRule("or-1", "rc-a", 2.0, "x", present=("sy-in",), replaces="sy-in"),),
)


def test_of_one_memory_told_twice_the_closer_one_counts() -> None:
    """Since tyres and after service are one memory."""
    both = read(SINCE, FindingSeen("sy-after", "present"), FindingSeen("sy-since-tyres", "present"))
    neither = read(
        SINCE, FindingSeen("sy-after", "absent"), FindingSeen("sy-since-tyres", "absent")
    )

    assert both.evidence == {"sy-since-tyres": True}
    assert neither.evidence == {"sy-after": False}


def test_a_finding_is_not_scored_beside_the_context_that_says_the_same() -> None:
    """The context has moved the priors already."""
    compiled = read(SINCE, FindingSeen("sy-since-tyres", "present"), context=("cx-tyres-recent",))

    assert compiled.evidence == {}
    assert any("cx-tyres-recent has moved the priors" in note for note in compiled.notes)


def test_the_answers_not_chosen_are_no_evidence_of_their_own() -> None:
    """Outer edge worn and inner edge not are one answer to one question."""
    chosen = read(SINCE, FindingSeen("sy-out", "present"), FindingSeen("sy-in", "absent"))
    none = read(SINCE, FindingSeen("sy-out", "absent"), FindingSeen("sy-in", "absent"))

    assert chosen.evidence == {"sy-out": True}
    assert none.evidence == {"sy-out": False, "sy-in": False}


def test_a_finding_that_a_rule_weighed_is_left_unscored() -> None:
    """Its factor is in the prior; scoring it again would count it twice."""
    assert read(SINCE, FindingSeen("sy-in", "present")).evidence == {}
