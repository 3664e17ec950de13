"""Row by row against the sources, for whoever has them.

The catalogue, its review and the merged link list are not part of this project. Name
their folder in the environment variable DRYPARK_TRADE_SOURCES to run these tests;
without it they are skipped, and the reason says how many. What differs on purpose is
listed in `differences.py`; anything else that differs fails. What decision 0011 changed is
undone first (`at_first.py`).
"""

from __future__ import annotations

import csv
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from graph.load import load_knowledge
from graph.terms import Knowledge
from tests.importer import read_knowledge
from tests.importer.facts import rule_terms
from tests.importer.tables import Row, ids_in, read_sections, section
from tests.knowledge import differences
from tests.knowledge.at_first import at_first

Sections = dict[str, list[list[Row]]]
FOLDER = Path(os.environ.get("DRYPARK_TRADE_SOURCES", "(not named)"))
#: Every test below that reads the sources, by name.
NEEDS_SOURCES: list[str] = []
_EXPECTED = 13


def needs_sources(test: Callable[..., None]) -> Callable[..., None]:
    """Mark a test as one that reads the sources."""
    NEEDS_SOURCES.append(test.__name__)
    reason = f"DRYPARK_TRADE_SOURCES names no folder: {_EXPECTED} tests read the sources"
    marked: Callable[..., None] = pytest.mark.skipif(not FOLDER.is_dir(), reason=reason)(test)
    return marked


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    """Return the knowledge that is installed with the program, as it was at first."""
    return at_first(load_knowledge())


@pytest.fixture(scope="module")
def text() -> Sections:
    """Return the tables of the catalogue."""
    return read_sections(FOLDER / "catalogue.md")


@pytest.fixture(scope="module")
def second() -> Sections:
    """Return the tables of the review."""
    return read_sections(FOLDER / "review.md")


def test_the_number_of_tests_that_read_the_sources_is_known() -> None:
    """The reason for skipping states a count; it must be the true one."""
    assert len(NEEDS_SOURCES) == _EXPECTED


def test_the_source_tests_are_skipped_for_want_of_the_folder_only() -> None:
    """A folder that is named and not there would skip them all without a word."""
    needed = ("catalogue.md", "review.md", "safety.md", "links.csv")

    named = "DRYPARK_TRADE_SOURCES" in os.environ
    assert not named or all((FOLDER / name).is_file() for name in needed)


@needs_sources
def test_the_importer_still_makes_the_shipped_knowledge(shipped: Knowledge) -> None:
    """The record of how it was made is a record only while it makes the same."""
    made = read_knowledge(FOLDER)

    for name in made.__dataclass_fields__:
        if name != "sha256":
            assert _sorted(getattr(made, name)) == _sorted(getattr(shipped, name)), name


@needs_sources
def test_every_row_of_the_link_list_is_a_link(shipped: Knowledge) -> None:
    """Links keep the order of the list, so that their numbers can be found again."""
    with (FOLDER / "links.csv").open(encoding="utf-8", newline="") as file:
        rows = [
            (row["from"], row["reach"], row["to"], float(row["strength"]), row["mechanism"])
            for row in csv.DictReader(file)
        ]
    active = sorted((x for x in shipped.links if not x.deprecated), key=lambda link: link.id)

    assert [(x.source, x.reach, x.target, x.strength, x.mechanism) for x in active] == rows


@needs_sources
def test_the_link_list_is_the_catalogue_with_the_review_applied(
    shipped: Knowledge, text: Sections, second: Sections
) -> None:
    """An independent merge, in the review's order, gives the same 1,340 strengths."""
    merged = {
        _key(row): row["strength"] for k in text if k.startswith("g.") for row in _links(text, k)
    }
    merged |= {_key(row): row["strength"] for row in section(second, "1.1")}
    for row in section(second, "1.2"):
        del merged[row["from"], row["old rel"], row["to"]]
        merged[_key(row)] = row["strength"]
    for row in section(second, "1.3"):
        del merged[_key(row)]
    for table in second["2.0"]:
        for row in table:
            if "replaced by" in row:
                del merged[_key(row)]
            else:
                merged[_key(row)] = row["strength"]
    for key in ("2.1", "2.2", "2.3", "2.4", "2.5", "2.6", "2.7", "2.8", "7.2"):
        merged |= {_key(row): row["strength"] for row in section(second, key)}

    active = {(x.source, x.reach, x.target): x.strength for x in shipped.links if not x.deprecated}
    assert {key: float(strength) for key, strength in merged.items()} == active


