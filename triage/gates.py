"""Safety gates: what must be looked at before the car is driven or worked under.

A gate comes before any ranking. It opens on any one of its triggers, and chance
counts with its consequence: a trigger may name a small chance of something
grave. What was asked and not answered counts as yes. Gates are data; this module
only evaluates what opens them. What closes them is in `triage.gate_closing`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

__all__ = ["CORNERS", "LEVELS", "Gate", "OpenGate", "Opening", "Situation", "Trigger"]
__all__ += ["gravest", "open_gates", "openings"]

#: Levels, gravest first.
LEVELS = (
    "do-not-drive",
    "no-road-test-until-lift-check",
    "road-test-lot-only",
    "lot-or-spare-limit",
    "none",
)
#: The corners that lie within each place.
CORNERS: Mapping[str, frozenset[str]] = {
    "lf": frozenset({"lf"}),
    "rf": frozenset({"rf"}),
    "lr": frozenset({"lr"}),
    "rr": frozenset({"rr"}),
    "front": frozenset({"lf", "rf"}),
    "rear": frozenset({"lr", "rr"}),
    "left": frozenset({"lf", "lr"}),
    "right": frozenset({"rf", "rr"}),
    "vehicle": frozenset({"lf", "rf", "lr", "rr"}),
}


class Trigger(Protocol):
    """One way to open a gate: every condition it lists holds."""

    @property
    def findings(self) -> Sequence[str]:
        """Findings that must be there, at any place."""

    @property
    def contexts(self) -> Sequence[str]:
        """Circumstances that must hold."""

    @property
    def codes(self) -> Sequence[str]:
        """Codes that must be stored."""

    @property
    def verdicts(self) -> Sequence[str]:
        """Causes and states that a check must have found."""

    @property
    def chance_of(self) -> str:
        """Cause or state whose chance counts, or nothing."""

    @property
    def chance_above(self) -> float:
        """What that chance must exceed."""

    @property
    def facts(self) -> Sequence[str]:
        """Vehicle facts that must be known."""

    @property
    def min_age_years(self) -> float:
        """Age from which it holds."""

    @property
    def salted_only(self) -> bool:
        """Whether it holds on salted roads only."""

    @property
    def level(self) -> str:
        """Level that it opens at."""

    @property
    def because(self) -> str:
        """The sentence shown."""


class Gate(Protocol):
    """A gate as the knowledge states it."""

    @property
    def id(self) -> str:
        """The gate."""

    @property
    def level(self) -> str:
        """Level that it opens at."""

    @property
    def triggers(self) -> Sequence[Trigger]:
        """Ways to open it, any one of which is enough."""

    @property
    def closes_on(self) -> Sequence[str]:
        """Every check that has to do with closing it."""

    @property
    def always(self) -> bool:
        """Whether it stands before its stage on every job."""


@dataclass(frozen=True, slots=True)
class Situation:
    """What is known of the car, by kind (no places).

    Attributes
    ----------
    present : findings and codes present
    unsure : findings that were asked about and not answered; they count as yes
    found : causes and states that a check found
    chances : cause or state -> largest chance at any place
    where : corners of what is present, unsure or found; not named = anywhere
    chance_at : the same chances by corner, where they are known by corner
    age_years, salted : `None` is not known, and counts as yes
    """

    present: frozenset[str] = frozenset()
    unsure: frozenset[str] = frozenset()
    contexts: frozenset[str] = frozenset()
    facts: frozenset[str] = frozenset()
    found: frozenset[str] = frozenset()
    chances: Mapping[str, float] = field(default_factory=dict)
    where: Mapping[str, frozenset[str]] = field(default_factory=dict)
    chance_at: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    age_years: float | None = None
    salted: bool | None = None


@dataclass(frozen=True, slots=True)
class Opening:
    """One trigger that holds."""

    gate: str
    level: str
    because: str
    corners: frozenset[str]  # that it concerns


@dataclass(frozen=True, slots=True)
class OpenGate:
    """A gate that is open, why, and what closes it.

    `missing` says what still has to be done, in short sentences over ids;
    `places` is each closing check with the corners it must still be done at.
    """

    id: str
    level: str
    because: tuple[str, ...]
    closes_on: tuple[str, ...]
    missing: tuple[str, ...] = ()
    places: Mapping[str, frozenset[str]] = field(default_factory=dict)


def openings(gate: Gate, situation: Situation) -> list[Opening]:
    """Return every trigger of a gate that holds, each with its level and corners."""
    out = []
    for trigger in gate.triggers:
        if _holds(trigger, situation):
            unsure = sorted((set(trigger.findings) & situation.unsure) - situation.present)
            because = trigger.because
            if unsure:
                because = f"{because} (asked and not answered, which counts as yes)"
            level = trigger.level or gate.level
            out.append(Opening(gate.id, level, because, _corners(trigger, situation)))
    return out


def open_gates(gates: Collection[Gate], situation: Situation) -> list[OpenGate]:
    """Return the gates that the situation opens, gravest first; nothing closes any here."""
    out = []
    for gate in gates:
        hits = openings(gate, situation)
        if hits or gate.always:
            level = gravest([hit.level for hit in hits] or [gate.level])
            because = tuple(dict.fromkeys(hit.because for hit in hits if hit.because))
            out.append(OpenGate(gate.id, level, because, tuple(gate.closes_on)))
    return sorted(out, key=lambda gate: (LEVELS.index(gate.level), gate.id))


def gravest(levels: Sequence[str]) -> str:
    """Return the gravest of some levels."""
    return min(levels, key=LEVELS.index)


def _corners(trigger: Trigger, situation: Situation) -> frozenset[str]:
    """Return the corners a trigger concerns: those of all it names, else every one."""
    named = [
        situation.where[key]
        for key in (*trigger.findings, *trigger.verdicts)
        if situation.where.get(key)
    ]
    likely = situation.chance_at.get(trigger.chance_of, {})
    named.append(frozenset(at for at, p in likely.items() if p > trigger.chance_above))
    return frozenset().union(*named) or CORNERS["vehicle"]


def _holds(trigger: Trigger, situation: Situation) -> bool:
    """Return whether every condition of a trigger holds; an unknown one does."""
    told = situation.present | situation.unsure
    if not set(trigger.findings) | set(trigger.codes) <= told:
        return False
    if not set(trigger.contexts) <= situation.contexts:
        return False
    if not set(trigger.verdicts) <= situation.found or not set(trigger.facts) <= situation.facts:
        return False
    chance = situation.chances.get(trigger.chance_of, 0.0)
    if trigger.chance_of and not chance > trigger.chance_above:
        return False
    if situation.age_years is not None and situation.age_years < trigger.min_age_years:
        return False
    return not (trigger.salted_only and situation.salted is False)
