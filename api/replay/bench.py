"""One car on the bench: everything that all strategies share, worked out once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from api.answering.prices import kind_of, stakes_for
from api.replay.cars import SimulatedCar
from api.replay.judge import Picture, judge
from api.replay.single_fault import SingleFault
from api.replay.value import Catalogue
from graph.compiled import Value
from graph.terms import Knowledge
from triage.schedule import change_over
from triage.stakes import Stakes

__all__ = ["Bench"]

START = "su-scan"  # where the car stands when the codes have been read


@dataclass(frozen=True)
class Bench:
    """A car, the shop's numbers, the budget of one evaluation in products; what was worked out."""

    knowledge: Knowledge
    car: SimulatedCar
    work: float
    seen: dict[tuple[frozenset[tuple[str, Value]], bool], Picture] = field(
        default_factory=dict, repr=False, compare=False
    )

    @cached_property
    def causes(self) -> tuple[str, ...]:
        """Ids of all causes, the order of every array over causes."""
        return self.car.compiled.network.causes

    @cached_property
    def intake(self) -> Picture:
        """The standing at intake."""
        return judge(self.car.compiled.network, self.car.compiled.evidence, self.work)

    @cached_property
    def stakes(self) -> Stakes:
        """The prices of this car."""
        return stakes_for(self.knowledge, self.causes, None)

    @cached_property
    def catalogue(self) -> Catalogue:
        """The checks on offer, as arrays."""
        return Catalogue(self.car.compiled.network, self.car.compiled.checks, self.stakes)

    @cached_property
    def single(self) -> SingleFault:
        """The single-fault table of this car."""
        return SingleFault(self.car.compiled.network)

    @cached_property
    def change(self) -> Mapping[str, Mapping[str, float]]:
        """Minutes from one set-up to another."""
        return {key: setup.change_minutes for key, setup in self.knowledge.setups.items()}

    @cached_property
    def book(self) -> tuple[int, ...]:
        """The checks in book order.

        First what shows a part that a code names, as a code's test table begins; then what else
        can show a cause of the complaint. Both by the reading order of the set-ups, then by id.
        Checks that can show nothing behind the complaint are left out.
        """
        network, checks = self.car.compiled.network, self.car.compiled.checks
        behind = network.ancestors(self.car.compiled.complaint)
        parts = set(self.car.compiled.parts)
        rows = []
        for k, offer in enumerate(checks):
            targets = {verdict.target for verdict in offer.verdicts}
            if targets & behind:
                order = self.knowledge.setups[offer.setup].order
                rows.append((not targets & parts, order, offer.id, k))
        return tuple(k for *_, k in sorted(rows))

    def minutes_to(self, here: str, offer: int) -> float:
        """Return the minutes of a check with the change of set-up before it."""
        check = self.car.compiled.checks[offer]
        return change_over(self.change, here, check.setup) + check.minutes

    def repair_minutes(self, cause: str) -> float:
        """Return the minutes of the shortest repair of a cause; half an hour if none is known."""
        hours = [
            (repair.hours_low + repair.hours_high) / 2.0
            for repair in self.knowledge.repairs.values()
            if kind_of(cause) in repair.fixes
        ]
        return 60.0 * min(hours, default=0.5)

    @cached_property
    def dangerous(self) -> frozenset[str]:
        """The causes on this car that are dangerous deficiencies."""
        causes = self.knowledge.causes
        return frozenset(
            key for key in self.car.present if causes[kind_of(key)].deficiency == "dangerous"
        )

    def scores(self, values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> dict[str, float]:
        """Return an array over the causes by id."""
        return dict(zip(self.causes, values.tolist(), strict=True))

    def start(self) -> dict[str, Value]:
        """Return a copy of the evidence at intake."""
        return dict(self.car.compiled.evidence)
