"""Fifty technicians answer at once: from a tap on a verdict to the new list.

Fifty people post a verdict and ask for the new list; the time runs from the first byte sent to
the last byte of the list. The same engine makes the same lists directly in the same run, so that
the ratio is what the service costs, or saves by thinking ahead.

Who answers *the next check* of the list meets a list that was made while the check was done, if
there was time for it; who answers *another* one meets none, and it is made then. Both are asked
at the same instant, which no shop does, and at random moments, each half a minute, as they come
where checks are short. The cases whose list comes soon are asked in all ways; all cases, the dear
ones too, at the pace of checks that take five minutes. The columns count how lists were met.
"""

from __future__ import annotations

import http.client
import os
import random
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import numpy as np

from api.documents import Case
from graph.load import load_knowledge
from graph.terms import Knowledge
from tests.bench.seats import (
    Seat,
    all_at_once,
    cases_in_time,
    list_of,
    seats_for,
    served,
    write_jobs,
)

__all__ = ["bay_rows"]

PEOPLE, ROUNDS, WORKERS = 50, 3, 2
#: Cases whose one evaluation takes more products than this, or whose list takes longer than so
#: many seconds on this machine now, are asked only at the slower pace, and named.
BUDGET, LONGEST = 1e7, 1.0
#: Seconds that a technician takes for a check, where the cases are light, and for all cases.
EACH, LONG = 30.0, 300.0
#: Milliseconds, p95 of a verdict answered with its new list.
GOAL = 150.0
Told = tuple[list[float], int]  # seconds, errors
Answers = Callable[[Seat, int], tuple[float, bool] | None]
#: How a list was met: made ahead, joined on the way, made then.
MET = ("ahead", "joined", "made-now")


def bay_rows() -> list[dict[str, object]]:
    """Return a row for each way of asking: how many, p50 and p95 in ms, errors, goal, ratio."""
    before = _busy()
    knowledge = load_knowledge()
    light, every = _cases(knowledge)
    rows = _light(knowledge, light) + _all(knowledge, every)
    _say_how_calm(before, _busy())
    return rows


def _light(knowledge: Knowledge, cases: Sequence[Case]) -> list[dict[str, object]]:
    """Return the rows of the cases whose list comes soon."""
    same = f"{PEOPLE} at the same instant"
    with _shop(knowledge, cases) as (seats, port):
        alone, direct = _alone(knowledge, seats), _direct(knowledge, seats)
        rows = [
            _row("engine alone, one list after the other", (alone, 0)),
            _row(f"engine, {same}, {WORKERS} threads", (direct, 0)),
        ]
        all_at_once(seats, partial(Seat.get, asked="?account=wait"))
        with _counted(port) as met:
            told = _told(
                [row for k in range(ROUNDS) for row in _burst(seats, Seat.answer_another, k)]
            )
        rows.append(_row(f"service, {same}, another check", told, direct, met=met))
        _settle(seats, port)
        with _counted(port) as met:
            told = _told(_burst(seats, Seat.answer_next, ROUNDS))
        rows.append(_row(f"service, {same}, the next check", told, direct, met=met))
        told = _told(all_at_once(seats, Seat.get))
        rows.append(_row(f"service, {same}, list shown before", told))
        for step, words, do in (
            (10, "another check", Seat.answer_another),
            (20, "the next", Seat.answer_next),
        ):
            all_at_once(seats, Seat.get)
            with _counted(port) as met:
                listed = _spread(seats, do, range(step, step + ROUNDS), EACH)
            what = f"service, each {EACH:.0f} s, {words}"
            rows.append(_row(what, listed, alone, met=met, goal=True))
        account = _told(all_at_once(seats, partial(Seat.get, asked="?account=wait")))
        rows.append(_row("from the last of them to its account", account))
    return rows


def _all(knowledge: Knowledge, cases: Sequence[Case]) -> list[dict[str, object]]:
    """Return the rows of all cases, at the pace of longer checks."""
    with _shop(knowledge, cases) as (seats, port):
        alone = _alone(knowledge, seats)
        rows = [_row(f"all {len(cases)} cases: engine alone", (alone, 0))]
        all_at_once(seats, Seat.get)
        with _counted(port) as met:
            listed = _spread(seats, Seat.answer_next, range(1), LONG)
        what = f"all, service, each {LONG:.0f} s, the next"
        rows.append(_row(what, listed, alone, met=met, goal=True))
    return rows


@contextmanager
def _shop(knowledge: Knowledge, cases: Sequence[Case]) -> Iterator[tuple[list[Seat], int]]:
    """Open a shop with a seat for each of fifty people, and serve it."""
    seats = seats_for(knowledge, cases, PEOPLE, ROUNDS + 3)
    with tempfile.TemporaryDirectory(prefix="drypark-bench-") as folder:
        write_jobs(seats, Path(folder))
        with served(Path(folder)) as port:
            for seat in seats:
                seat.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=600)
            yield seats, port


def _measured(port: int) -> dict[str, float]:
    """Return what the service tells a monitor, by its name and label."""
    told = urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=60).read().decode()
    lines = [line.rpartition(" ") for line in told.splitlines() if not line.startswith("#")]
    return {name: float(value) for name, _, value in lines}


