"""The order of one core: axes with two neighbours first, then the best of several attempts.

The *core* is what is left of a connected part of the interaction graph when axes
with at most one neighbour are gone. Axes with two neighbours go first: that is never a mistake
where the width is two or more. What then remains is ordered greedily (`triage.greedy`). No rule
is best everywhere, so several orders are made and the one with the least predicted work is kept.
It is then made better turn by turn (`triage.turning`). All of this takes no longer
than what it can save.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Bits, Ints
from triage.greedy import eliminate, greedy_order, members, work_of
from triage.turning import turn

__all__ = ["best_order"]

_TRY = 1e6  # products that are done in the time of one greedy attempt, at the most ...
_EACH = 6.0  # ... and for each pair of axes
_TURN = 200.0  # products for each turn: a quarter of the time that they take
_TURNS = 4e6  # turns at the most


@njit(cache=True)
def _series(adjacent: Bits, sequence: Ints) -> int:
    """Eliminate axes with at most two neighbours while there are any; return how many.

    Never a mistake where the width is two or more, and far cheaper than weighing them up.
    """
    total = adjacent.shape[0]
    around = np.empty(total, np.int64)
    queued, gone = np.ones(total, np.bool_), np.zeros(total, np.bool_)
    stack = np.arange(total - 1, -1, -1)
    top, taken = total, 0
    while top:
        top -= 1
        axis = stack[top]
        queued[axis] = False
        if gone[axis] or members(adjacent[axis], around) > 2:
            continue
        count = eliminate(adjacent, axis, around)
        gone[axis] = True
        sequence[taken] = axis
        taken += 1
        for i in range(count):
            if not queued[around[i]]:
                queued[around[i]] = True
                stack[top] = around[i]
                top += 1
    sequence[taken:] = np.flatnonzero(~gone)
    return taken


@njit(cache=True)
def _among(rows: Bits, some: Ints) -> Bits:
    """Return the graph among some of the axes, renumbered."""
    out = np.zeros((some.shape[0], (some.shape[0] + 63) // 64), np.uint64)
    for i in range(some.shape[0]):
        for j in range(some.shape[0]):
            if rows[some[i], some[j] // 64] >> np.uint64(some[j] % 64) & np.uint64(1):
                out[i, j // 64] |= np.uint64(1) << np.uint64(j % 64)
    return out


@njit(cache=True)
def _of(bits: Bits, some: Ints) -> Bits:
    """Return the bits of some of the axes, renumbered."""
    out = np.zeros((some.shape[0] + 63) // 64, np.uint64)
    for i in range(some.shape[0]):
        one = bits[some[i] // 64] >> np.uint64(some[i] % 64) & np.uint64(1)
        out[i // 64] |= one << np.uint64(i % 64)
    return out


@njit(cache=True)
def best_order(rows: Bits, collectors: Bits, tries: int, turns: bool) -> tuple[Ints, float]:
    """Return an order of one core, and its predicted work.

    Parameters
    ----------
    rows, collectors : the graph among the axes, and which of them are collectors, as bits
    tries : greedy orders made at the most
    turns : whether the best of them is made better
    """
    total = rows.shape[0]
    trial = np.empty(total, np.int64)
    left = rows.copy()
    taken = _series(left, trial)
    if taken == total:
        return trial, work_of(rows, collectors, trial, np.inf)
    rest = trial[taken:].copy()
    dense, least = _among(left, rest), np.inf
    order, best = np.empty(rest.shape[0], np.int64), np.empty(rest.shape[0], np.int64)
    price = min(_TRY, _EACH * rest.shape[0] ** 2)
    for attempt in range(tries):
        if attempt >= 1 and attempt * price > least:
            break
        greedy_order(dense.copy(), 1 if attempt else 0, max(attempt - 1, 0), order)
        trial[taken:] = rest[order]
        work = work_of(rows, collectors, trial, least)
        if work < least:
            least = work
            best[:] = order
    trial[taken:] = rest[best]
    if turns:
        turn(dense, _of(collectors, rest), best, int(min(least / _TURN, _TURNS)))
        order[:] = rest[best]
        before = trial[taken:].copy()
        trial[taken:] = order
        work = work_of(rows, collectors, trial, least)
        if work < least:
            least = work
        else:
            trial[taken:] = before
    return trial, least
