"""Which number finds the causes of a complaint best, posterior, responsibility or lift.

On cars simulated from the model itself, whose true causes are known link by link, each of

* the posterior q,
* the responsibility r,
* the lift, q minus the prior (below nothing as nothing, where a list is made by it),

is put to three trials on the same cars:

1. *rank*: of the first true cause, when all causes are ranked by it at intake;
2. *list as written* (`tests.bench.written`): the list that it makes at intake, walked to its end;
3. *loop* (with `--loop`): the list made anew after each answer, until every cause that can be
   proven is.

In 2 and 3 the same rule makes the list (`triage.proof`) and takes the one or the other as how far
a cause has a part in the complaint. Run::

    python -m tests.bench.ranking --cars 5000 --seed 1 --work 1e7 --loop --file cars.jsonl

With `--file` each car is a line, and a run that was ended goes on where it was. Cars over the
budget of one exact evaluation are left out and counted: they are the most entangled ones, so
that the result holds for the others.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from api.replay.bench import Bench
from api.replay.cars import Garage, draw_car
from api.replay.judge import OverBudgetError
from api.replay.loop import Outcome, follow, provable
from graph.load import load_knowledge
from tests.bench.forms import outcome_table
from tests.bench.written import WAYS, RankedBy, parts_by, walked, written_table
from triage.score import Estimate, estimate, first_rank

__all__ = ["gathered", "rows_of", "table", "told_of"]

Row = Mapping[str, Any]


def told_of(bench: Bench, *, loop: bool) -> Row:
    """Return, for each number, the rank of the first true cause, its list, and its loop.

    Raises
    ------
    OverBudgetError
        If the car is over the budget at intake or on the list; in the loop it is told instead.
    """
    ranks = {
        way: first_rank(bench.scores(value), bench.car.truth)
        for way, value in parts_by(bench).items()
    }
    left = provable(bench)
    told: dict[str, Any] = {"rank": ranks, "written": {}, "loop": {}}
    if left:
        told["written"] = {way: asdict(walked(bench, way, left)) for way in WAYS}
    if left and loop:
        with suppress(OverBudgetError):
            told["loop"] = {way: asdict(follow(RankedBy(bench, way), bench, left)) for way in WAYS}
    return told


def rows_of(numbers: Iterator[int], asked: argparse.Namespace) -> Iterator[Row]:
    """Yield what is told of each car; of one over the budget, that it was."""
    garage = Garage(load_knowledge())
    for number in numbers:
        stream = np.random.SeedSequence(asked.seed, spawn_key=(number,))
        car = draw_car(garage, np.random.default_rng(stream))
        try:
            told = told_of(Bench(garage.knowledge, car, asked.work), loop=asked.loop)
        except OverBudgetError:
            told = {"over": True}
        yield {"car": number, **_kind(asked), **told}


def _kind(asked: argparse.Namespace) -> Row:
    """Return what rows of one file have in common."""
    return {"seed": asked.seed, "work": asked.work, "looped": asked.loop}


def kept(asked: argparse.Namespace) -> list[Row]:
    """Return the cars that an earlier run of the same kind wrote down."""
    if asked.file is None or not asked.file.exists():
        return []
    rows = [json.loads(line) for line in asked.file.read_text(encoding="utf-8").splitlines()]
    if any(row[key] != value for row in rows for key, value in _kind(asked).items()):
        raise SystemExit(f"{asked.file} is of another seed, budget or trial; name another file")
    return rows


def gathered(asked: argparse.Namespace) -> list[Row]:
    """Return the rows of all cars asked for, those of an earlier run among them."""
    rows = kept(asked)
    done, began = {row["car"] for row in rows}, time.monotonic()
    for row in rows_of((number for number in range(asked.cars) if number not in done), asked):
        rows.append(row)
        if asked.file is not None:
            with asked.file.open("a", encoding="utf-8") as out:
                out.write(json.dumps(row) + "\n")
        if len(rows) % 250 == 0:
            gone = time.monotonic() - began
            sys.stderr.write(f"{len(rows)} of {asked.cars} cars, {gone:.0f} s\n")
    return rows


def table(rows: list[Row]) -> str:
    """Return what the cars told as text."""
    inside = [row for row in rows if "over" not in row]
    out = [f"{len(rows)} cars drawn, {len(rows) - len(inside)} left out over the budget"]
    out += _rank_rows([row["rank"] for row in inside])
    lists = [row["written"] for row in inside if row["written"]]
    out += ["", f"the list as written, {len(lists)} cars with a cause that can be proven"]
    out += written_table(lists)
    loops = [row["loop"] for row in inside if row["loop"]]
    if loops:
        told = [{way: Outcome(**one) for way, one in row.items()} for row in loops]
        same = Counter(len({json.dumps(one) for one in row.values()}) == 1 for row in loops)
        out += ["", f"the loop; all three went the same way on {same[True]} cars"]
        out.append(outcome_table(told, WAYS[1]))
    return "\n".join(out)


def _rank_rows(ranks: list[Mapping[str, float]]) -> list[str]:
    """Return the scores of ranking, with differences to r car by car."""
    rows = [
        f"{len(ranks)} cars ranked",
        f"{'':<18}{'1 / rank':>16}{'first':>16}{'first three':>16}",
    ]
    score = {
        way: np.array([(1 / r[way], r[way] <= 1, r[way] <= 3) for r in ranks], np.float64)
        for way in WAYS
    }
    for way in WAYS:
        rows.append(f"{way:<18}" + "".join(_cell(estimate(c)) for c in score[way].T))
    rows.append("less responsibility r, car by car")
    for way in (WAYS[0], WAYS[2]):
        difference = score[way] - score[WAYS[1]]
        rows.append(f"{way:<18}" + "".join(_cell(estimate(c)) for c in difference.T))
    return rows


def _cell(value: Estimate) -> str:
    return f"{value.mean:>9.3f} ±{value.error:.3f}"


def main() -> None:
    """Read the arguments, run, and print the table."""
    parser = argparse.ArgumentParser(description="Which number finds causes best?")
    add = partial(parser.add_argument)
    add("--cars", type=int, default=500)
    add("--seed", type=int, default=1)
    add("--work", type=float, default=3e6, help="products of one evaluation")
    add("--loop", action="store_true", help="run the loop of list and answers")
    add("--file", type=Path, help="a line for each car; what is in it is not done again")
    sys.stdout.write(table(gathered(parser.parse_args())) + "\n")


if __name__ == "__main__":
    main()
