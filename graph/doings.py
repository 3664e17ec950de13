"""Doings: each check at each place where it can be done on this car, with its targets.

A check is written once; it is done once for each place of its `per` scope. A doing
covers the targets that lie within its place, or that its place is a part of (a look
at one corner sees the axle's and the car's things too). A whole-vehicle cause that
the links seat at one end (``to-front`` without ``to-rear``) is not seen from the
other end.

The *one verdict* of a doing is a finding with all its targets as parents. A written
sensitivity is P(found | it is there), false alarms included, so the net strength and
the leak of that node are::

    strength = 1 - (1 - sensitivity) / specificity      (not below 0)
    leak     = 1 - mean specificity
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from graph.car import Car
from graph.placing import covers, instance_id
from graph.priors import is_salted
from graph.terms import SCOPES, Check, Knowledge, Place
from triage.model import Node, Parent

__all__ = ["SALTED_LOOKS", "Doing", "Target", "doings_of", "one_verdict_node"]

#: Looks that rust makes look guilty: on salted cars their specificity is lower.
SALTED_LOOKS = frozenset(
    {"ck-ring-look", "ck-harness-look", "ck-rust-probe", "ck-witness-marks", "ck-hub-face-look"}
)
SALTED_LOSS, LEAST_SPECIFICITY = 0.1, 0.5
#: Sensitivity and specificity are kept this far from 0 and 1.
LEAST_CHANCE = 0.005


@dataclass(frozen=True, slots=True)
class Target:
    """One thing that a doing can show."""

    term: str
    node: str
    place: Place
    sensitivity: float
    specificity: float

    @property
    def net_strength(self) -> float:
        """P(found because of it), false alarms taken out."""
        return max(0.0, 1.0 - (1.0 - self.sensitivity) / self.specificity)


@dataclass(frozen=True, slots=True)
class Doing:
    """One check done at one place."""

    check: Check
    place: Place
    targets: tuple[Target, ...]

    @property
    def key(self) -> str:
        """Id of the doing, and of its one-verdict node."""
        return instance_id(self.check.id, self.place)


def doings_of(car: Car) -> dict[str, tuple[Doing, ...]]:
    """Return for each check that this car can have its doings, intake checks left out.

    A doing without a target left is left out; so is a check that a fact rules out.
    """
    salted = is_salted(car.case.vehicle)
    ends = _ends(car.knowledge)
    found: dict[str, tuple[Doing, ...]] = {}
    for check in car.knowledge.checks.values():
        if check.kind == "intake" or check.id in car.view.removed:
            continue
        rows = [
            Doing(check, place, tuple(_targets(car, check, place, ends, salted=salted)))
            for place in SCOPES[check.per]
        ]
        found[check.id] = tuple(row for row in rows if row.targets)
    return found


def _ends(knowledge: Knowledge) -> Mapping[str, Place]:
    """Return the end of the car at which the links seat whole-vehicle causes."""
    reaches: dict[str, set[str]] = {}
    for link in knowledge.links:
        if link.reach in ("to-front", "to-rear"):
            reaches.setdefault(link.source, set()).add(link.reach)
    words = {"to-front": "front", "to-rear": "rear"}
    return {term: words[next(iter(ends))] for term, ends in reaches.items() if len(ends) == 1}


def _targets(
    car: Car, check: Check, place: Place, ends: Mapping[str, Place], *, salted: bool
) -> Iterable[Target]:
    """Return what one doing can show."""
    loss = SALTED_LOSS if salted and check.id in SALTED_LOOKS else 0.0
    for row in check.detects:
        specificity = row.specificity
        if loss:
            specificity = min(specificity, max(LEAST_SPECIFICITY, specificity - loss))
        for other, node in car.places(row.target).items():
            seat = ends.get(row.target, other) if other == "vehicle" else other
            if covers(place, seat) or covers(seat, place):
                yield Target(row.target, node, other, _held(row.sensitivity), _held(specificity))


def _held(chance: float) -> float:
    return min(1.0 - LEAST_CHANCE, max(LEAST_CHANCE, chance))


def one_verdict_node(key: str, targets: Iterable[Target]) -> Node:
    """Return the finding "something was found" over some targets of a doing."""
    targets = tuple(targets)
    leak = 1.0 - sum(target.specificity for target in targets) / len(targets)
    strengths: dict[str, float] = {}
    for target in targets:
        strengths[target.node] = max(strengths.get(target.node, 0.0), target.net_strength)
    return Node(key, "finding", leak, tuple(Parent(node, s) for node, s in strengths.items()))
