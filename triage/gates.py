"""Safety gates: what must be looked at before the car is driven or worked under.

A gate comes before any ranking. It opens on any one of its triggers, and chance
counts with its consequence: a trigger may name a small chance of something
grave. It closes only on its named checks with a result. What nobody has
answered counts as yes. Gates are data; this module only evaluates them.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

__all__ = ["LEVELS", "OpenGate", "Situation", "open_gates"]

#: Levels, gravest first.
LEVELS = (
    "do-not-drive",
    "no-road-test-until-lift-check",
    "road-test-lot-only",
    "lot-or-spare-limit",
    "none",
)


class Trigger(Protocol):
    """One way to open a gate: every condition it lists holds."""

    @property
    def findings(self) -> Sequence[str]: ...
    @property
    def contexts(self) -> Sequence[str]: ...
    @property
    def codes(self) -> Sequence[str]: ...
    @property
    def verdicts(self) -> Sequence[str]: ...
    @property
    def chance_of(self) -> str: ...
    @property
    def chance_above(self) -> float: ...
    @property
    def facts(self) -> Sequence[str]: ...
    @property
    def min_age_years(self) -> float: ...
    @property
    def salted_only(self) -> bool: ...
    @property
    def level(self) -> str: ...
    @property
    def because(self) -> str: ...


class Gate(Protocol):
    """A gate as the knowledge states it."""

    @property
    def id(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def triggers(self) -> Sequence[Trigger]: ...
    @property
    def closes_on(self) -> Sequence[str]: ...
    @property
    def always(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class Situation:
    """What is known of the car, by kind (no places)."""

    present: frozenset[str] = frozenset()  # findings and codes present
    contexts: frozenset[str] = frozenset()
    facts: frozenset[str] = frozenset()
    found: frozenset[str] = frozenset()  # causes and states that a check found
    chances: Mapping[str, float] | None = None  # cause or state -> largest chance at any place
    passed: frozenset[str] = frozenset()  # checks done with nothing found
    age_years: float | None = None
    salted: bool | None = None


@dataclass(frozen=True, slots=True)
class OpenGate:
    """A gate that is open, why, and what closes it."""

    id: str
    level: str
    because: tuple[str, ...]
    closes_on: tuple[str, ...]


def open_gates(gates: Collection[Gate], situation: Situation) -> list[OpenGate]:
    """Return the open gates, gravest first.

    A gate whose closing checks were all done with nothing found is closed,
    unless a check has found what the gate is about.
    """
    out = []
    for gate in gates:
        hits = [trigger for trigger in gate.triggers if _holds(trigger, situation)]
        if not hits and not gate.always:
            continue
        proven = any(trigger.verdicts for trigger in hits)
        if gate.closes_on and set(gate.closes_on) <= situation.passed and not proven:
            continue
        levels = [trigger.level or gate.level for trigger in hits] or [gate.level]
        because = tuple(dict.fromkeys(trigger.because for trigger in hits if trigger.because))
        out.append(OpenGate(gate.id, min(levels, key=LEVELS.index), because, tuple(gate.closes_on)))
    return sorted(out, key=lambda gate: (LEVELS.index(gate.level), gate.id))


def _holds(trigger: Trigger, situation: Situation) -> bool:
    """Return whether every condition of a trigger holds; an unknown one does."""
    chances = situation.chances or {}
    if not set(trigger.findings) | set(trigger.codes) <= situation.present:
        return False
    if not set(trigger.contexts) <= situation.contexts:
        return False
    if not set(trigger.verdicts) <= situation.found or not set(trigger.facts) <= situation.facts:
        return False
    if trigger.chance_of and not chances.get(trigger.chance_of, 0.0) > trigger.chance_above:
        return False
    if situation.age_years is not None and situation.age_years < trigger.min_age_years:
        return False
    return not (trigger.salted_only and situation.salted is False)
