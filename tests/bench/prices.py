"""What danger and a comeback should count, on simulated cars. A benchmark, not a test.

    python -m tests.bench.prices --cars 400 --seed 31

Two prices are chosen here: lambda, the weight of danger beside the complaint, and M_c, what a
comeback costs. The loop of list and answers is run with each pair of a grid, on the same cars
with the same answers, so that the differences to the prices in use are car by car.

Everything else is as the application has it: what each deficiency class weighs, the price of a
repair (labour and as much for parts), 120 an hour, proof at 0.9, the form of `triage.proof`.
Only ratios of prices count for the order, so that the labour rate needs no grid of its own.
Cars over the budget, and cars of whose true causes none can be proven, are left out.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

from api.replay.bench import Bench
from api.replay.strategies import Strategy, TheList
from api.replay.value import Catalogue
from tests.bench.forms import cars_of, outcome_table, told
from triage.stakes import Stakes

__all__ = ["COMEBACKS", "DANGERS", "main", "ways_of"]

#: Weights of danger, and prices of a comeback.
DANGERS = (0.0, 0.02, 0.05, 0.1)
COMEBACKS = (450.0, 900.0, 1800.0)
IN_USE = (Stakes().danger_weight, Stakes().comeback)


def ways_of(
    dangers: Sequence[float], comebacks: Sequence[float]
) -> Mapping[str, Callable[[Bench], Strategy]]:
    """Return a list for each pair of prices, those in use first."""
    pairs = [(danger, comeback) for comeback in comebacks for danger in dangers]
    return {
        _name(danger, comeback): partial(_priced, danger=danger, comeback=comeback)
        for danger, comeback in dict.fromkeys([IN_USE, *pairs])
    }


def _name(danger: float, comeback: float) -> str:
    return f"lambda {danger:g}, M_c {comeback:g}"


def _priced(bench: Bench, danger: float, comeback: float) -> Strategy:
    """Return the list of a car at other prices."""
    stakes = replace(bench.stakes, danger_weight=danger, comeback=comeback)
    compiled = bench.car.compiled
    return TheList(bench, Catalogue(compiled.network, compiled.checks, stakes))


def main() -> None:
    """Read the arguments, run, and print the table."""
    parser = argparse.ArgumentParser(description="What should danger and a comeback count?")
    parser.add_argument("--cars", type=int, default=60)
    parser.add_argument("--seed", type=int, default=31)
    parser.add_argument("--work", type=float, default=2e6, help="products of one evaluation")
    parser.add_argument("--dangers", type=float, nargs="+", default=DANGERS)
    parser.add_argument("--comebacks", type=float, nargs="+", default=COMEBACKS)
    asked = parser.parse_args()
    ways, rows = ways_of(asked.dangers, asked.comebacks), []
    for bench, left in cars_of(asked.cars, asked.seed, asked.work):
        row = told(ways, bench, left)
        if row is not None:
            rows.append(row)
            sys.stderr.write(f"{len(rows)} cars counted\n")
    sys.stdout.write(outcome_table(rows, _name(*IN_USE)) + "\n")


if __name__ == "__main__":
    main()
