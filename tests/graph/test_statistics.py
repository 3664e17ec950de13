"""Counts of the knowledge, against a knowledge that can be counted by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from graph.kinds import KINDS, PROVENANCE
from graph.load import load_knowledge, shipped_folder
from graph.statistics import BASES, statistics
from graph.terms import Provenance

MINIMAL = Path(__file__).parents[2] / "fixtures" / "minimal"


def test_the_minimal_knowledge_is_counted_as_by_hand() -> None:
    """Eight short files, read by eye."""
    seen = statistics(load_knowledge(MINIMAL))

    assert seen.version == "minimal-1"
    assert {name: count for name, count in seen.counts.items() if count} == {
        "Code": 1,
        "Finding": 1,
        "State": 1,
        "Cause": 2,
        "Link": 4,
        "Setup": 2,
        "Check": 3,
        "Repair": 2,
        "Gate": 1,
        "Context": 1,
        "Fact": 1,
        "CodeFamily": 1,
    }


def test_coverage_of_the_minimal_knowledge_is_as_by_hand() -> None:
    """The hub cause reaches code and hum through the state; the intake check counts for nobody."""
    seen = statistics(load_knowledge(MINIMAL))
    hub, sensor = seen.by_cause
    (wheel_speed,) = seen.by_code

    assert (hub.group, hub.codes, hub.findings, hub.causes, hub.checks) == ("hub", 1, 1, 1, 1)
    assert hub.no_check == ("rc-bearing-play",)
    assert (sensor.codes, sensor.findings, sensor.no_check) == (1, 0, ())
    assert (wheel_speed.codes, wheel_speed.causes, wheel_speed.checks) == (1, 2, 2)


def test_a_rejected_link_covers_nothing() -> None:
    """It stays on record, but no cause leads anywhere by it."""
    knowledge = load_knowledge(MINIMAL)
    last = replace(knowledge.links[3], deprecated="was wrong")
    seen = statistics(replace(knowledge, links=(*knowledge.links[:3], last)))

    assert (seen.counts["Link"], seen.deprecated) == (3, 1)
    assert seen.by_code[0].causes == 1
    assert sum(seen.strengths) == 3


def test_strengths_fall_into_the_tenth_below_a_border() -> None:
    """Of .9, .4, .6 and .95 each lies alone in its tenth, also where binary is a hair above."""
    assert statistics(load_knowledge(MINIMAL)).strengths == (0, 0, 0, 1, 0, 1, 0, 0, 1, 1)


def test_the_share_of_a_basis_is_over_all_terms() -> None:
    """One published link among the nineteen terms that name their basis."""
    knowledge = load_knowledge(MINIMAL)
    first = replace(knowledge.links[0], provenance=Provenance("published"))
    seen = statistics(replace(knowledge, links=(first, *knowledge.links[1:])))

    assert seen.share("published") == pytest.approx(1 / 19)
    assert sum(seen.share(basis) for basis in BASES) == pytest.approx(1.0)


def test_every_basis_that_a_file_may_state_has_words() -> None:
    """A basis without a column would be missing from the total."""
    (basis,) = (field for field in PROVENANCE if field.name == "basis")

    assert set(basis.words) == set(BASES)


def test_the_shipped_knowledge_is_counted_as_its_text_is() -> None:
    """Counted once more as lines of the files."""
    text = "".join(
        entry.read_text(encoding="utf-8")
        for entry in shipped_folder().iterdir()
        if entry.name.endswith(".ttl")
    )
    seen = statistics(load_knowledge())
    counts = {**seen.counts, "Link": seen.counts["Link"] + seen.deprecated}

    assert len(KINDS) == len(counts) > 15
    for kind, count in counts.items():
        assert len(re.findall(rf"^    a :{kind} ;$", text, re.MULTILINE)) == count