@contextmanager
def _counted(port: int) -> Iterator[dict[str, int]]:
    """Count how the lists were met that are asked for inside."""
    met: dict[str, int] = {}
    before = _measured(port)
    yield met
    after = _measured(port)
    for how in MET:
        name = f'drypark_lists_total{{met="{how}"}}'
        met[how] = int(after.get(name, 0.0) - before.get(name, 0.0))


def _settle(seats: Sequence[Seat], port: int) -> None:
    """Let the service think of everything that may come next."""
    all_at_once(seats, Seat.get)
    began = time.perf_counter()
    while _measured(port)["drypark_lists_ahead_waiting"]:
        time.sleep(0.2)
    sys.stderr.write(
        f"{len(seats)} lists looked at: thought ahead in {time.perf_counter() - began:.0f} s\n"
    )


def _row(
    what: str,
    told: Told,
    beside: Sequence[float] = (),
    *,
    met: Mapping[str, int] | None = None,
    goal: bool = False,
) -> dict[str, object]:
    """Return a row of the table; the ratio is that of the 95th percentiles."""
    seconds, wrong = told
    p50, p95 = (1000 * float(np.quantile(seconds, q)) for q in (0.5, 0.95))
    row: dict[str, object] = {"what": what, "n": len(seconds), "p50 ms": p50, "p95 ms": p95}
    row["errors"] = wrong
    row |= {how: met[how] if met else "" for how in MET}
    row["goal p95 ms"] = GOAL if goal else ""
    row["p95 / engine"] = p95 / (1000 * float(np.quantile(beside, 0.95))) if beside else ""
    return row


def _cases(knowledge: Knowledge) -> tuple[list[Case], list[Case]]:
    """Return the light cases, and all; name those that are not light."""
    found = list(cases_in_time(knowledge, BUDGET, LONGEST))
    light = [case for case, dear in found if not dear]
    named = [f"{case.case} ({dear})" for case, dear in found if dear]
    sys.stderr.write(
        f"{len(light)} of {len(found)} demo and practice cases are light; over {BUDGET:.0e} "
        f"products or {LONGEST:.0f} s for the list: {', '.join(named) or 'none'}\n"
    )
    if not light:
        raise RuntimeError("no list is made in time on this machine now; nothing to measure")
    return light, [case for case, _dear in found]


def _busy() -> tuple[float, float, float]:
    """Return seconds of the clock, of all processors busy, and of this bench; Linux only."""
    used = sum(os.times()[:4])
    stat = Path("/proc/stat")
    if not stat.exists():
        return time.monotonic(), 0.0, used
    ticks = [int(word) for word in stat.read_text(encoding="ascii").split("\n")[0].split()[1:9]]
    return time.monotonic(), (sum(ticks) - ticks[3] - ticks[4]) / os.sysconf("SC_CLK_TCK"), used


def _say_how_calm(before: Sequence[float], after: Sequence[float]) -> None:
    """Say how much of the machine others took meanwhile: times of a busy machine are no times."""
    clock, busy, own = (late - early for early, late in zip(before, after, strict=True))
    others = max(0.0, busy - own) / clock
    sys.stderr.write(
        f"meanwhile others kept {others:.1f} of {os.cpu_count()} processors busy, this bench "
        f"{own / clock:.1f}\n"
    )


def _alone(knowledge: Knowledge, seats: Sequence[Seat]) -> list[float]:
    """Return how long the engine takes for the list after a first verdict, nothing else running."""
    out = []
    for seat in seats:
        case, began = seat.after(1), time.perf_counter()
        list_of(knowledge, case)
        out.append(time.perf_counter() - began)
    return out


def _direct(knowledge: Knowledge, seats: Sequence[Seat]) -> list[float]:
    """Return how long each seat waits when all hand their state to the engine at once."""
    out = []
    with ThreadPoolExecutor(WORKERS) as pool:
        for number in range(1, ROUNDS + 1):
            began = time.perf_counter()

            def ended(seat: Seat, number: int = number, since: float = began) -> float:
                list_of(knowledge, seat.after(number))
                return time.perf_counter() - since

            out += list(pool.map(ended, seats))
    return out


def _told(rows: Sequence[tuple[float, bool] | None]) -> Told:
    """Return the seconds, and how many were wrong; lists that had ended are left out."""
    told = [row for row in rows if row is not None]
    return [seconds for seconds, _right in told], sum(not right for _seconds, right in told)


def _burst(seats: Sequence[Seat], do: Answers, step: int) -> list[tuple[float, bool] | None]:
    """All answer at the same instant."""
    return all_at_once(seats, lambda seat: do(seat, step))


def _spread(seats: Sequence[Seat], do: Answers, steps: range, each: float) -> Told:
    """Each seat answers again and again, each time within the time of a check.

    The first moments are drawn at random.
    """
    draw = random.Random(1)
    moments = {seat.number: draw.uniform(0.0, each) for seat in seats}
    began = time.perf_counter()

    def later(seat: Seat) -> list[tuple[float, bool] | None]:
        listed = []
        for turn, step in enumerate(steps):
            moment = began + moments[seat.number] + turn * each
            time.sleep(max(0.0, moment - time.perf_counter()))
            listed.append(do(seat, step))
        return listed

    return _told([one for row in all_at_once(seats, later) for one in row])
