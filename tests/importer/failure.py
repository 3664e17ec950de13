"""Failure types and status: review 3 and 4."""

from __future__ import annotations

import re

from graph.terms import CauseGroup, CodeFamily, FailureByte, FailureShare, StatusShare
from tests.importer.origins import review
from tests.importer.tables import Row, ids_in, number, section

__all__ = [
    "FAILURE_DEFAULT",
    "read_cause_groups",
    "read_code_families",
    "read_failure_bytes",
    "read_failure_shares",
    "read_status_shares",
]

#: Review 3: shares of groups that a family does not list, categories 0 to 9.
FAILURE_DEFAULT = (0.35, 0.15, 0.15, 0.02, 0.05, 0.03, 0.2, 0.02, 0.02, 0.01)
_STATUSES = ("active-static", "active-drive", "intermittent", "pending", "history")
_FACTOR = re.compile(r"(rc-[a-z0-9-]+) (\d*\.?\d+)")
_OTHERS = re.compile(r"all others (\d*\.?\d+)")


def read_cause_groups(second: dict[str, list[list[Row]]]) -> dict[str, CauseGroup]:
    """Return the groups of 3.1."""
    return {
        row["group"]: CauseGroup(row["group"], ids_in(row["causes"]))
        for row in section(second, "3.1")
    }


def read_code_families(
    second: dict[str, list[list[Row]]], corners: dict[str, tuple[str, ...]]
) -> dict[str, CodeFamily]:
    """Return the families of 3.2, star names spelled out through `corners`."""
    return {
        row["family"]: CodeFamily(
            row["family"],
            tuple(code for name in ids_in(row["codes"]) for code in corners.get(name, (name,))),
        )
        for row in section(second, "3.2")
    }


def read_failure_shares(second: dict[str, list[list[Row]]]) -> tuple[FailureShare, ...]:
    """Return the shares of 3.3."""
    return tuple(
        FailureShare(
            row["group"],
            row["family"],
            tuple(number(row[f"c{category}"]) for category in range(10)),
            review("3.3"),
        )
        for row in section(second, "3.3")
    )


def read_failure_bytes(second: dict[str, list[list[Row]]]) -> tuple[FailureByte, ...]:
    """Return the single bytes of 3.4; a row in words only has no factors, but a note."""
    found = []
    for row in section(second, "3.4"):
        words = f"{row['raises']} / {row['lowers']}"
        others = _OTHERS.search(row["lowers"])
        factors = {cause: float(factor) for cause, factor in _FACTOR.findall(words)}
        found.append(
            FailureByte(
                row["byte"],
                row["family"],
                factors,
                float(others.group(1)) if others else 1.0,
                _byte_note(row, factors),
                review("3.4"),
            )
        )
    return tuple(found)


def _byte_note(row: Row, factors: dict[str, float]) -> str:
    """Return the remark in brackets, or the whole sentence of a row without factors."""
    if not factors:
        return row["raises"]
    before_colon = re.match(r"([a-z ]+): rc-", row["raises"])
    rest = re.search(r"; ([a-z].*)$", row["raises"])
    parts = re.findall(r"\(([^)]*)\)", row["raises"])
    parts += [match.group(1) for match in (before_colon, rest) if match]
    return "; ".join(parts)


def read_status_shares(second: dict[str, list[list[Row]]]) -> tuple[StatusShare, ...]:
    """Return the status shares of 4."""
    return tuple(
        StatusShare(
            row["group"],
            ids_in(row["causes"]),
            {status: number(row[status]) for status in _STATUSES},
            review("4"),
        )
        for row in section(second, "4")
    )
