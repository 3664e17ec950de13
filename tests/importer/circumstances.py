"""Contexts, curves and odds rules: review 5."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from graph.terms import Context, Curve, OddsRule
from tests.importer.origins import review
from tests.importer.tables import Row, ids_in, number, section

__all__ = ["read_contexts", "read_curves", "read_odds_rules"]

#: Ages are whole years: "4-6" holds a car until it is seven. The bound lies between
#: two whole years, so that it does not matter on which side it is counted.
_AGES = (3.5, 6.5, 9.5, 12.5, 15.5, math.inf)
#: The battery's own columns: 0-2, 3-4, 5-6, 7 and over.
_BATTERY_AGES = (2.5, 4.5, 6.5, 9.5, 12.5, math.inf)
_MILES = (30.0, 60.0, 100.0, 150.0, 200.0, math.inf)
_RELATIVE = frozenset({"cv-rust", "cv-structure"})

#: Conditions of review 5.5 that a program can read, by their words; others are asked.
_CONDITIONS: Mapping[str, Mapping[str, Any]] = {
    "cx-low-grip-when-it-happened and no stored code": {
        "contexts": ("cx-low-grip-when-it-happened",),
        "codes": "none",
        "replaces": "cx-low-grip-when-it-happened",
    },
    "all stability / ABS codes absent with tests completed": {"codes": "none-tests-complete"},
    "lamp flashed only, never steady": {
        "present": ("sy-lamp-esc-flash",),
        "absent": ("sy-lamp-esc", "sy-lamp-abs"),
    },
    "first car of the driver with the function, or new car": {"replaces": "cx-new-car"},
    "thunk once at 6-15 mph after every cold start": {
        "present": ("sy-selftest-noise",),
        "replaces": "sy-selftest-noise",
    },
    "any confirmed chassis code": {"codes": "any-confirmed-chassis"},
    "one wheel fades 3 mph before the others on a dry lot": {"present": ("st-wss-early-fade",)},
    "drift changes side with lane or direction": {"present": ("sy-pull-follows-crown",)},
    "steering wheel off centre on a level road": {"present": ("sy-off-centre",)},
    "any uneven wear": {
        "present_any": (
            "sy-wear-inner",
            "sy-wear-outer",
            "sy-wear-feather",
            "sy-wear-cup",
            "sy-wear-shoulders",
            "sy-wear-centre",
            "sy-wear-diagonal",
            "sy-wear-one-fast",
        )
    },
}


def read_contexts(second: dict[str, list[list[Row]]]) -> dict[str, Context]:
    """Return the contexts of 5.1 with the odds factors of 5.2."""
    odds = {
        row["context"]: _factors(row["cause:odds factor; ..."]) for row in section(second, "5.2")
    }
    return {
        row["context"]: Context(
            row["context"],
            row["meaning"][:1].upper() + row["meaning"][1:],
            odds.get(row["context"], {}),
            review("5"),
        )
        for row in section(second, "5.1")
    }


def _factors(cell: str) -> dict[str, float]:
    """Return cause -> factor from "rc-a:8; rc-b:.5"."""
    pairs = (part.strip().split(":") for part in cell.split(";"))
    return {cause: float(factor) for cause, factor in pairs}


def read_curves(second: dict[str, list[list[Row]]], causes: Iterable[str]) -> tuple[Curve, ...]:
    """Return the age curves of 5.3 and the mileage curves of 5.4.

    "Every cause not named above" is taken as: in no curve of either kind. A flat
    mileage curve for a cause with an age curve would halve the effect of its age.
    """
    ages = [
        Curve(
            row["curve"],
            "age",
            _curve_causes(row),
            _BATTERY_AGES if row["curve"] == "cv-battery-age" else _AGES,
            _columns(row, "salt "),
            _columns(row, "dry "),
            row["curve"] in _RELATIVE,
            review("5.3", "; ".join(re.findall(r"\(([^)]*)\)", row["causes"]))),
        )
        for row in section(second, "5.3")
    ]
    miles = [
        Curve(
            row["curve"],
            "mileage",
            _curve_causes(row),
            _MILES,
            _columns(row, ""),
            _columns(row, ""),
            provenance=review("5.4", "" if ids_in(row["causes"]) else row["causes"]),
        )
        for row in section(second, "5.4")
    ]
    named = {cause for curve in (*ages, *miles) for cause in curve.causes}
    rest = tuple(cause for cause in causes if cause not in named)
    return tuple(
        curve if curve.causes else replace(curve, causes=rest) for curve in (*ages, *miles)
    )


def _curve_causes(row: Row) -> tuple[str, ...]:
    return tuple(name for name in ids_in(row["causes"]) if name.startswith("rc-"))


def _columns(row: Row, prefix: str) -> tuple[float, ...]:
    """Return the numbers of the columns whose heading is a range after a prefix."""
    is_range = re.compile(re.escape(prefix) + r"\d+(?:-\d+|\+)$")
    return tuple(number(cell) for heading, cell in row.items() if is_range.match(heading))


def read_odds_rules(second: dict[str, list[list[Row]]]) -> tuple[OddsRule, ...]:
    """Return the rules of 5.5."""
    return tuple(
        OddsRule(
            f"or-{index:02d}",
            row["cause"],
            float(row["odds factor"]),
            row["condition"],
            **_CONDITIONS.get(row["condition"], {}),
            provenance=review("5.5", "" if row["note"] == "-" else row["note"]),
        )
        for index, row in enumerate(section(second, "5.5"), start=1)
    )
