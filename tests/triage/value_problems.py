"""Small networks with checks and prices, and the value of a check by enumeration.

The oracle adds up every state of a small network in which the check's verdict and the
links of the cause are nodes of their own, and applies the loss by hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests import builders
from tests.oracles.documents import Document
from tests.oracles.enumeration import enumerate_in_doubles
from tests.oracles.links import opened, with_verdict
from tests.oracles.random_networks import (
    Shape,
    Statements,
    generator,
    random_document,
    random_evidence,
)
from triage.model import Network
from triage.stakes import Stakes
from triage.value import Outlook, look_ahead

__all__ = ["CASES", "Check", "Say", "Situation", "chance", "hub", "situation"]

SURE = 1e12  # effort enough for a lane for every node


@dataclass(frozen=True)
class Say:
    """One verdict."""

    target: str
    p_found_if_on: float
    p_found_if_off: float
    node: str | None = None


@dataclass(frozen=True)
class Check:
    """One check offered."""

    id: str
    verdicts: tuple[Say, ...]
    place: str = "vehicle"
    setup: str = "su-a"
    minutes: float = 5.0


@dataclass(frozen=True)
class Situation:
    """A network, evidence and prices."""

    document: Document
    evidence: Statements
    stakes: Stakes = field(default_factory=Stakes)

    @property
    def causes(self) -> tuple[str, ...]:
        """The causes in the order of the engine's arrays."""
        return Network.from_document(self.document).causes

    def outlook(self, *checks: Check) -> Outlook:
        """Return the engine's look ahead."""
        network = Network.from_document(self.document)
        return look_ahead(network, self.evidence, checks, self.stakes, effort=SURE)

    def losses(self, told: Mapping[str, bool] | None = None) -> np.ndarray[Any, Any]:
        """Return each cause's loss by enumeration, verdicts in `told` known."""
        out = []
        for cause in self.causes:
            document = opened(self.document, cause, self.evidence)
            answer = enumerate_in_doubles(document, {**self.evidence, **(told or {})})
            q, r = answer.on[cause], answer.on["part"]
            leave = self.stakes.comeback * r + self._danger(cause) * q
            out.append(min(leave, self._repair(cause) * (1.0 - q)))
        return np.array(out)

    def _danger(self, cause: str) -> float:
        return self.stakes.danger_weight * self.stakes.danger.get(cause, 0.0)

    def _repair(self, cause: str) -> float:
        return self.stakes.repair.get(cause, self.stakes.repair_default)

    def value(self, target: str, on: float, off: float) -> np.ndarray[Any, Any]:
        """Return the expected fall of each cause's loss by one verdict, by enumeration."""
        heard = Situation(with_verdict(self.document, target, on, off), self.evidence, self.stakes)
        found = enumerate_in_doubles(heard.document, self.evidence).on["verdict"]
        after = found * heard.losses({"verdict": True})
        after += (1.0 - found) * heard.losses({"verdict": False})
        return self.losses() - after


SHAPES = {
    "two-layers": Shape(causes=5, states=0, findings=4, layers=2),
    "states": Shape(causes=4, states=3, findings=3, layers=3),
    "deep": Shape(causes=3, states=4, findings=3, layers=4),
}
CASES = [f"value-{shape}/{turn}" for shape in SHAPES for turn in range(8)]


def situation(name: str) -> tuple[Situation, list[Say]]:
    """Return a small network with evidence on its findings, and a verdict on each cause."""
    rng = generator(name)
    document = random_document(rng, SHAPES[name.removeprefix("value-").split("/")[0]])
    drawn = random_evidence(rng, document, stated=0.7, soft=0.2)
    evidence = {key: value for key, value in drawn.items() if key.startswith("f")}
    causes = [n["id"] for n in document["nodes"] if n["kind"] == "cause"]
    stakes = Stakes(
        danger={c: float(rng.choice([0.0, 100.0, 600.0, 4000.0])) for c in causes},
        repair={c: float(rng.uniform(60.0, 900.0)) for c in causes},
    )
    says = [Say(c, float(rng.uniform(0.5, 0.99)), float(rng.uniform(0.01, 0.3))) for c in causes]
    return Situation(document, evidence, stakes), says


def hub() -> Situation:
    """Return a worn bearing that hums, and a seal that has nothing to do with it."""
    document = builders.network_document(
        builders.cause("play", 0.1),
        builders.cause("seal", 0.3),
        builders.cause("tyre", 0.2),
        builders.finding("hum", 0.02, play=0.7, tyre=0.4),
        builders.finding("drip", 0.01, seal=0.9),
    )
    return Situation(document, {"hum": True})


def chance(document: Document, evidence: Statements, key: str, value: bool) -> float:
    """Return P(node = value | evidence)."""
    on = enumerate_in_doubles(document, evidence).on[key]
    return on if value else 1.0 - on
