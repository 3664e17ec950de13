"""The list and the baselines: who says which check comes next.

Each strategy sees the same car and, for a check that it asks for, the same answer. It says which
check comes next, and how it ranks the causes at intake.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

import numpy as np

from api.replay.bench import START, Bench
from api.replay.judge import OverBudgetError, Picture, judge
from api.replay.value import Catalogue, Form
from graph.compiled import Value
from triage.arrays import Flags, Floats
from triage.proof import PROVEN, worth
from triage.schedule import Shop, change_over, plan_checks

__all__ = ["PROOF", "STRATEGIES", "FixedOrder", "Heard", "Strategy", "TheList", "look", "make"]

#: Posterior from which a cause that was found counts as proven.
PROOF = PROVEN
#: Name -> words, in the order of the table.
STRATEGIES: Mapping[str, str] = {
    "list": "the list",
    "rate": "exact chance of finding a cause with a part in it, per minute",
    "names": "what the code names first, then the list",
    "book": "fixed book order",
    "single": "single-fault naive Bayes",
    "random": "random order",
}


class Heard:
    """What has been answered so far: where the car stands, what is still open, what it says.

    `whole` holds all evidence; `located` leaves out answers that name no place and no thing.
    `found` are the causes that some check could mean when it said "found".
    """

    def __init__(self, bench: Bench) -> None:
        self.here = START
        self.open: Flags = np.ones(len(bench.car.compiled.checks), np.bool_)
        self.intake: dict[str, Value] = bench.start()
        self.whole: dict[str, Value] = bench.start()
        self.located: dict[str, Value] = bench.start()
        self.found: set[str] = set()


def look(bench: Bench, heard: Heard, *, parts: bool = True) -> Picture:
    """Return the standing now; answers without a place are left out where they cost too much.

    Strategies that heard the same on one car share the work.
    """
    network = bench.car.compiled.network
    key = (frozenset(heard.whole.items()), parts)
    if key not in bench.seen:
        try:
            bench.seen[key] = judge(network, heard.whole, 3.0 * bench.work, parts=parts)
        except OverBudgetError:
            bench.seen[key] = judge(network, heard.located, 10.0 * bench.work, parts=parts)
    return bench.seen[key]


class Strategy(Protocol):
    """Chooses the next check."""

    worth: bool  # False once nothing more was worth its time
    ranking: Mapping[str, float]  # at intake, higher is likelier

    def choose(self, heard: Heard) -> int | None:
        """Return the next check, None when there is none left."""


class TheList:
    """The list, made anew after every answer, with the cheap value of a check.

    A check is worth what it is expected to tell, or what finding a cause saves, whichever is
    more, cause by cause, as on the list that a technician sees. When nothing more is worth its
    time it goes on all the same, to see how long a proof takes.

    Parameters
    ----------
    bench : the car
    book : its checks at other prices; None for the car's own
    form : of the worth of finding
    """

    def __init__(self, bench: Bench, book: Catalogue | None = None, form: Form = worth) -> None:
        self.bench, self.form = bench, form
        self.book = book or bench.catalogue
        self.worth = True
        self.ranking: Mapping[str, float] = bench.scores(bench.intake.r)

    def choose(self, heard: Heard) -> int | None:
        """Return the first check of the list as it is now."""
        rows = np.flatnonzero(heard.open)
        book = self.book
        gain = self._gain(heard)[rows]
        setups = [book.setups[k] for k in rows]
        for price in (self.bench.stakes.per_minute, 0.0):
            shop = Shop(heard.here, self.bench.change, price if self.worth else 0.0, 1)
            plan = plan_checks(gain, book.minutes[rows], setups, shop)
            if plan.steps:
                return int(rows[plan.steps[0].offer])
            self.worth = False
        return None

    def standing(self, heard: Heard) -> tuple[Floats, Floats]:
        """Return the posterior of each cause, and how far it has a part in the complaint."""
        bench = self.bench
        picture = look(bench, heard) if heard.whole != heard.intake else bench.intake
        return picture.q, picture.r

    def _gain(self, heard: Heard) -> Floats:
        """Return what each check is expected to bring now."""
        found = np.array([cause in heard.found for cause in self.bench.causes])
        return self.book.larger_gain(self.standing(heard), (found, heard.open), self.form)


class FixedOrder:
    """Checks in an order that no answer changes."""

    def __init__(self, order: tuple[int, ...], ranking: Mapping[str, float]) -> None:
        self.order, self.ranking, self.worth = order, ranking, True

    def choose(self, heard: Heard) -> int | None:
        """Return the first one that is still open."""
        return next((k for k in self.order if heard.open[k]), None)


class ChanceForMinutes:
    """The check most likely to find what has a part in the complaint, for its minutes.

    Probability over cost with the exact responsibilities, no prices: of each check its best
    verdict counts, r times (sensitivity - false alarms), over minutes and change of set-up.
    What is proven already counts nothing.
    """

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.worth = True
        self.ranking: Mapping[str, float] = bench.scores(bench.intake.r)

    def choose(self, heard: Heard) -> int | None:
        """Return the best check, None when none finds anything."""
        bench = self.bench
        picture = look(bench, heard) if heard.whole != heard.intake else bench.intake
        found = np.array([cause in heard.found for cause in bench.causes])
        part = np.where(found & (picture.q >= PROOF), 0.0, picture.r)
        book = bench.catalogue
        value = np.zeros(len(book.offers))
        np.maximum.at(value, book.offer, part[book.cause] * (book.on - book.off))
        return _best_for_minutes(bench, heard, value)


class SingleFaultOrder:
    """The check with the largest chance of finding the one fault for its minutes."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.worth = True
        self.ranking: Mapping[str, float] = bench.scores(
            bench.single.posterior(bench.car.compiled.evidence)
        )

    def choose(self, heard: Heard) -> int | None:
        """Return the best check, None when none finds anything."""
        book = self.bench.catalogue
        chance = self.bench.single.posterior(heard.whole)
        value = np.zeros(len(book.offers))
        np.add.at(value, book.offer, chance[book.cause] * (book.on - book.off))
        return _best_for_minutes(self.bench, heard, value)


