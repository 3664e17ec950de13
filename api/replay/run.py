"""The replay of many simulated cars, on several processes, with the same result on any number.

Each car has its own stream of chance, made from the start number and the car's own number, so
that it does not matter which process draws it, nor how many cars there are.
"""

from __future__ import annotations

import multiprocessing
import signal
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from api.replay.bench import Bench
from api.replay.cars import Garage, draw_car
from api.replay.judge import OverBudgetError
from api.replay.loop import Outcome, provable, run_strategy
from api.replay.strategies import STRATEGIES
from graph.load import load_knowledge
from triage.arrays import Floats

__all__ = ["CarResult", "Replay", "Settings", "simulate"]

#: Predicted products of one evaluation at intake; a car over it is left out, and counted.
WORK = 5e6

Progress = Callable[[int, int, float], None]


@dataclass(frozen=True, slots=True)
class Settings:
    """What a replay is asked to do."""

    cars: int
    seed: int
    work: float = WORK
    workers: int = 2
    strategies: tuple[str, ...] = tuple(STRATEGIES)


@dataclass(frozen=True, slots=True)
class CarResult:
    """One car: what was true, what was believed at intake, how each strategy did.

    `left_out` is "" for a car that counts.
    """

    left_out: str  # "" | "intake" over budget at intake | "loop" over budget later
    tries: int
    codes: int
    truth: int  # number of true causes
    provable: int
    dangerous: int
    forecast: Floats  # (2, causes) posterior and responsibility at intake
    outcome: Floats  # (2, causes) present, true cause
    prior: Floats  # (causes,)
    outcomes: Mapping[str, Outcome]


@dataclass(frozen=True, slots=True)
class Replay:
    """All cars of a replay, in order."""

    settings: Settings
    cars: tuple[CarResult, ...]
    seconds: float
    version: str
    sha256: str

    @property
    def counted(self) -> tuple[CarResult, ...]:
        """The cars that were not left out."""
        return tuple(car for car in self.cars if not car.left_out)


def simulate(settings: Settings, progress: Progress | None = None) -> Replay:
    """Draw and replay cars.

    Parameters
    ----------
    settings : what to do
    progress : called after each car with cars done, cars in all, seconds gone
    """
    knowledge = load_knowledge()
    began = time.monotonic()
    cars = []
    for car in _results(settings):
        cars.append(car)
        if progress is not None:
            progress(len(cars), settings.cars, time.monotonic() - began)
    seconds = time.monotonic() - began
    return Replay(settings, tuple(cars), seconds, knowledge.version, knowledge.sha256)


def _results(settings: Settings) -> Iterator[CarResult]:
    """Yield the cars in order, from this process or from several."""
    numbers = range(settings.cars)
    if settings.workers <= 1:
        _start(settings)
        yield from map(_one, numbers)
        return
    context = multiprocessing.get_context("spawn")
    with context.Pool(settings.workers, _start, (settings,)) as pool:
        yield from pool.imap(_one, numbers)


_at_work: dict[str, tuple[Settings, Garage]] = {}


def _start(settings: Settings) -> None:
    """Get one process ready: the knowledge is read once, and Ctrl-C is left to whoever waits."""
    if multiprocessing.parent_process() is not None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    _at_work["now"] = (settings, Garage(load_knowledge()))


def _one(number: int) -> CarResult:
    """Draw one car and run every strategy on it."""
    settings, garage = _at_work["now"]
    return replay_car(settings, garage, number)


def replay_car(settings: Settings, garage: Garage, number: int) -> CarResult:
    """Return the result of one car; its chance depends on start number and number alone."""
    stream = np.random.SeedSequence(settings.seed, spawn_key=(number,))
    generator = np.random.default_rng(stream)
    car = draw_car(garage, generator)
    bench = Bench(garage.knowledge, car, settings.work)
    empty = np.zeros((2, 0))
    codes, truth = len(car.case.codes), len(car.truth)
    left_out = "intake"
    try:
        picture = bench.intake
        left_out = "loop"
        left = provable(bench)
        outcomes = {
            name: run_strategy(name, bench, left, generator) for name in settings.strategies
        }
    except OverBudgetError:
        return CarResult(left_out, car.tries, codes, truth, 0, 0, empty, empty, empty[0], {})
    happened = [[cause in group for cause in bench.causes] for group in (car.present, car.truth)]
    nodes = car.compiled.network.nodes
    return CarResult(
        "",
        car.tries,
        codes,
        truth,
        len(left),
        len(bench.dangerous),
        np.stack([picture.q, picture.r]),
        np.array(happened, np.float64),
        np.array([nodes[cause].base for cause in bench.causes]),
        outcomes,
    )
