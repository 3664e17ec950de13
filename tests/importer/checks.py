"""Checks: catalogue d with the repairs of review 8, and what they can show.

Order of the repairs: rows of 8.2 (add, change, remove); (a) a part gives way to the
state that the check measures; (b) pairs no better than chance go. What (a) and (b)
took out is returned beside the checks, so that a test can compare row by row.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from graph.terms import Check, Confounder, Detects, Link
from tests.importer.check_table import (
    CAUTIONS,
    CHECK_NAMES,
    KIND_CHANGES,
    MINUTE_CHANGES,
    RUST_LOOKS,
    SETUP_CHANGES,
)
from tests.importer.origins import catalogue, review
from tests.importer.routes import carried
from tests.importer.tables import Row, ids_in, plain, section

__all__ = ["CheckReading", "is_chance", "read_checks", "read_confounders"]

_KINDS = {"intake-procedure": "intake", "one-verdict": "one-verdict", "located": "located"}
_PAIR = re.compile(r"([a-z0-9-]+):(\d*\.?\d+)/(\d*\.?\d+)(?: \(([^)]*)\))?$")
#: A part gives way when the state carries this much of the stated sensitivity.
CARRIED_SHARE = 0.75
#: Review 8.2 (b): this much above the false alarms, or it is no evidence.
CHANCE_MARGIN = 0.1
#: "parts named in the row cannot be told apart by it" (8.2): all go but the one
#: whose way to the measured state the review took out (1.3).
_ONLY_STATES = {"ck-sas-straight": frozenset({"rc-steering-wheel-off-spline"})}
#: (a) for states that the review did not add: the part whose definition is the state.
_STATE_FOR_PART: Mapping[tuple[str, str], str] = {
    ("ck-align-measure", "rc-align-front-toe"): "st-toe-front-total",
    ("ck-align-measure", "rc-align-wheel-not-centred"): "st-toe-split",
    ("ck-align-measure", "rc-align-cross-camber"): "st-cross-camber",
    ("ck-align-after", "rc-align-front-toe"): "st-toe-front-total",
}


@dataclass(slots=True)
class CheckReading:
    """The checks, and the pairs that were taken out on the way."""

    checks: dict[str, Check] = field(default_factory=dict)
    replaced: set[tuple[str, str]] = field(default_factory=set)  # (a): check, part
    chance: set[tuple[str, str]] = field(default_factory=set)  # (b): check, target


def read_checks(
    text: dict[str, list[list[Row]]], second: dict[str, list[list[Row]]], links: Sequence[Link]
) -> CheckReading:
    """Return the 144 checks with repaired detects."""
    reading = CheckReading()
    kinds = {row["id"]: _KINDS[row["class"]] for row in section(second, "8.1")}
    for number in range(1, 11):
        for row in section(text, f"d.{number}"):
            reading.checks[row["id"]] = _catalogue_check(row, kinds[row["id"]], f"d.{number}")
    for row in section(second, "8.2"):
        _repair(reading.checks, row)
    for row in section(second, "8.4"):
        reading.checks[row["id"]] = _review_check(row)
    for key, check in reading.checks.items():
        reading.checks[key] = _by_hand(_prune(reading, check, links))
    return reading


def is_chance(pair: Detects) -> bool:
    """Return whether a pair is no evidence, by review 8.2 (b)."""
    return pair.sensitivity <= 1.0 - pair.specificity + CHANCE_MARGIN + 1e-9


def read_confounders(second: dict[str, list[list[Row]]]) -> tuple[Confounder, ...]:
    """Return the shared reasons of review 8.3."""
    return tuple(
        Confounder(
            row["group"],
            row["fooled together by"],
            ids_in(row["checks"]),
            float(row["cap"].split()[0]),
            review("8.3"),
        )
        for row in section(second, "8.3")
    )


def _catalogue_check(row: Row, kind: str, where: str) -> Check:
    """Return a check of catalogue d as it is written there."""
    key = row["id"]
    label, unit = CHECK_NAMES[key]
    return Check(
        key,
        label,
        row["setup"],
        float(row["min"]),
        kind,
        unit,
        plain(row["what"]),
        plain(row["tools"]),
        plain(row["outcome"]),
        plain(row["limit"]),
        plain(row["fooled by"]),
        plain(row["caution"]),
        _pairs(row["detects"]),
        provenance=catalogue(where, "detects and kind repaired by the review, section 8"),
    )


def _review_check(row: Row) -> Check:
    """Return a check of review 8.4."""
    key = row["id"]
    label, unit = CHECK_NAMES[key]
    return Check(
        key,
        label,
        row["setup"],
        float(row["min"]),
        _KINDS[row["class"]],
        unit,
        plain(row["what"]),
        caution=CAUTIONS.get(key, ""),
        detects=_pairs(row["detects"]),
        provenance=review("8.4", "caution added at the import" if key in CAUTIONS else ""),
    )


def _pairs(cell: str) -> tuple[Detects, ...]:
    """Return the pairs of a detects cell; free text such as "any repaired cause" is none."""
    found = []
    for part in cell.split(";"):
        match = _PAIR.match(part.strip())
        if match and match.group(1).startswith(("rc-", "st-")):
            target, sensitivity, specificity, note = match.groups()
            found.append(Detects(target, float(sensitivity), float(specificity), note or ""))
    return tuple(found)


def _repair(checks: dict[str, Check], row: Row) -> None:
    """Apply one row of review 8.2."""
    if row["change"] == "note":
        return
    check = checks[row["check"]]
    pairs = {pair.target: pair for pair in check.detects}
    if row["change"] == "remove":
        del pairs[row["target"]]
    else:
        pairs[row["target"]] = Detects(
            row["target"], float(row["sensitivity"]), float(row["specificity"]), row["reason"]
        )
    checks[row["check"]] = replace(check, detects=tuple(pairs.values()))


def _prune(reading: CheckReading, check: Check, links: Sequence[Link]) -> Check:
    """Return the check without parts that a state stands for, and without chance."""
    pairs = tuple(_stand_in(reading, check.id, check.detects))
    if check.kind != "intake":
        states = {pair.target: pair.sensitivity for pair in pairs if _is_state(pair)}
        kept = []
        for pair in pairs:
            if not _is_state(pair) and _gives_way(check.id, pair, states, links):
                reading.replaced.add((check.id, pair.target))
            else:
                kept.append(pair)
        pairs = tuple(kept)
    reading.chance |= {(check.id, pair.target) for pair in pairs if is_chance(pair)}
    return replace(check, detects=tuple(pair for pair in pairs if not is_chance(pair)))


def _stand_in(reading: CheckReading, check: str, pairs: Iterable[Detects]) -> Iterable[Detects]:
    """Yield the pairs, the state in the place of a part that is defined by it."""
    for pair in pairs:
        state = _STATE_FOR_PART.get((check, pair.target))
        if state:
            reading.replaced.add((check, pair.target))
            yield replace(pair, target=state, note=f"stated for {pair.target}")
        else:
            yield pair


def _gives_way(
    check: str, pair: Detects, states: Mapping[str, float], links: Sequence[Link]
) -> bool:
    """Return whether a state that the check measures stands for this part."""
    if check in _ONLY_STATES:
        return pair.target not in _ONLY_STATES[check]
    return carried(pair.target, states, links) >= CARRIED_SHARE * pair.sensitivity


def _is_state(pair: Detects) -> bool:
    return pair.target.startswith("st-")


def _by_hand(check: Check) -> Check:
    """Return the check with what the tables of this package set."""
    key = check.id
    return replace(
        check,
        setup=SETUP_CHANGES.get(key, check.setup),
        minutes=MINUTE_CHANGES.get(key, check.minutes),
        kind=KIND_CHANGES.get(key, check.kind),
        salted_specificity_loss=RUST_LOOKS.get(key, 0.0),
    )