def _best_for_minutes(bench: Bench, heard: Heard, value: Floats) -> int | None:
    """Return the open check with the largest value for its minutes, change of set-up included."""
    book = bench.catalogue
    change = {s: change_over(bench.change, heard.here, s) for s in set(book.setups)}
    minutes = book.minutes + np.array([change[setup] for setup in book.setups])
    rate = np.where(heard.open, value / minutes, -1.0)
    best = int(np.argmax(rate))
    return best if rate[best] > 0.0 else None


def make(name: str, bench: Bench, generator: np.random.Generator) -> Strategy:
    """Return a strategy by its name in `STRATEGIES`; chance serves the random order alone."""
    if name == "list":
        return TheList(bench)
    if name == "names":
        strategy = TheList(bench)
        parts = bench.car.compiled.parts
        named = {key: len(parts) - parts.index(key) if key in parts else 0 for key in bench.causes}
        strategy.ranking = {key: float(score) for key, score in named.items()}
        return strategy
    if name == "rate":
        return ChanceForMinutes(bench)
    if name == "single":
        return SingleFaultOrder(bench)
    order = bench.book if name == "book" else tuple(generator.permutation(bench.book).tolist())
    return FixedOrder(order, _by_order(bench, order))


def _by_order(bench: Bench, order: tuple[int, ...]) -> dict[str, float]:
    """Return scores that fall with the first check that shows a cause."""
    scores = dict.fromkeys(bench.causes, -float(len(order)))
    for place, k in reversed(list(enumerate(order))):
        for verdict in bench.car.compiled.checks[k].verdicts:
            if verdict.target in scores:
                scores[verdict.target] = -float(place)
    return scores
