"""Findings, states and causes: catalogue b, b2, c and review 0, 7.1, 9."""

from __future__ import annotations

import re
from collections.abc import Iterator

from graph.terms import Cause, Finding, Provenance, State
from tests.importer.areas import CAUSE_AREAS, NATURES, SECTION_AREAS, STATE_AREAS
from tests.importer.cause_table import CAUSE_NAMES
from tests.importer.codes import part_causes
from tests.importer.finding_table import CHOICES, GROUP_LEAKS, GROUPS, LEAKS, SPECIFIC_OF
from tests.importer.origins import catalogue, review
from tests.importer.state_names import STATE_NAMES
from tests.importer.tables import Row, number, plain, section

__all__ = ["FINDING_SECTIONS", "read_causes", "read_findings", "read_states", "scope_of"]

#: Scope words of the sources -> those of the model.
_SCOPES = {
    "veh": "vehicle",
    "global": "vehicle",
    "central": "vehicle",
    "f-corner": "front-corner",
    "r-corner": "rear-corner",
    "front axle only": "front-axle",
    "rear axle only": "rear-axle",
}
FINDING_SECTIONS = {
    "b.1": "noise",
    "b.2": "vibration",
    "b.3": "direction",
    "b.4": "wear",
    "b.5": "lamp",
    "b.6": "brake",
    "b.7": "seen",
}
#: Catalogue g.9: states that open a gate instead of leading on.
_GATES = {
    "st-wheel-separation-risk": "sg-wheel-separation",
    "st-joint-separation-risk": "sg-joint-separation",
    "st-hydraulic-leak": "sg-brake-hydraulic",
}
_VEHICLE_STATE_LEAK, _OTHER_STATE_LEAK = 0.001, 0.0005
#: Review 0.5: bent parts, springs, wheel damage, bearings, rust of brake lines.
_KERB_SIDE = frozenset(
    {
        "rc-tie-rod-bent",
        "rc-arm-bent",
        "rc-knuckle-bent",
        "rc-strut-bent",
        "rc-spring-broken",
        "rc-spring-sagged",
        "rc-wheel-bent",
        "rc-hub-flange-runout",
        "rc-bearing-play",
        "rc-bearing-rough",
        "rc-brake-line-rusted",
    }
)


def scope_of(word: str) -> str:
    """Return the model's scope for a scope word of the sources.

    Examples
    --------
    >>> scope_of("f-corner"), scope_of("corner, weight rear .08"), scope_of("axle")
    ('front-corner', 'corner', 'axle')
    """
    return _SCOPES.get(word, word.split(",")[0])


def read_findings(
    text: dict[str, list[list[Row]]], second: dict[str, list[list[Row]]]
) -> dict[str, Finding]:
    """Return the findings of the catalogue and of the review."""
    corrected = _scope_corrections(second)
    found = {}
    for row, group, source in _finding_rows(text, second):
        key = row["id"]
        leaks = LEAKS.get(key, (GROUP_LEAKS[group], GROUP_LEAKS[group]))
        found[key] = Finding(
            key,
            _sentence(plain(row["standard name"])),
            corrected.get(key, scope_of(row["scope"])),
            tuple(re.findall(r'"([^"]+)"', row.get("customer says", ""))),
            plain(row.get("how it discriminates", "")),
            group,
            *leaks,
            CHOICES.get(key, ""),
            SPECIFIC_OF.get(key, ""),
            source,
        )
    return found


def _finding_rows(
    text: dict[str, list[list[Row]]], second: dict[str, list[list[Row]]]
) -> Iterator[tuple[Row, str, Provenance]]:
    """Yield every finding row with its group and origin."""
    for key, group in FINDING_SECTIONS.items():
        for row in section(text, key):
            yield row, group, catalogue(key)
    for row in section(second, "7.1"):
        is_freeze_frame = row["id"].startswith("sy-ff-")
        yield row, "freeze-frame" if is_freeze_frame else GROUPS[row["id"]], review("7.1")


def read_states(
    text: dict[str, list[list[Row]]], second: dict[str, list[list[Row]]]
) -> dict[str, State]:
    """Return the states of catalogue b2 and review 0.2."""
    corrected = _scope_corrections(second)
    states = {}
    for rows, source in (
        (section(text, "b2"), catalogue("b2")),
        (section(second, "0.2"), review("0.2")),
    ):
        for row in rows:
            key = row["id"]
            scope = corrected.get(key, scope_of(row["scope"]))
            leak = _VEHICLE_STATE_LEAK if scope == "vehicle" else _OTHER_STATE_LEAK
            states[key] = State(
                key,
                STATE_NAMES[key],
                plain(row["what it is"]),
                scope,
                plain(row["measurable by"]),
                leak,
                _GATES.get(key, ""),
                source,
                STATE_AREAS[key],
            )
    return states


def read_causes(
    text: dict[str, list[list[Row]]], second: dict[str, list[list[Row]]]
) -> dict[str, Cause]:
    """Return the causes: catalogue c and review 0.3, rates of 9, weights of 0.4 and 0.5."""
    rates = {
        row["cause"]: (_percent(row["salted %"]), _percent(row["dry %"]))
        for row in section(second, "9")
    }
    corrected, shares = _scope_corrections(second), _front_shares(second)
    causes = {}
    for row, area, source in _cause_rows(text, second):
        key = row["id"]
        label, deficiency, item = CAUSE_NAMES[key]
        stated = rates.get(key) or (_percent(row["salted %"]), _percent(row["dry %"]))
        causes[key] = Cause(
            key,
            label,
            plain(row["what it is"]),
            corrected.get(key, scope_of(row["scope"])),
            row["safety"],
            deficiency,
            item,
            *stated,
            shares.get(key),
            key in _KERB_SIDE,
            key in part_causes(),
            source,
            area,
            NATURES[key],
        )
    return causes


def _cause_rows(
    text: dict[str, list[list[Row]]], second: dict[str, list[list[Row]]]
) -> Iterator[tuple[Row, str, Provenance]]:
    """Yield every cause row with its subject area and origin."""
    for key, area in SECTION_AREAS.items():
        for row in section(text, key):
            yield row, area, catalogue(key, "base rate and place weight of the review")
    for row in section(second, "0.3"):
        yield row, CAUSE_AREAS[row["id"]], review("0.3")


def _scope_corrections(second: dict[str, list[list[Row]]]) -> dict[str, str]:
    """Return id -> corrected scope of review 0.4."""
    return {row["id"]: scope_of(row["new scope"]) for row in section(second, "0.4")}


def _front_shares(second: dict[str, list[list[Row]]]) -> dict[str, float]:
    """Return cause -> share at the front: review 0.5, and the rear weights of 0.4."""
    shares = {row["id"]: number(row["front share"]) for row in section(second, "0.5")}
    for row in section(second, "0.4"):
        rear = re.search(r"weight rear (\.\d+)", row["new scope"])
        if rear:
            shares[row["id"]] = round(1.0 - float(rear.group(1)), 4)
    return shares


def _percent(cell: str) -> float:
    """Return a probability from a cell in percent."""
    return round(float(cell) / 100.0, 8)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
