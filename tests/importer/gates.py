"""Safety gates: section 2 of the safety notes, with the triggers of review 7.3."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from graph.terms import Gate, GateTrigger
from tests.importer.gate_table import GATE_RULES
from tests.importer.origins import safety
from tests.importer.tables import Row, plain, section

__all__ = ["read_gates"]

_FIELDS = {"sy": "findings", "cx": "contexts", "dtc": "codes", "vf": "facts"}
_AGE = re.compile(r"age(\d+)$")


def read_gates(text: dict[str, list[list[Row]]]) -> dict[str, Gate]:
    """Return the gates; their closing words and their legal basis are the notes' own."""
    rules = _rules()
    return {
        row["id"]: replace(
            rules[row["id"]],
            closes_how=plain(row["closes on"]),
            basis=_basis(row["mark"]),
            provenance=safety("2", f"opens on: {plain(row['opens on'])}"),
        )
        for row in section(text, "2")
    }


def _basis(mark: str) -> str:
    """Return the mark of the notes in words."""
    words = mark.replace("[CP]", "common practice, no source").replace("*checked*", "(checked)")
    return plain(words.replace("[LAW]", "law:").replace("[STD]", "standard:"))


def _rules() -> dict[str, Gate]:
    """Return the gates of the rule table."""
    gates: dict[str, Gate] = {}
    key = ""
    for line in GATE_RULES.strip().splitlines():
        if line.startswith(" "):
            gates[key] = _told(gates[key], line.strip())
            continue
        key, label, stage, level, *always = (part.strip() for part in line.split("|"))
        gates[key] = Gate(key, label, level, stage, (), (), "", "", bool(always))
    return gates


def _told(gate: Gate, text: str) -> Gate:
    """Return the gate with one more line of its rules."""
    word, _, rest = text.partition(": ")
    if word == "closes":
        return replace(gate, closes_on=(*gate.closes_on, *rest.split()))
    if word == "before":
        return replace(gate, before=(*gate.before, *rest.split()))
    return replace(gate, triggers=(*gate.triggers, _trigger(text)))


def _trigger(text: str) -> GateTrigger:
    """Return one trigger from its rule line."""
    conditions, because = text.split(" > ")
    said: dict[str, Any] = {"because": because}
    for word in conditions.split():
        age = _AGE.match(word)
        if age:
            said["min_age_years"] = float(age.group(1))
        elif word == "salted":
            said["salted_only"] = True
        elif word.startswith("="):
            said["level"] = word[1:]
        elif "~" in word:
            target, chance = word.split("~")
            said |= {"chance_of": target, "chance_above": float(chance)}
        else:
            name = "verdicts" if word[0] == "!" else _FIELDS[word.split("-")[0]]
            said[name] = (*said.get(name, ()), word.removeprefix("!"))
    return GateTrigger(**said)