@needs_sources
def test_base_rates_and_place_weights_are_the_reviews(shipped: Knowledge, second: Sections) -> None:
    """Review 9 and 0.3 in percent, 0.5 as a share."""
    for row in section(second, "9") + section(second, "0.3"):
        cause = shipped.causes[row.get("cause") or row["id"]]
        assert cause.base_salted == pytest.approx(float(row["salted %"]) / 100.0), cause.id
        assert cause.base_dry == pytest.approx(float(row["dry %"]) / 100.0), cause.id
    for row in section(second, "0.5"):
        assert shipped.causes[row["id"]].front_share == float(row["front share"]), row["id"]


@needs_sources
def test_definitions_and_safety_classes_are_the_rows(
    shipped: Knowledge, text: Sections, second: Sections
) -> None:
    """What a cause is, and how dangerous, is said once and carried over unchanged."""
    rows = [row for number in range(1, 10) for row in text[f"c.{number}"][0]]
    rows += section(second, "0.3")

    assert len(rows) == 134
    for row in rows:
        cause = shipped.causes[row["id"]]
        assert (cause.definition, cause.safety) == (row["what it is"], row["safety"])


@needs_sources
def test_findings_carry_the_customers_words(
    shipped: Knowledge, text: Sections, second: Sections
) -> None:
    """The words in quotes are what write-up matches a complaint with."""
    rows = [row for n in range(1, 8) for row in text[f"b.{n}"][0]] + section(second, "7.1")

    assert len(rows) == 163
    for row in rows:
        words = tuple(re.findall(r'"(.+?)"', row.get("customer says", "")))
        assert shipped.findings[row["id"]].customer_words == words, row["id"]


@needs_sources
def test_codes_carry_the_numbers_of_the_table(shipped: Knowledge, text: Sections) -> None:
    """A wrong digit sends a technician to another wheel."""
    for row in section(text, "a.2"):
        code = shipped.codes[row["id"]]
        number = differences.OTHER_NUMBERS.get(code.id, row["code"])
        assert code.notation == number, code.id
        same_in_both = number[:1] in "PBU" and number
        alias = number if same_in_both else row["earlier-layout alias"].split("/")[0]
        assert "".join(code.earlier[:1]) == alias.replace("-", ""), code.id


@needs_sources
def test_what_checks_detect_is_the_repaired_row(
    shipped: Knowledge, text: Sections, second: Sections
) -> None:
    """Catalogue d, review 8.2 and 8.4, less what (a) and (b) took out, and nothing else."""
    stated = _stated_pairs(text, second)
    held = {
        (check.id, pair.target): (pair.sensitivity, pair.specificity)
        for check in shipped.checks.values()
        for pair in check.detects
    }

    assert set(stated) - set(held) == differences.STATE_INSTEAD | differences.CHANCE_PAIRS
    assert set(held) - set(stated) == differences.STATES_ADDED
    assert {key: held[key] for key in set(held) & set(stated)} == {
        key: stated[key] for key in set(held) & set(stated)
    }


@needs_sources
def test_set_up_minutes_and_kind_of_checks_are_the_rows(
    shipped: Knowledge, text: Sections, second: Sections
) -> None:
    """Minutes decide the order of the list; four values were set by hand and are listed."""
    kinds = {row["id"]: row["class"] for row in section(second, "8.1") + section(second, "8.4")}
    rows = [row for n in range(1, 11) for row in text[f"d.{n}"][0]] + section(second, "8.4")
    other: dict[tuple[str, str], object] = {}
    for row in rows:
        check = shipped.checks[row["id"]]
        kind = kinds[row["id"]].replace("intake-procedure", "intake")
        stated = {"setup": row["setup"], "minutes": float(row["min"]), "kind": kind}
        other |= {
            (check.id, name): getattr(check, name)
            for name, value in stated.items()
            if getattr(check, name) != value
        }

    assert len(rows) == 144
    assert other == differences.HAND_SET_CHECKS


