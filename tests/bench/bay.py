"""Fifty technicians answer at once: from a tap on a verdict to the new list.

Fifty people post a verdict and ask for the new list; the time runs from the first byte sent to
the last byte of the list. The same engine makes the same lists directly in the same run: for
*at the same instant* in as many threads as the service has, handed over at the same instant; for
*a verdict each half minute* one after the other. The ratio is what the service costs.

Three ways, since the account of a list is made after it, when nobody waits for a list: all at the
same instant, round upon round, accounts left over; the same with every account made before the
next round; and verdicts at random moments, as they come where a check takes half a minute. One row
says how long it is until the account is there.
"""

from __future__ import annotations

import http.client
import os
import random
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
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
#: many seconds on this machine now, are left out, and named.
BUDGET, LONGEST = 1e7, 1.0
#: Seconds that a technician takes for a check, in the part that is spread.
EACH = 30.0
#: Milliseconds, p95 of a verdict answered with its new list.
GOAL = 150.0
Told = tuple[list[float], int]  # seconds, errors


def bay_rows() -> list[dict[str, object]]:
    """Return a row for each way of asking: how many, p50 and p95 in ms, errors, goal, ratio."""
    before = _busy()
    knowledge = load_knowledge()
    seats = seats_for(knowledge, _cases(knowledge), PEOPLE, ROUNDS + 3)
    with tempfile.TemporaryDirectory(prefix="drypark-bench-") as folder:
        write_jobs(seats, Path(folder))
        alone, direct = _alone(knowledge, seats), _direct(knowledge, seats)
        with served(Path(folder)) as port:
            for seat in seats:
                seat.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=600)
            all_at_once(seats, partial(Seat.get, asked="?account=wait"))
            burst = _rounds(seats, range(ROUNDS), whole=False)
            settled = _rounds(seats, range(ROUNDS, ROUNDS + 1), whole=True)
            spread, account = _spread(seats, ROUNDS + 1)
            again = _told(all_at_once(seats, Seat.get))
    _say_how_calm(before, _busy())
    same = f"{PEOPLE} at the same instant"
    return [
        _row("engine alone, one list after the other", (alone, 0)),
        _row(f"engine, {same}, {WORKERS} threads", (direct, 0)),
        _row(f"service, {same}, accounts left over", burst, direct, goal=True),
        _row(f"service, {same}, accounts made in between", settled, direct, goal=True),
        _row(f"service, {PEOPLE} people, a verdict each {EACH:.0f} s", spread, alone, goal=True),
        _row("the same, until the account is there", account),
        _row(f"service, {same}, list made before", again),
    ]


def _row(
    what: str, told: Told, beside: Sequence[float] = (), *, goal: bool = False
) -> dict[str, object]:
    """Return a row of the table; the ratio is that of the 95th percentiles."""
    seconds, wrong = told
    p50, p95 = (1000 * float(np.quantile(seconds, q)) for q in (0.5, 0.95))
    row: dict[str, object] = {"what": what, "n": len(seconds), "p50 ms": p50, "p95 ms": p95}
    row["errors"] = wrong
    row["goal p95 ms"] = GOAL if goal else ""
    row["p95 / engine"] = p95 / (1000 * float(np.quantile(beside, 0.95))) if beside else ""
    return row


def _cases(knowledge: Knowledge) -> list[Case]:
    """Return the cases that are used; name those that are not."""
    found = list(cases_in_time(knowledge, BUDGET, LONGEST))
    kept = [one for one in found if not isinstance(one, str)]
    left_out = [one for one in found if isinstance(one, str)]
    sys.stderr.write(
        f"{len(kept)} of {len(found)} demo and practice cases; left out, over {BUDGET:.0e} "
        f"products or {LONGEST:.0f} s for the list: {', '.join(left_out) or 'none'}\n"
    )
    if not kept:
        raise RuntimeError("no list is made in time on this machine now; nothing to measure")
    return kept


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


def _told(rows: Sequence[tuple[float, bool]]) -> Told:
    """Return the seconds, and how many were wrong."""
    return [seconds for seconds, _right in rows], sum(not right for _seconds, right in rows)


def _rounds(seats: Sequence[Seat], steps: range, *, whole: bool) -> Told:
    """All at the same instant, round after round; before each the accounts are made, or not."""
    rows = []
    for step in steps:
        if whole:
            all_at_once(seats, partial(Seat.get, asked="?account=wait"))
        rows += all_at_once(seats, partial(Seat.answer, step=step))
    return _told(rows)


def _spread(seats: Sequence[Seat], step: int) -> tuple[Told, Told]:
    """Each seat answers once within the time of a check, at a moment drawn at random.

    Return the lists, and the same verdicts until their account is there.
    """
    draw = random.Random(1)
    moments = {seat.number: draw.uniform(0.0, EACH) for seat in seats}
    all_at_once(seats, partial(Seat.get, asked="?account=wait"))
    began = time.perf_counter()

    def later(seat: Seat) -> tuple[tuple[float, bool], tuple[float, bool]]:
        time.sleep(max(0.0, began + moments[seat.number] - time.perf_counter()))
        listed = seat.answer(step)
        waited, right = seat.get("?account=wait")
        return listed, (listed[0] + waited, right)

    rows = all_at_once(seats, later)
    return _told([row[0] for row in rows]), _told([row[1] for row in rows])
