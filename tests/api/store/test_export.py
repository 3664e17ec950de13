"""One job written out, for programs and for spreadsheets."""

from __future__ import annotations

import csv
import io
import json

import pytest

from api.store import events as happened
from api.store.engine import Store
from api.store.errors import JobNotFoundError
from api.store.events import Body, Who, body_from
from api.store.export import as_csv, as_json_lines, harmless, shop_of
from api.store.fold import HistoryRow, fold
from tests.api.store.making import (
    ADA,
    OTHER_SHOP,
    SAM,
    SHOP,
    finding,
    note,
    open_job,
    reading,
    record,
    undo,
    verdict,
    write_up,
)

#: What a spreadsheet takes for a formula, after the OWASP note on CSV injection (from memory).
FORMULAS = ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1+1", "\r=1+1", " =1+1", "\n-2+3"]


def rows(*bodies: Body, who: Who = ADA) -> tuple[HistoryRow, ...]:
    """Return the history of a job."""
    steps = [(f"event-{n:0>12}", who, body) for n, body in enumerate((write_up(), *bodies), 1)]
    return fold("job", SHOP, record(*steps)).history


def table(history: tuple[HistoryRow, ...]) -> list[dict[str, str]]:
    """Return the CSV as a spreadsheet reads it."""
    return list(csv.DictReader(io.StringIO(as_csv(history), newline="")))


def test_json_lines_hold_everything() -> None:
    """Each line is an event that can be read again."""
    history = rows(note("½"), verdict(), undo("event-000000000002"), who=SAM)
    lines = [json.loads(line) for line in as_json_lines(history).splitlines()]

    assert [line["seq"] for line in lines] == [1, 2, 3, 4]
    assert [line["taken_back"] for line in lines] == [False, True, False, False]
    assert [body_from(json.dumps(line["body"])) for line in lines] == [
        row.recorded.body for row in history
    ]
    assert lines[1]["who"] == {"id": "sam", "name": "Sam Example", "role": "senior"}


def test_the_table_says_what_was_done() -> None:
    """Check, place, thing, outcome and words each in a column of their own."""
    told = table(
        rows(
            finding("absent", "lr"),
            verdict("found"),
            reading(-0.19),
            happened.GateAnswered(finding="sy-clunk", answer="no"),
            happened.GateOverruled(gate="sg-a", reason="towed", instead="trailer"),
            undo("event-000000000002"),
        )
    )
    keys = ("kind", "check", "place", "about", "at", "result", "value", "unit", "words")

    assert [tuple(row[key] for key in keys) for row in told] == [
        ("written-up", "", "", "", "", "", "", "", "hums since the kerb"),
        ("finding", "", "lr", "sy-hum-speed", "", "absent", "", "", ""),
        ("verdict", "ck-wheel-shake-12-6", "", "rc-bearing-play", "lr", "found", "", "", ""),
        ("reading", "ck-bearing-play-dial", "", "rc-bearing-play", "lr", "", "-0.19", "mm", ""),
        ("gate-answered", "", "", "sy-clunk", "", "no", "", "", ""),
        ("gate-overruled", "", "", "sg-a", "", "", "", "", "towed"),
        ("taken-back", "", "", "event-000000000002", "", "", "", "", ""),
    ]
    assert told[1]["taken back"] == "Ada Example"


@pytest.mark.parametrize("text", FORMULAS)
def test_no_cell_is_a_formula(text: str) -> None:
    """Whatever field somebody typed it into; the words themselves stay readable behind the sign."""
    hostile = Who("evil", text.strip(), "technician")
    history = rows(note(text.strip()), write_up(text.strip(), text.strip()), who=hostile)
    cells = [cell for row in table(history) for cell in row.values()]

    assert harmless(text) == f"'{text}"
    assert f"'{text.strip()}" in cells
    assert not [cell for cell in cells if cell.lstrip()[:1] in ("=", "+", "-", "@")]


def test_the_signs_were_all_tried() -> None:
    """Partner of the sweep above."""
    assert {text.lstrip()[0] for text in FORMULAS} == set("=+-@")


def test_every_cell_is_quoted() -> None:
    """Commas, quotes and line ends within words make no new cells or lines."""
    words = 'one, "two"\nthree; =4'
    (first, second) = table(rows(note(words)))

    assert second["words"] == words
    assert first["seq"] == "1"
    assert all(line.startswith('"') for line in as_csv(rows()).splitlines())


def test_the_owner_of_the_database_finds_a_job_of_any_shop(store: Store) -> None:
    """The command line has no shop of its own."""
    job = open_job(store, OTHER_SHOP).job

    assert shop_of(store.database, job) == OTHER_SHOP
    with pytest.raises(JobNotFoundError, match="there is no job 'nowhere'"):
        shop_of(store.database, "nowhere")
