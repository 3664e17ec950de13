"""Repairs and set-ups: catalogue e and f, review 0.6."""

from __future__ import annotations

import re

from graph.terms import Repair, Setup
from tests.importer.origins import catalogue, review
from tests.importer.repair_table import ADDED_FIXES, REPAIR_NAMES
from tests.importer.state_names import SETUP_NAMES
from tests.importer.tables import Row, ids_in, plain, section

__all__ = ["FOLLOW_UPS", "read_repairs", "read_setups"]

FOLLOW_UPS = ("AL", "CAL", "ICAL", "OTF", "RT", "FT", "BB", "BED", "RL", "CONF", "ADAS", "SRS")
_FOLLOW_UP = re.compile(r"\b(?:" + "|".join(FOLLOW_UPS) + r")\b")
_HOURS = re.compile(r"(\d+(?:\.\d+)?)(?:-(\d+(?:\.\d+)?))?(\+?)")
#: "1.0+" hours is open upwards; three times is as far as an estimate goes.
_OPEN_HOURS = 3.0


def read_repairs(
    text: dict[str, list[list[Row]]], second: dict[str, list[list[Row]]]
) -> dict[str, Repair]:
    """Return the repairs of both sources."""
    rows = [(row, catalogue("f")) for row in section(text, "f")]
    rows += [(row, review("0.6")) for row in section(second, "0.6")]
    repairs = {}
    for row, source in rows:
        key = row["id"]
        low, high = _hours(row["hours"])
        fixes = tuple(name for name in ids_in(row["fixes"]) if name.startswith("rc-"))
        repairs[key] = Repair(
            key,
            REPAIR_NAMES[key],
            fixes + ADDED_FIXES.get(key, ()),
            tuple(dict.fromkeys(_FOLLOW_UP.findall(row["follow-up"]))),
            low,
            high,
            int(row["prec"]),
            _note(row),
            source,
        )
    return repairs


def _hours(cell: str) -> tuple[float, float]:
    """Return lowest and highest hours of a cell such as "0.3-0.6 per corner"."""
    match = _HOURS.match(cell)
    if match is None:
        raise ValueError(f"hours {cell!r} cannot be read; state them as low-high")
    low, high, is_open = match.groups()
    if is_open:
        return float(low), float(low) * _OPEN_HOURS
    return float(low), float(high or low)


def _note(row: Row) -> str:
    """Return what the cells say beyond ids, follow-up codes and hours."""
    parts = [_rest(row["fixes"], r"\brc-[a-z0-9-]+\b"), _rest(row["follow-up"], _FOLLOW_UP.pattern)]
    parts.append(_rest(row["hours"], _HOURS.pattern))
    if _FOLLOW_UP.search(row["follow-up"]) and parts[1]:
        parts[1] = row["follow-up"]  # a condition needs the code that it belongs to
    return "; ".join(part for part in parts if part)


def _rest(cell: str, taken: str) -> str:
    """Return what is left of a cell when all that a pattern takes is gone."""
    left = re.sub(taken, "", plain(cell))
    return re.sub(r"(?:^[\s,;]+|[\s,;]+$)", "", re.sub(r"(?:,\s*)+,", ",", left)).strip()


def read_setups(text: dict[str, list[list[Row]]]) -> dict[str, Setup]:
    """Return the set-ups with their change-over minutes."""
    setups = {}
    for order, row in enumerate(section(text, "e")):
        key = row["from \\ to"]
        changes = {to: float(row[to]) for to in SETUP_NAMES if to != key}
        setups[key] = Setup(
            key, SETUP_NAMES[key], order, key == "su-ground-helper", changes, catalogue("e")
        )
    return setups
