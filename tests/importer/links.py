"""Links: the merged list, and the rejected ones kept with their reason."""

from __future__ import annotations

import csv
from pathlib import Path

from graph.terms import Link, Provenance
from tests.importer.origins import catalogue, review
from tests.importer.tables import Row, number, section

__all__ = ["LINK_SECTIONS", "read_links"]

LINK_SECTIONS = ("g.1", "g.2", "g.3", "g.4", "g.5", "g.6", "g.7", "g.7b")


def read_links(
    folder: Path, text: dict[str, list[list[Row]]], second: dict[str, list[list[Row]]]
) -> tuple[Link, ...]:
    """Return the active links in file order, then the rejected ones, numbered on."""
    with (folder / "links.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    active = [
        Link(
            f"lk-{index:04d}",
            row["from"],
            row["reach"],
            row["to"],
            float(row["strength"]),
            row["mechanism"],
            provenance=_origin(row["origin"]),
        )
        for index, row in enumerate(rows, start=1)
    ]
    return (*active, *_rejected(len(active), text, second))


def _origin(cell: str) -> Provenance:
    """Return the provenance for an origin such as "review 2.3"."""
    book, where = cell.split()
    note = "added after a consistency pass over cases" if where == "g.7b" else ""
    return catalogue(where, note) if book == "catalogue" else review(where)


def _rejected(
    count: int, text: dict[str, list[list[Row]]], second: dict[str, list[list[Row]]]
) -> list[Link]:
    """Return the links of review 1.3 and those its blocks replace, as deprecated."""
    old = {(row["from"], row["rel"], row["to"]): row for row in section(text, *LINK_SECTIONS)}
    reasons = {_pair(row): row["reason"] for row in section(second, "1.3")}
    for table in second["2.0"]:
        for row in table:
            if "replaced by" in row:
                reasons[_pair(row)] = f"replaced by {row['replaced by']} of the review"
    return [
        Link(
            f"lk-{count + index:04d}",
            *pair,
            number(old[pair]["strength"]),
            old[pair]["mechanism"],
            deprecated=reason,
            provenance=catalogue("g", "rejected by the review"),
        )
        for index, (pair, reason) in enumerate(reasons.items(), start=1)
    ]


def _pair(row: Row) -> tuple[str, str, str]:
    return row["from"], row["rel"], row["to"]
