"""How much worse is the list than the best adaptive policy? A benchmark, not a test.

    python -m tests.bench.regret [COUNT]

On small random networks one problem is solved twice:

* exactly: at every point do the check, or stop, that has the smallest expected cost
  from there on (full expectimax over all answers and all orders);
* by the list: do its first check, hear the answer, make the list anew; stop when the
  list is empty. Also once as it stands, every answer ignored.

Cost = minutes * price of a minute + the loss that is left. The loss is that of the
project, with both readings of it: what is likely enough may be repaired unseen, and
only what a check has found may be repaired. The list is made by the exact expected
fall of that loss, and by each form of `tests.bench.forms`, of which the application
uses the first, the larger of it and the value of information counting as it does there.
The networks are invented: 3 to 4 causes, 3 findings, 4 to 5 checks in 3 set-ups, one
to three codes or complaints present. Regret = (cost of the list - best) / best.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from tests.bench.forms import FORMS
from tests.oracles.random_networks import generator
from triage.arrays import Flags, Floats
from triage.proof import Looks, Suspects, spread
from triage.schedule import Shop, plan_checks
from triage.stakes import loss

__all__ = ["Problem", "listed", "main", "make_problem", "optimum", "regret", "steps_of"]

SETUPS = ("su-a", "su-b", "su-c")
CHANGE = (0.0, 3.0, 8.0), (4.0, 0.0, 6.0), (9.0, 5.0, 0.0)
PER_MINUTE = 2.0
PRICES = (900.0, 0.05)  # comeback, weight of danger
#: By the exact expected fall of the loss; all other rules are keys of `FORMS`.
EXACT = "exact"
#: Reading of the loss -> words, and the rules by which the list is made.
READINGS = {
    "unseen": ("the likely may be repaired unseen", (EXACT,)),
    "found": ("only what was found is repaired", (EXACT, *FORMS)),
}


@dataclass(frozen=True)
class Problem:
    """All states of the causes, what each check says about them, and what is at stake.

    A state says for each cause whether it is there and whether it has a part in the
    complaint; `weight` is its probability given the complaint. A check that shows no cause
    is a question: it is worth what its answer says.
    """

    weight: Floats  # (states,)
    there: Flags  # (states, causes)
    part: Floats  # (states, causes) P(has a part | state)
    says: Floats  # (checks, states) P(found | state)
    shows: tuple[tuple[int, ...], ...]  # causes that each check shows
    reliable: tuple[Floats, Floats]  # (checks,) P(found | what it shows is there, is not)
    minutes: Floats
    setup: tuple[int, ...]
    danger: Floats
    repair: Floats
    reading: str  # of the loss, one of `READINGS`
    rule: str = EXACT  # by which the list is made
    comeback: float = PRICES[0]
    per_minute: float = PER_MINUTE

    def loss_now(self, weight: Floats, found: int) -> float:
        """Return the loss when nothing more is done; `found` holds a bit for each cause found."""
        q, r = weight @ self.there / weight.sum(), weight @ self.part / weight.sum()
        return float(self._losses(q, r, found, self.reading == "found").sum())

    def _losses(self, q: Floats, r: Floats, found: int, only_found: bool) -> Floats:
        comeback, share = self.comeback, PRICES[1]
        either: Floats = loss(q, r, (comeback, share * self.danger, self.repair))
        if not only_found:
            return either
        bits = np.array([bool(found >> j & 1) for j in range(q.size)])
        out: Floats = np.where(bits, either, comeback * r + share * self.danger * q)
        return out

    def bits(self, check: int) -> int:
        """Return the causes that a check shows, a bit each."""
        return sum(1 << cause for cause in self.shows[check])

    def leg(self, check: int, here: int) -> float:
        """Return the price of going there and doing it."""
        return self.per_minute * (CHANGE[here][self.setup[check]] + float(self.minutes[check]))

    def gain(self, weight: Floats, found: int, done: int) -> Floats:
        """Return (checks, causes): what the list counts each check worth."""
        if self.rule == EXACT:
            return self._fall(weight, found, self.reading == "found")
        q, r = weight @ self.there / weight.sum(), weight @ self.part / weight.sum()
        leave = self.comeback * r + PRICES[1] * self.danger * q
        known = np.array([bool(found >> j & 1) for j in range(q.size)])
        may = np.array([not done >> k & 1 for k in range(len(self.shows))])
        values = FORMS[self.rule][1](self.looks, Suspects(q, leave, self.repair, known), may)
        proof = spread(self.looks, values, (len(self.shows), q.size))
        return np.maximum(proof, self._fall(weight, found, False))

    @cached_property
    def looks(self) -> Looks:
        """The checks as `triage.proof` takes them."""
        rows = [(k, cause) for k, shown in enumerate(self.shows) for cause in shown]
        check, cause = np.array(rows, np.int64).T
        on, off = (share[check] for share in self.reliable)
        apart = np.zeros((len(self.shows), 0), np.bool_)
        return Looks(check, cause, on, off, self.per_minute * self.minutes[check], apart)

    def _fall(self, weight: Floats, found: int, only_found: bool) -> Floats:
        """Return the expected fall of each cause's loss in one reading."""
        total = weight.sum()
        q, r = weight @ self.there / total, weight @ self.part / total
        now, out = self._losses(q, r, found, only_found), []
        for k, found_by in enumerate(self.says):
            after = np.zeros_like(now)
            for says, bit in ((found_by, self.bits(k)), (1.0 - found_by, 0)):
                split = weight * says
                if split.sum() > 0.0:
                    p = split.sum()
                    sides = split @ self.there / p, split @ self.part / p
                    after += p / total * self._losses(*sides, found | bit, only_found)
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
    target = rng.permutation(np.arange(checks) % causes)
    on, off = rng.uniform(0.6, 0.98, checks), rng.uniform(0.01, 0.2, checks)
    return Problem(
        weight / weight.sum(),
        there,
        _part(there, silent, (leak, present), likely),
        np.where(there[:, target].T, on[:, None], off[:, None]),
        tuple((int(cause),) for cause in target),
        (on, off),
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
    for k in range(len(problem.shows)):
        if not done >> k & 1:
            cost = float(total * problem.leg(k, here))
            if cost < best:  # the answers can only add to it
                best = min(best, cost + _answers(problem, weight, state, k))
    return best


def _answers(problem: Problem, weight: Floats, state: tuple[int, int, int], check: int) -> float:
    """Return the smallest expected cost after a check, over both answers."""
    done, found, _ = state
    said, bit = problem.says[check], problem.bits(check)
    after = (done | 1 << check, problem.setup[check])
    yes = optimum(problem, weight * said, (after[0], found | bit, after[1]))
    return yes + optimum(problem, weight * (1.0 - said), (after[0], found, after[1]))


def listed(problem: Problem, weight: Floats, state: tuple[int, int, int]) -> float:
    """Return the expected cost of following the list, made anew after every answer."""
    done, found, here = state
    total = weight.sum()
    if total <= 0.0:
        return 0.0
    order = steps_of(problem, weight, state)
    if not order:
        return float(total * problem.loss_now(weight, found))
    k = order[0]
    said, bit = problem.says[k], problem.bits(k)
    then = (done | 1 << k, problem.setup[k])
    yes = listed(problem, weight * said, (then[0], found | bit, then[1]))
    no = listed(problem, weight * (1.0 - said), (then[0], found, then[1]))
    return float(total * problem.leg(k, here) + yes + no)


def fixed(problem: Problem) -> float:
    """Return the expected cost of doing the whole first list, whatever the answers."""
    here, minutes = 0, 0.0
    sides: list[tuple[Floats, int]] = [(problem.weight, 0)]
    for k in steps_of(problem, problem.weight, (0, 0, 0)):
        minutes += problem.leg(k, here)
        here, said, bit = problem.setup[k], problem.says[k], problem.bits(k)
        sides = [s for w, f in sides for s in ((w * said, f | bit), (w * (1.0 - said), f))]
    left = sum(float(w.sum()) * problem.loss_now(w, f) for w, f in sides if w.sum() > 0.0)
    return minutes + left


def steps_of(problem: Problem, weight: Floats, state: tuple[int, int, int]) -> Sequence[int]:
    """Return the list from here."""
    done, found, here = state
    rows = [k for k in range(len(problem.shows)) if not done >> k & 1]
    change = {a: dict(zip(SETUPS, row, strict=True)) for a, row in zip(SETUPS, CHANGE, strict=True)}
    plan = plan_checks(
        problem.gain(weight, found, done)[rows],
        problem.minutes[rows],
        [SETUPS[problem.setup[k]] for k in rows],
        Shop(SETUPS[here], change, problem.per_minute),
    )
    return [rows[step.offer] for step in plan.steps]


def regret(name: str, reading: str, rules: Sequence[str]) -> list[list[float]]:
    """Return the costs of the best policy, and of list, fixed list and nothing for each rule."""
    problem = make_problem(name, reading)
    start = (0, 0, 0)
    best, idle = optimum(problem, problem.weight, start), problem.loss_now(problem.weight, 0)
    ruled = [replace(problem, rule=rule) for rule in rules]
    return [[best, listed(one, one.weight, start), fixed(one), idle] for one in ruled]


def main(count: int = 200) -> None:
    """Print the regret on `count` networks, for each reading of the loss and each rule."""
    for reading, (words, rules) in READINGS.items():
        costs = np.array([regret(f"regret-{n}", reading, rules) for n in range(count)])
        sys.stdout.write(f"{words}\n")
        _row("nothing is done", (costs[:, 0, 3] - costs[:, 0, 0]) / costs[:, 0, 0])
        for k, rule in enumerate(rules):
            over = (costs[:, k, 1:3] - costs[:, k, :1]) / costs[:, k, :1]
            _row(f"{rule}: list, made anew", over[:, 0])
            _row(f"{rule}: list, as it stands", over[:, 1])


def _row(name: str, over: Floats) -> None:
    """Write the regret of one way on all networks."""
    sys.stdout.write(
        f"  {name:26s} mean {over.mean():7.2%}, median {np.median(over):7.2%},"
        f" 90 % {np.quantile(over, 0.9):7.2%}, worst {over.max():8.2%},"
        f" none in {np.mean(over < 1e-9):4.0%} of {over.size}\n"
    )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:2]))
