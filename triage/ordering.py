"""In which order to sum the axes out: greedy elimination on the interaction graph.

Eliminating an axis joins all its neighbours into one table, so the order fixes
the size of every table before a single number is computed. The graph is held as
rows of bits, 64 axes a word. Two greedy rules are known to work well [1]_:

* *min-fill*: next is the axis whose neighbours miss the fewest edges;
* *min-size*: next is the axis with the fewest neighbours.

Both are run and the cheaper result is kept, by the predicted number of table
entries.

References
----------
.. [1] Kjaerulff, U. (1990). Triangulation of graphs: algorithms giving small
       total state space. Aalborg University, R 90-09. (From memory.)
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Bits, Ints

__all__ = ["best_order", "popcount", "scopes"]


@njit(cache=True, inline="always")
def popcount(word: np.uint64) -> int:
    """Return the number of set bits of a 64-bit word."""
    word = word - ((word >> np.uint64(1)) & np.uint64(0x5555555555555555))
    word = (word & np.uint64(0x3333333333333333)) + (
        (word >> np.uint64(2)) & np.uint64(0x3333333333333333)
    )
    word = (word + (word >> np.uint64(4))) & np.uint64(0x0F0F0F0F0F0F0F0F)
    return np.int64((word * np.uint64(0x0101010101010101)) >> np.uint64(56))


@njit(cache=True)
def _members(row: Bits, out: Ints) -> int:
    """Write the indices of the set bits of `row` into `out`; return how many."""
    count = 0
    for word in range(row.shape[0]):
        bits = row[word]
        while bits:
            low = bits & (~bits + np.uint64(1))
            out[count] = word * 64 + popcount(low - np.uint64(1))
            count += 1
            bits ^= low
    return count


@njit(cache=True)
def _fill(adjacent: Bits, axis: int, around: Ints) -> int:
    """Return how many edges eliminating `axis` would add, twice counted."""
    count = _members(adjacent[axis], around)
    missing = 0
    for i in range(count):
        row = adjacent[around[i]]
        shared = 0
        for word in range(row.shape[0]):
            shared += popcount(row[word] & adjacent[axis, word])
        missing += count - 1 - shared
    return missing


@njit(cache=True)
def _eliminate(adjacent: Bits, axis: int, around: Ints) -> int:
    """Join the neighbours of `axis` and take it out; return their number."""
    count = _members(adjacent[axis], around)
    word, bit = axis // 64, np.uint64(1) << np.uint64(axis % 64)
    for i in range(count):
        one = around[i]
        for w in range(adjacent.shape[1]):
            adjacent[one, w] |= adjacent[axis, w]
        adjacent[one, word] &= ~bit
        adjacent[one, one // 64] &= ~(np.uint64(1) << np.uint64(one % 64))
    return count


@njit(cache=True)
def _greedy(adjacent: Bits, by_size: bool, sequence: Ints) -> float:
    """Eliminate every axis, writing the order; return the predicted cost."""
    total = adjacent.shape[0]
    around = np.empty(total, np.int64)
    second = np.empty(total, np.int64)
    key = np.empty(total, np.int64)
    stale = np.ones(total, np.bool_)
    gone = np.zeros(total, np.bool_)
    cost = 0.0
    for step in range(total):
        best = -1
        for axis in range(total):
            if gone[axis]:
                continue
            if stale[axis]:
                fill = _fill(adjacent, axis, around)
                degree = _members(adjacent[axis], around)
                key[axis] = degree * 100000 + fill if by_size else fill * 1000 + degree
                stale[axis] = False
            if best < 0 or key[axis] < key[best]:
                best = axis
        count = _eliminate(adjacent, best, around)
        gone[best] = True
        sequence[step] = best
        cost += 2.0 ** (count + 1)
        for i in range(count):
            stale[around[i]] = True
            near = _members(adjacent[around[i]], second)
            for j in range(near):
                stale[second[j]] = True
    return cost


@njit(cache=True)
def best_order(adjacent: Bits) -> tuple[Ints, float]:
    """Return the cheaper of the two greedy orders and its predicted cost.

    Parameters
    ----------
    adjacent : (n, words) array of uint64
        Symmetric adjacency, one row of bits an axis, no axis its own neighbour.

    Returns
    -------
    sequence : (n,) int array, axes in the order in which they are summed out
    cost : float, the number of table entries over all steps
    """
    total = adjacent.shape[0]
    by_fill = np.empty(total, np.int64)
    cost_fill = _greedy(adjacent.copy(), False, by_fill)
    by_size = np.empty(total, np.int64)
    cost_size = _greedy(adjacent.copy(), True, by_size)
    if cost_size < cost_fill:
        return by_size, cost_size
    return by_fill, cost_fill


@njit(cache=True)
def scopes(adjacent: Bits, sequence: Ints) -> tuple[Ints, Ints, Ints]:
    """Return what each step's table ranges over.

    Returns
    -------
    start : (n + 1,) int array, where each step's scope starts in `scope`
    scope : int array, the neighbours left at that step, latest eliminated first
    position : (n,) int array, the step at which each axis is eliminated
    """
    total = adjacent.shape[0]
    rows = adjacent.copy()
    position = np.empty(total, np.int64)
    for step in range(total):
        position[sequence[step]] = step
    start = np.zeros(total + 1, np.int64)
    around = np.empty(total, np.int64)
    scope = np.empty(max(16, 4 * total), np.int64)
    used = 0
    for step in range(total):
        count = _eliminate(rows, sequence[step], around)
        if used + count > scope.shape[0]:
            larger = np.empty(2 * scope.shape[0] + count, np.int64)
            larger[:used] = scope[:used]
            scope = larger
        where = np.argsort(-position[around[:count]])
        for i in range(count):
            scope[used + i] = around[where[i]]
        used += count
        start[step + 1] = used
    return start, scope[:used], position
