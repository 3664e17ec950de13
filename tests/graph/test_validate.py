"""Validation as a whole: the shipped knowledge passes, and nothing wrong is said twice."""

from __future__ import annotations

from pathlib import Path

import pytest

from graph.load import examine
from graph.report import ERROR, Report
from graph.triples import turtle_files
from graph.validate import validate, validate_files

ROOT = Path(__file__).parents[2]
MINIMAL = turtle_files(ROOT / "fixtures" / "minimal")
BROKEN = {path.stem: path for path in sorted((ROOT / "fixtures" / "broken").glob("*.ttl"))}


@pytest.fixture(scope="module")
def shipped() -> Report:
    """Return the report on the shipped knowledge."""
    return validate()


def test_the_shipped_knowledge_has_no_error(shipped: Report) -> None:
    """What is installed has passed its own checks."""
    assert [str(row) for row in shipped.rows if row.level == ERROR] == []
    assert shipped.passed


def test_the_warnings_on_the_shipped_knowledge_are_known(shipped: Report) -> None:
    """A new warning is looked at before it becomes a habit."""
    assert {(row.rule, row.entity) for row in shipped.rows} == {
        ("check-detects-nothing", "ck-bulb-check"),
        ("repair-fixes-nothing", "rp-clear-codes"),
        ("repair-fixes-nothing", "rp-report"),
        ("repair-fixes-nothing", "rp-rescan-final"),
        ("repair-fixes-nothing", "rp-verification-drive"),
    }


def test_the_report_says_how_much_was_looked_at(shipped: Report) -> None:
    """A clean report on nothing is no report; the design's numbers and decision 0011."""
    assert shipped.looked_at["Cause"] == 134 + 1
    assert shipped.looked_at["Finding"] == 163 + 14
    assert shipped.looked_at["Link"] >= 1340
    assert sum(shipped.counts.values()) == len(shipped.rows)


@pytest.mark.parametrize("name", BROKEN)
def test_what_the_reader_refuses_is_an_error_here(name: str) -> None:
    """Knowledge that passed must never be refused afterwards."""
    content = {**MINIMAL, BROKEN[name].name: BROKEN[name].read_bytes()}
    refused = bool(examine(content).rows)

    assert not (refused and validate_files(content).passed)


def test_the_sweep_holds_refused_and_accepted_files() -> None:
    """Both sides of the comparison above must occur."""
    refused = {
        bool(examine({**MINIMAL, path.name: path.read_bytes()}).rows) for path in BROKEN.values()
    }

    assert refused == {True, False}


def test_an_unreadable_file_stops_the_other_questions() -> None:
    """Half the terms would seem to be missing."""
    report = validate_files({**MINIMAL, "causes-hub.ttl": b":broken"})

    assert [row.rule for row in report.rows] == ["unreadable-file"]


def test_a_loop_is_named_link_by_link() -> None:
    """Who has to break a loop must see every step of it."""
    content = {**MINIMAL, "link-loop.ttl": BROKEN["link-loop"].read_bytes()}
    row = validate_files(content).of("link-loop")[0]

    assert "st-one makes st-two (lk-0012)" in row.sentence
    assert "st-two makes st-one (lk-0013)" in row.sentence


@pytest.mark.parametrize(("reach", "knots"), [("left>opp-side", 0), ("opp-side", 2)])
def test_loops_are_looked_for_on_the_car_not_on_the_kinds(reach: str, knots: int) -> None:
    """A thing that makes its like at the other wheel is a loop only if it comes back."""
    text = BROKEN["unknown-word"].read_text()
    text = text.replace("same-cornr", reach).replace(":to :sy-hum", ":to :st-hub-play")
    report = validate_files({**MINIMAL, "extra.ttl": text.encode()})

    assert [row.rule for row in report.rows] == ["link-loop"] * knots


def test_what_two_stages_see_is_said_once() -> None:
    """The shape has the better words; the reader's row about the same statement is left out."""
    content = {**MINIMAL, "link-source.ttl": BROKEN["link-source"].read_bytes()}

    assert len(examine(content).rows) == 1
    assert [row.rule for row in validate_files(content).rows] == ["link-source"]


def test_two_mistakes_in_one_link_are_both_told() -> None:
    """Saying a thing once must not hide another thing."""
    text = BROKEN["link-source"].read_bytes().replace(b'"global"', b'"golbal"')
    report = validate_files({**MINIMAL, "broken.ttl": text})

    assert {row.rule for row in report.rows} == {"link-source", "unknown-word"}
