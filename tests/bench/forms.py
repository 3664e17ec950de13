"""Forms of what finding a cause is worth, compared on the same simulated cars. Not a test.

    python -m tests.bench.forms --cars 200 --seed 21 --work 2e6 [--only worth,index]

`triage.proof` holds the form that is used. The others are kept here, so that the choice
can be looked at again: each is a function of the looks that checks take, of the suspects,
and of the checks that can still be made, and gives one number for each look. On the list
the larger of it and the value of information counts, as in the application.
The same forms are held against the best policy in `tests.bench.regret`.

Each car is drawn once, and its checks are answered once: the differences are car by car.
Cars over the budget, and cars of whose true causes none can be proven, are left out.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import astuple, fields
from functools import partial

import numpy as np

from api.replay.bench import Bench
from api.replay.cars import Garage, draw_car
from api.replay.judge import OverBudgetError
from api.replay.loop import Outcome, follow, provable
from api.replay.strategies import Strategy, TheList
from api.replay.value import Form
from graph.load import load_knowledge
from triage.arrays import Flags, Floats
from triage.proof import PROVEN, Looks, Suspects, fall, worth
from triage.score import estimate

__all__ = ["FORMS", "cars_of", "outcome_table", "told"]


def _nothing(looks: Looks, suspects: Suspects, may: Flags) -> Floats:
    """Return nothing: the value of information alone counts."""
    return np.zeros(looks.cause.size)


def _index(looks: Looks, suspects: Suspects, may: Flags) -> Floats:
    """Return Youden's index (Cancer 3, 1950, from memory) times what leaving costs."""
    done = suspects.found & (suspects.q >= PROVEN)
    leave = np.where(done, 0.0, suspects.leave)
    out: Floats = np.maximum(looks.on - looks.off, 0.0) * leave[looks.cause]
    return out


def _share(looks: Looks, suspects: Suspects, may: Flags) -> Floats:
    """Return the loss found, by the share of the way to proof that a find goes in log odds."""
    q = np.clip(suspects.q, 1e-12, 1.0 - 1e-12)[looks.cause]
    way = np.log(PROVEN / (1.0 - PROVEN)) - np.log(q / (1.0 - q))
    step = np.log(looks.on / np.maximum(looks.off, 1e-12))
    part = np.where(way <= 0.0, 1.0, np.clip(step / np.maximum(way, 1e-9), 0.0, 1.0))
    done = suspects.found & (suspects.q >= PROVEN)
    return looks.on * part * np.where(done, 0.0, suspects.leave)[looks.cause]


def _at_once(looks: Looks, suspects: Suspects, may: Flags) -> Floats:
    return fall(looks, suspects, 0.0)


def _at_once_or_again(looks: Looks, suspects: Suspects, may: Flags) -> Floats:
    return fall(looks, suspects, 0.0, looks.pairs(may))


def _proven(looks: Looks, suspects: Suspects, may: Flags) -> Floats:
    return fall(looks, suspects, PROVEN, looks.pairs(may))


#: Name -> words and function; the first is the one in use.
FORMS: Mapping[str, tuple[str, Form]] = {
    "worth": ("repaired at once, or proven with a second look: the larger", worth),
    "index": ("Youden's index times leaving (used before)", _index),
    "at-once": ("repaired at once, false alarms charged with the repair", _at_once),
    "again": ("repaired at once, or after a second look", _at_once_or_again),
    "proven": ("repaired from 0.9 on, with a second look", _proven),
    "share": ("share of the way to proof that a find goes", _share),
    "nothing": ("value of information alone", _nothing),
}


def cars_of(cars: int, seed: int, work: float) -> Iterator[tuple[Bench, frozenset[str]]]:
    """Yield the cars that count, with their provable true causes."""
    garage = Garage(load_knowledge())
    for number in range(cars):
        stream = np.random.SeedSequence(seed, spawn_key=(number,))
        car = draw_car(garage, np.random.default_rng(stream))
        bench = Bench(garage.knowledge, car, work)
        try:
            left = provable(bench) if bench.intake.q.size else frozenset()
        except OverBudgetError:
            continue
        if left:
            yield bench, left


def told(
    ways: Mapping[str, Callable[[Bench], Strategy]], bench: Bench, left: frozenset[str]
) -> dict[str, Outcome] | None:
    """Return how each way does on one car; None when one of them gets over the budget."""
    try:
        return {name: follow(make(bench), bench, left) for name, make in ways.items()}
    except OverBudgetError:
        return None


#: Measure of one outcome -> words.
MEASURES = {
    "minutes": "to the last proof",
    "first": "to the first",
    "missed": "dangerous missed",
    "needless": "needless parts",
    "checks": "checks",
}


def outcome_table(rows: Sequence[Mapping[str, Outcome]], base: str) -> str:
    """Return the measures of each way, and the differences to one of them car by car."""
    names = [field.name for field in fields(Outcome)]
    columns = [names.index(measure) for measure in MEASURES]
    scores = {
        way: np.array([astuple(row[way]) for row in rows], np.float64)[:, columns]
        for way in rows[0]
    }
    wide = max(len(way) for way in scores) + 2
    lines = [f"{len(rows)} cars", " " * wide + "".join(f"{w:>19}" for w in MEASURES.values())]
    for way, score in scores.items():
        lines.append(f"{way:<{wide}}" + "".join(_cell(column) for column in score.T))
    lines.append(f"less {base}, car by car")
    for way, score in scores.items():
        if way != base:
            difference = (score - scores[base]).T
            lines.append(f"{way:<{wide}}" + "".join(_cell(column) for column in difference))
    return "\n".join(lines)


def _cell(values: Floats) -> str:
    told = estimate(values)
    return f"{told.mean:>12.3f} ±{told.error:<5.3f}"


def main() -> None:
    """Read the arguments, run, and print the table."""
    parser = argparse.ArgumentParser(description="Which form of the value of finding?")
    parser.add_argument("--cars", type=int, default=60)
    parser.add_argument("--seed", type=int, default=21)
    parser.add_argument("--work", type=float, default=2e6, help="products of one evaluation")
    parser.add_argument("--only", default=",".join(FORMS), help="forms, comma between them")
    asked = parser.parse_args()
    names = asked.only.split(",")
    ways = {name: partial(TheList, form=FORMS[name][1]) for name in names}
    rows = []
    for bench, left in cars_of(asked.cars, asked.seed, asked.work):
        row = told(ways, bench, left)
        if row is not None:
            rows.append(row)
            sys.stderr.write(f"{len(rows)} cars counted\n")
    for name in names:
        sys.stdout.write(f"{name:<9} {FORMS[name][0]}\n")
    sys.stdout.write(outcome_table(rows, names[0]) + "\n")


if __name__ == "__main__":
    main()
