"""The list as it is written at intake, by posterior, responsibility or lift, walked to its end.

One list a car and number: it is not made anew after answers, so that thousands of cars can be
afforded. A true cause is proven as in the loop (`api.replay.loop`): a check that shows it has
said "found", and the exact posterior from all that was heard is 0.9 or more.

**Not proven on the list** has a price of its own, stated two ways: `AFTER` minutes of further
diagnosis after the list's end, as "sensor first" counts it (common practice, no source), or a
whole working day, as the loop counts it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from api.replay.bench import START, Bench
from api.replay.loop import LIMIT, follow
from api.replay.strategies import FixedOrder, Heard, TheList
from triage.arrays import Floats
from triage.schedule import Plan, Shop, plan_checks
from triage.score import estimate

__all__ = ["WAYS", "RankedBy", "Walked", "parts_by", "walked", "written_table"]

WAYS = ("posterior q", "responsibility r", "lift q - prior")
#: Minutes of further diagnosis when the list ends without a proof.
AFTER = 60.0


def parts_by(bench: Bench, picture: tuple[Floats, Floats] | None = None) -> dict[str, Floats]:
    """Return each number over the causes, at intake or from posterior and responsibility."""
    nodes = bench.car.compiled.network.nodes
    q, r = picture or (bench.intake.q, bench.intake.r)
    prior = np.array([nodes[cause].base for cause in bench.causes])
    return dict(zip(WAYS, (q, r, q - prior), strict=True))


class RankedBy(TheList):
    """The list, with another number for how far a cause has a part in the complaint."""

    def __init__(self, bench: Bench, way: str) -> None:
        super().__init__(bench)
        self.way = way

    def standing(self, heard: Heard) -> tuple[Floats, Floats]:
        """Return the posterior, and that number."""
        q, r = super().standing(heard)
        return q, np.maximum(parts_by(self.bench, (q, r))[self.way], 0.0)

    def written(self) -> Plan:
        """Return the whole list as it is at intake."""
        book = self.book
        shop = Shop(START, self.bench.change, self.bench.stakes.per_minute)
        return plan_checks(self._gain(Heard(self.bench)), book.minutes, book.setups, shop)


@dataclass(frozen=True, slots=True)
class Walked:
    """How a list did; `LIMIT` minutes where it did not."""

    first: float  # minutes until a true cause is proven
    last: float  # until all are that can be
    end: float  # minutes of the whole list
    missed: int  # dangerous faults
    needless: int  # parts
    checks: int  # on the list


def walked(bench: Bench, way: str, left: frozenset[str]) -> Walked:
    """Return how the list by one number does on a car.

    Parameters
    ----------
    bench, way : the car, and the number out of `WAYS`
    left : its provable true causes
    """
    plan = RankedBy(bench, way).written()
    order = tuple(step.offer for step in plan.steps)
    told = follow(FixedOrder(order, bench.scores(bench.intake.r)), bench, left)
    return Walked(told.first, told.minutes, plan.minutes, told.missed, told.needless, len(order))


def written_table(rows: Sequence[Mapping[str, Mapping[str, Any]]]) -> list[str]:
    """Return the measures of each list, and the differences to r car by car."""
    scores = {way: np.array([_measures(Walked(**row[way])) for row in rows]) for way in WAYS}
    out = [" " * 18 + "".join(f"{words:>24}" for words in _MEASURES)]
    out += [f"{way:<18}{_cells(scores[way])}" for way in WAYS]
    out.append("less responsibility r, car by car")
    for way in (WAYS[0], WAYS[2]):
        out.append(f"{way:<18}{_cells(scores[way] - scores[WAYS[1]])}")
    return out


_MEASURES = (
    "proven on the list",
    "minutes, else end + 60",
    "minutes, else 480",
    "all, else end + 60",
    "all, else 480",
    "minutes of the list",
    "checks",
    "dangerous missed",
    "needless parts",
)


def _measures(told: Walked) -> tuple[float, ...]:
    """Return the columns of `_MEASURES` for one list on one car."""
    after = told.end + AFTER
    return (
        float(told.first < LIMIT),
        told.first if told.first < LIMIT else after,
        told.first,
        told.last if told.last < LIMIT else after,
        told.last,
        told.end,
        told.checks,
        told.missed,
        told.needless,
    )


def _cells(values: Floats) -> str:
    """Return mean and standard error of each column."""
    told = [estimate(column) for column in values.T]
    return "".join(f"{one.mean:>16.3f} ±{one.error:<6.3f}" for one in told)