@needs_sources
def test_facts_carry_every_term_of_their_row(shipped: Knowledge, second: Sections) -> None:
    """A term that a row names and no rule carries is listed, with the reason in 0005."""
    left = {}
    for row in section(second, "6.1"):
        named = set(ids_in(f"{row['enables']} {row['excludes']}"))
        missing = named - rule_terms(shipped.facts[row["fact"]]) - {row["fact"]}
        if missing:
            left[row["fact"]] = {term for term in missing if not term.startswith("vf-")}

    assert left == differences.FACT_WORDS_LEFT


@needs_sources
def test_gates_are_the_rows_and_open_on_the_new_findings(
    shipped: Knowledge, second: Sections
) -> None:
    """21 rows of the safety notes; each row of review 7.3 is one trigger."""
    rows = section(read_sections(FOLDER / "safety.md"), "2")

    assert {row["id"] for row in rows} == set(shipped.gates)
    for row in section(second, "7.3"):
        triggers = shipped.gates[row["gate"]].triggers
        assert any(set(t.findings) == set(ids_in(row["finding"])) for t in triggers), row


@needs_sources
def test_context_factors_and_change_overs_are_the_cells(
    shipped: Knowledge, text: Sections, second: Sections
) -> None:
    """289 factors and 90 change-over minutes, cell by cell."""
    factors = {
        (row["context"], cause): float(factor)
        for row in section(second, "5.2")
        for cause, factor in re.findall(r"(rc-[a-z-]+):([\d.]+)", row["cause:odds factor; ..."])
    }
    minutes = {
        (row["from \\ to"], to): float(cell)
        for row in section(text, "e")
        for to, cell in row.items()
        if to.startswith("su-") and to != row["from \\ to"]
    }

    assert {(c.id, k): v for c in shipped.contexts.values() for k, v in c.odds.items()} == factors
    assert {
        (s.id, to): value for s in shipped.setups.values() for to, value in s.change_minutes.items()
    } == minutes
    assert len(minutes) == 90


@needs_sources
def test_failure_type_and_status_shares_are_the_cells(shipped: Knowledge, second: Sections) -> None:
    """79 rows of ten shares and 22 rows of five, cell by cell."""
    shares = {
        (row["group"], row["family"]): tuple(float(row[f"c{n}"]) for n in range(10))
        for row in section(second, "3.3")
    }
    status = {
        row["group"]: {word: float(cell) for word, cell in list(row.items())[2:]}
        for row in section(second, "4")
    }

    assert {(s.group, s.family): s.shares for s in shipped.failure_shares} == shares
    assert {s.id: dict(s.shares) for s in shipped.status_shares} == status


def _stated_pairs(text: Sections, second: Sections) -> dict[tuple[str, str], tuple[float, float]]:
    """Return (check, target) -> (sensitivity, specificity) with the rows of 8.2 applied."""
    rows = [row for n in range(1, 11) for row in text[f"d.{n}"][0]] + section(second, "8.4")
    pair = re.compile(r"((?:rc|st)-[a-z0-9-]+):(\d*\.?\d+)/(\d*\.?\d+)")
    stated = {
        (row["id"], target): (float(sensitivity), float(specificity))
        for row in rows
        for target, sensitivity, specificity in pair.findall(row["detects"])
    }
    for row in section(second, "8.2"):
        key = row["check"], row["target"]
        if row["change"] == "remove":
            del stated[key]
        elif row["change"] != "note":
            stated[key] = float(row["sensitivity"]), float(row["specificity"])
    return stated


def _links(text: Sections, key: str) -> list[Row]:
    """Return the link rows of a section; other tables of g have no mechanism."""
    return [row for row in section(text, key) if "mechanism" in row]


def _key(row: Row) -> tuple[str, str, str]:
    return row["from"], row["rel"], row["to"]


def _sorted(value: Any) -> Any:
    """Return tuples of terms in one order: reading sorts them, the sources do not."""
    if isinstance(value, tuple) and value and hasattr(value[0], "__dataclass_fields__"):
        return sorted(value, key=lambda item: str(getattr(item, "id", "")) + _name(item))
    return value


def _name(item: Any) -> str:
    """Return what tells apart values that have no id."""
    fields = ("group", "family", "byte")
    return "/".join(str(getattr(item, name, "")) for name in fields)
