"""The order of checks against brute force over all orders, and against published rules.

The brute force below knows nothing of chains, weights or tables: it walks every order
(or every order that obeys the rules), finds the shortest way between set-ups by trying
every path, and adds up value times minutes.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.oracles.random_networks import generator
from triage.arrays import Floats
from triage.precedence import NO_RULES
from triage.schedule import TIGHTEN, Plan, Rules, Shop, plan_checks

Change = dict[str, dict[str, float]]
FREE = 1e-9  # a price of a minute at which everything is worth its time


@dataclass(frozen=True)
class Problem:
    """A list to be made: values, minutes, set-ups, change-overs, where the car stands."""

    gain: Floats
    minutes: Floats
    setups: tuple[str, ...]
    change: Change
    start: str
    rules: Rules = NO_RULES

    def plan(self, per_minute: float = FREE, longest: int = 12) -> Plan:
        """Return the list."""
        shop = Shop(self.start, self.change, per_minute, longest)
        return plan_checks(self.gain, self.minutes, self.setups, shop, self.rules)

    def area(self, order: Sequence[int]) -> float:
        """Return value times minutes until each check is done, along one order."""
        told, here, loose, clock, area = np.zeros(self.gain.shape[1]), self.start, False, 0.0, 0.0
        refit = self.rules.refit
        for k in order:
            there = self.setups[k]
            if refit is not None and loose and there == refit.road:
                clock += self.way(here, refit.setup) + refit.minutes
                clock += self.way(refit.setup, there)
            else:
                clock += self.way(here, there)
            if refit is not None:
                loose = there == refit.off or (loose and there != refit.road)
            clock += self.minutes[k]
            area += clock * float(np.maximum(self.gain[k] - told, 0.0).sum())
            told, here = np.maximum(told, self.gain[k]), there
        return area

    def way(self, here: str, there: str) -> float:
        """Return the shortest way, by trying every path; the road is no thoroughfare."""
        refit = self.rules.refit
        shut = set(self.rules.gates) | ({refit.off, refit.road} if refit else set())
        middle = [s for s in self.change if s not in {here, there} | shut]
        paths = (p for n in range(len(middle) + 1) for p in itertools.permutations(middle, n))
        if here == there:
            return 0.0
        return min(
            sum(self.change[a][b] for a, b in itertools.pairwise((here, *path, there)))
            for path in paths
        )

    def allowed(self, order: Sequence[int]) -> bool:
        """Return whether an order obeys the rules."""
        when = {k: n for n, k in enumerate(order)}
        gates = self.rules.gates.items()
        pairs = [(a, b) for a in self.rules.first for b in order if b not in self.rules.first]
        pairs += [
            (a, b) for s, needed in gates for a in needed for b in order if self.setups[b] == s
        ]
        pairs += [(a, b) for early, late in self.rules.before for a in early for b in late]
        return all(when[a] < when[b] for a, b in pairs)

    def best(self) -> tuple[float, tuple[int, ...]]:
        """Return the smallest area over all orders that obey the rules."""
        orders = itertools.permutations(range(len(self.setups)))
        return min((self.area(order), order) for order in orders if self.allowed(order))


def listed(plan: Plan) -> list[int]:
    """Return the checks of a list, without tightening the wheels."""
    return [step.offer for step in plan.steps if step.offer != TIGHTEN]


def random_problem(name: str, checks: int, setups: int, rules: Rules = NO_RULES) -> Problem:
    """Return a problem with a random asymmetric matrix of change-overs."""
    rng = generator(name)
    names = [f"su-{k}" for k in range(setups)]
    change = {a: {b: float(rng.integers(1, 20)) for b in names if b != a} for a in names}
    homes = tuple(names[int(rng.integers(setups))] for _ in range(checks))
    gain = np.diag(rng.uniform(1.0, 50.0, checks))
    return Problem(gain, rng.uniform(2.0, 30.0, checks), homes, change, names[0], rules)


def one_place(values: Sequence[float], minutes: Sequence[float]) -> Problem:
    """Return perfect independent checks of one cause each, all on one spot."""
    return Problem(np.diag(values), np.array(minutes), ("a",) * len(values), {"a": {}}, "a")
