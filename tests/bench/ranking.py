"""Which number ranks the causes of a complaint best, posterior, responsibility or lift.

On cars simulated from the model itself, whose true causes are known link by link, the causes are
ranked at intake by

* the posterior q,
* the responsibility r,
* the lift, q minus the prior,

and the rank of the first true cause is scored. Run::

    python -m tests.bench.ranking --cars 5000 --seed 1

With `--loop` the whole loop of list and answers is run instead: the same rule makes the list
(`triage.proof`), and takes the one or the other as how far a cause has a part in the complaint;
a lift below nothing counts as nothing. That says which finds the true causes soonest::

    python -m tests.bench.ranking --loop --cars 400 --seed 1

Cars over the budget of one exact evaluation are left out and counted: they are the most
entangled ones, so that the result holds for the others.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Mapping
from functools import partial

import numpy as np

from api.replay.bench import Bench
from api.replay.cars import Garage, draw_car
from api.replay.judge import OverBudgetError
from api.replay.strategies import Heard, TheList
from graph.load import load_knowledge
from tests.bench.forms import cars_of, outcome_table, told
from triage.arrays import Floats
from triage.score import Estimate, estimate, first_rank

__all__ = ["rank_one_car", "run", "run_loop", "table"]

WAYS = ("posterior q", "responsibility r", "lift q - prior")


def rank_one_car(bench: Bench) -> Mapping[str, float]:
    """Return the rank of the first true cause for each way of ranking."""
    picture = bench.intake
    nodes = bench.car.compiled.network.nodes
    prior = np.array([nodes[cause].base for cause in bench.causes])
    values = (picture.q, picture.r, picture.q - prior)
    return {
        way: first_rank(bench.scores(value), bench.car.truth)
        for way, value in zip(WAYS, values, strict=True)
    }


def run(cars: int, seed: int, work: float) -> tuple[list[Mapping[str, float]], int]:
    """Return the ranks car by car, and how many cars were left out."""
    garage = Garage(load_knowledge())
    ranks: list[Mapping[str, float]] = []
    began, left_out = time.monotonic(), 0
    for number in range(cars):
        stream = np.random.SeedSequence(seed, spawn_key=(number,))
        car = draw_car(garage, np.random.default_rng(stream))
        try:
            ranks.append(rank_one_car(Bench(garage.knowledge, car, work)))
        except OverBudgetError:
            left_out += 1
        if (number + 1) % 250 == 0:
            gone = time.monotonic() - began
            sys.stderr.write(f"{number + 1} of {cars} cars, {gone:.0f} s\n")
    return ranks, left_out


class RankedBy(TheList):
    """The list, with another number for how far a cause has a part in the complaint."""

    def __init__(self, bench: Bench, way: str) -> None:
        super().__init__(bench)
        self.way = way
        nodes = bench.car.compiled.network.nodes
        self.prior = np.array([nodes[cause].base for cause in bench.causes])

    def standing(self, heard: Heard) -> tuple[Floats, Floats]:
        """Return the posterior, and that number."""
        q, r = super().standing(heard)
        return q, {WAYS[0]: q, WAYS[1]: r, WAYS[2]: np.maximum(q - self.prior, 0.0)}[self.way]


def run_loop(cars: int, seed: int, work: float) -> str:
    """Return how soon the loop proves the true causes with each of the three."""
    ways = {way: partial(RankedBy, way=way) for way in WAYS}
    rows = [told(ways, bench, left) for bench, left in cars_of(cars, seed, work)]
    return outcome_table([row for row in rows if row is not None], WAYS[1])


def table(ranks: list[Mapping[str, float]], left_out: int) -> str:
    """Return the scores as text, with differences to r car by car."""
    rows = [
        f"{len(ranks)} cars counted, {left_out} left out over the budget",
        f"{'':<18}{'1 / rank':>16}{'first':>16}{'first three':>16}",
    ]
    score = {
        way: np.array([(1 / r[way], r[way] <= 1, r[way] <= 3) for r in ranks], np.float64)
        for way in WAYS
    }
    for way in WAYS:
        rows.append(f"{way:<18}" + "".join(_cell(estimate(c)) for c in score[way].T))
    rows.append("difference to r, car by car")
    for way in (WAYS[0], WAYS[2]):
        difference = score[way] - score[WAYS[1]]
        rows.append(f"{way:<18}" + "".join(_cell(estimate(c)) for c in difference.T))
    return "\n".join(rows)


def _cell(value: Estimate) -> str:
    return f"{value.mean:>9.3f} ±{value.error:.3f}"


def main() -> None:
    """Read the arguments, run, and print the table."""
    parser = argparse.ArgumentParser(description="Which number ranks causes best?")
    parser.add_argument("--cars", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--work", type=float, default=3e6, help="products of one evaluation")
    parser.add_argument("--loop", action="store_true", help="run the loop of list and answers")
    asked = parser.parse_args()
    if asked.loop:
        sys.stdout.write(run_loop(asked.cars, asked.seed, asked.work) + "\n")
        return
    ranks, left_out = run(asked.cars, asked.seed, asked.work)
    sys.stdout.write(table(ranks, left_out) + "\n")


if __name__ == "__main__":
    main()
