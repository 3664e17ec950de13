"""How much worse is the list than the best adaptive policy? A benchmark, not a test.

    python -m tests.bench.regret [COUNT]

On small random networks one problem is solved twice:

* exactly: at every point do the check, or stop, that has the smallest expected cost
  from there on (full expectimax over all answers and all orders);
* by the list: do its first check, hear the answer, make the list anew; stop when the
  list is empty. Also once as it stands, every answer ignored.

Cost = minutes * price of a minute + the loss that is left. The loss is that of the
project, with both readings of it: what is likely enough may be repaired unseen, and
only what a check has found may be repaired. In the second reading the list is made
once from the value of proof alone and once, as the application does, from the larger of
that and the value of information.
The networks are invented: 3 to 4 causes, 3 findings, 4 to 5 checks in 3 set-ups, one
to three codes or complaints present. Regret = (cost of the list - best) / best.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.oracles.random_networks import generator
from triage.arrays import Flags, Floats
from triage.proof import PROVEN
from triage.schedule import Shop, plan_checks
from triage.stakes import loss

__all__ = ["Problem", "main", "make_problem", "regret"]

SETUPS = ("su-a", "su-b", "su-c")
CHANGE = (0.0, 3.0, 8.0), (4.0, 0.0, 6.0), (9.0, 5.0, 0.0)
PER_MINUTE = 2.0
PRICES = (900.0, 0.05)  # comeback, weight of danger
READINGS = {
    "unseen": "the likely may be repaired unseen; list by value of information",
    "proof": "only what was found is repaired; list by the fall of that loss",
    "both": "only what was found is repaired; list by the larger of both, as the application",
}


@dataclass(frozen=True)
class Problem:
    """All states of the causes, what each check says about them, and what is at stake.

    A state says for each cause whether it is there and whether it has a part in the
    complaint; `weight` is its probability given the complaint.
    """

    weight: Floats  # (states,)
    there: Flags  # (states, causes)
    part: Floats  # (states, causes) P(has a part | state)
    target: tuple[int, ...]  # of each check
    on: Floats  # (checks,)
    off: Floats
    minutes: Floats
    setup: tuple[int, ...]
    danger: Floats
    repair: Floats
    reading: str  # one of `READINGS`

    def loss_now(self, weight: Floats, found: int) -> float:
        """Return the loss when nothing more is done; `found` holds a bit for each cause found."""
        q, r = weight @ self.there / weight.sum(), weight @ self.part / weight.sum()
        return float(self._losses(q, r, found, self.reading != "unseen").sum())

    def _losses(self, q: Floats, r: Floats, found: int, proof: bool) -> Floats:
        comeback, share = PRICES
        either: Floats = loss(q, r, (comeback, share * self.danger, self.repair))
        if not proof:
            return either
        bits = np.array([bool(found >> j & 1) for j in range(q.size)])
        out: Floats = np.where(bits, either, comeback * r + share * self.danger * q)
        return out

    def said(self, check: int) -> Floats:
        """Return P(found | state) of a check."""
        shown = self.there[:, self.target[check]]
        out: Floats = np.where(shown, self.on[check], self.off[check])
        return out

    def leg(self, check: int, here: int) -> float:
        """Return the price of going there and doing it."""
        return PER_MINUTE * (CHANGE[here][self.setup[check]] + float(self.minutes[check]))

    def gain(self, weight: Floats, found: int) -> Floats:
        """Return (checks, causes): what the list counts each check worth."""
        if self.reading == "both":
            return np.maximum(self._proof(weight, found), self._fall(weight, found, False))
        return self._fall(weight, found, self.reading == "proof")

    def _proof(self, weight: Floats, found: int) -> Floats:
        """Return what proving each cause is worth, as `triage.proof` has it."""
        q, r = weight @ self.there / weight.sum(), weight @ self.part / weight.sum()
        leave = PRICES[0] * r + PRICES[1] * self.danger * q
        out = np.zeros((len(self.target), q.size))
        for k, j in enumerate(self.target):
            if not (found >> j & 1 and q[j] >= PROVEN):
                out[k, j] = (self.on[k] - self.off[k]) * leave[j]
        return out

    def _fall(self, weight: Floats, found: int, proof: bool) -> Floats:
        """Return the expected fall of each cause's loss in one reading."""
        total = weight.sum()
        q, r = weight @ self.there / total, weight @ self.part / total
        now, out = self._losses(q, r, found, proof), []
        for k in range(len(self.target)):
            after = np.zeros_like(now)
            for says, bit in ((self.said(k), 1 << self.target[k]), (1.0 - self.said(k), 0)):
                split = weight * says
                if split.sum() > 0.0:
                    p = split.sum()
                    sides = split @ self.there / p, split @ self.part / p
                    after += p / total * self._losses(*sides, found | bit, proof)
            out.append(np.maximum(now - after, 0.0))
        return np.array(out)


def make_problem(name: str, reading: str) -> Problem:
    """Return a random problem; the same name gives the same problem."""
    rng = generator(name)
    causes, checks = int(rng.integers(3, 5)), int(rng.integers(4, 6))
    prior = 10.0 ** rng.uniform(-2.0, -0.5, causes)
    strength = rng.uniform(0.2, 0.9, (causes, 3)) * (rng.random((causes, 3)) < 0.7)
    strength[0, 0] = max(strength[0, 0], 0.3)
    leak = 10.0 ** rng.uniform(-3.0, -1.0, 3)
    present = np.array([True, *(rng.random(2) < 0.4)])
    there = np.array([[s >> j & 1 for j in range(causes)] for s in range(2**causes)], np.bool_)
    silent = np.where(there[:, :, None], 1.0 - strength[None], 1.0)
    none_on = (1.0 - leak) * silent.prod(axis=1)
    likely = np.where(present, 1.0 - none_on, none_on).prod(axis=1)
    weight = np.where(there, prior, 1.0 - prior).prod(axis=1) * likely
    return Problem(
        weight / weight.sum(),
        there,
        _part(there, silent, (leak, present), likely),
        tuple(int(k) for k in rng.permutation(np.arange(checks) % causes)),
        rng.uniform(0.6, 0.98, checks),
        rng.uniform(0.01, 0.2, checks),
        rng.uniform(3.0, 25.0, checks),
        tuple(int(k) for k in rng.integers(0, 3, checks)),
        rng.choice([0.0, 100.0, 600.0, 4000.0], causes),
        rng.uniform(60.0, 900.0, causes),
        reading,
    )


def _part(there: Flags, silent: Floats, seen: tuple[Floats, Flags], likely: Floats) -> Floats:
    """Return P(an active link into a finding that is present | state, findings)."""
    leak, present = seen
    part = np.zeros(there.shape)
    for j in range(there.shape[1]):
        # with all its links silent the cause looks as if it were absent
        others = np.delete(silent, j, axis=1).prod(axis=1)
        none_on = (1.0 - leak) * others
        mute = silent[:, j, :].prod(axis=1) * np.where(present, 1.0 - none_on, none_on).prod(axis=1)
        part[:, j] = np.where(there[:, j], 1.0 - mute / likely, 0.0)
    return part


def optimum(problem: Problem, weight: Floats, state: tuple[int, int, int]) -> float:
    """Return the smallest expected cost from here; weight not normalised.

    `state` is the checks done and the causes found, as bits, and the set-up.
    """
    done, found, here = state
    total = weight.sum()
    if total <= 0.0:
        return 0.0
    best = float(total * problem.loss_now(weight, found))
    for k in range(len(problem.target)):
        if not done >> k & 1:
            cost = float(total * problem.leg(k, here))
            if cost < best:  # the answers can only add to it
                best = min(best, cost + _answers(problem, weight, state, k))
    return best


def _answers(problem: Problem, weight: Floats, state: tuple[int, int, int], check: int) -> float:
    """Return the smallest expected cost after a check, over both answers."""
    done, found, _ = state
    said, bit = problem.said(check), 1 << problem.target[check]
    after = (done | 1 << check, problem.setup[check])
    yes = optimum(problem, weight * said, (after[0], found | bit, after[1]))
    return yes + optimum(problem, weight * (1.0 - said), (after[0], found, after[1]))


def listed(problem: Problem, weight: Floats, state: tuple[int, int, int]) -> float:
    """Return the expected cost of following the list, made anew after every answer."""
    done, found, here = state
    total = weight.sum()
    if total <= 0.0:
        return 0.0
    order = _list(problem, weight, state)
    if not order:
        return float(total * problem.loss_now(weight, found))
    k = order[0]
    said, bit = problem.said(k), 1 << problem.target[k]
    then = (done | 1 << k, problem.setup[k])
    yes = listed(problem, weight * said, (then[0], found | bit, then[1]))
    no = listed(problem, weight * (1.0 - said), (then[0], found, then[1]))
    return float(total * problem.leg(k, here) + yes + no)


def fixed(problem: Problem) -> float:
    """Return the expected cost of doing the whole first list, whatever the answers."""
    here, minutes = 0, 0.0
    sides: list[tuple[Floats, int]] = [(problem.weight, 0)]
    for k in _list(problem, problem.weight, (0, 0, 0)):
        minutes += problem.leg(k, here)
        here, said, bit = problem.setup[k], problem.said(k), 1 << problem.target[k]
        sides = [s for w, f in sides for s in ((w * said, f | bit), (w * (1.0 - said), f))]
    left = sum(float(w.sum()) * problem.loss_now(w, f) for w, f in sides if w.sum() > 0.0)
    return minutes + left


def _list(problem: Problem, weight: Floats, state: tuple[int, int, int]) -> Sequence[int]:
    """Return the list from here."""
    done, found, here = state
    rows = [k for k in range(len(problem.target)) if not done >> k & 1]
    change = {a: dict(zip(SETUPS, row, strict=True)) for a, row in zip(SETUPS, CHANGE, strict=True)}
    plan = plan_checks(
        problem.gain(weight, found)[rows],
        problem.minutes[rows],
        [SETUPS[problem.setup[k]] for k in rows],
        Shop(SETUPS[here], change, PER_MINUTE),
    )
    return [rows[step.offer] for step in plan.steps]


def regret(name: str, reading: str) -> tuple[float, float, float, float]:
    """Return the best cost, and the costs of the list, the fixed list and doing nothing."""
    problem = make_problem(name, reading)
    start = (0, 0, 0)
    return (
        optimum(problem, problem.weight, start),
        listed(problem, problem.weight, start),
        fixed(problem),
        problem.loss_now(problem.weight, 0),
    )


def main(count: int = 200) -> None:
    """Print the regret on `count` networks, for each reading of the loss."""
    for reading, words in READINGS.items():
        costs = np.array([regret(f"regret-{n}", reading) for n in range(count)])
        best, rest = costs[:, :1], costs[:, 1:]
        over = (rest - best) / best
        sys.stdout.write(f"{words}\n")
        for name, column in zip(("list, anew", "list, fixed", "no check"), over.T, strict=True):
            sys.stdout.write(
                f"  {name:12s} regret mean {column.mean():7.2%}, median {np.median(column):7.2%},"
                f" 90 % {np.quantile(column, 0.9):7.2%}, worst {column.max():7.2%},"
                f" none in {np.mean(column < 1e-9):4.0%} of {count}\n"
            )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:2]))
