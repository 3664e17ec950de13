"""In which order to sum the axes out: greedy elimination on the interaction graph.

Eliminating an axis joins all its neighbours into one table, so the order fixes
the size of every table before a single number is computed. An axis with at most
one neighbour is always safe to take first; most of a case falls away like that.
What is left, the *core*, is held as rows of bits, 64 axes a word, and ordered by
two greedy rules that are known to work well [1]_:

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

__all__ = ["elimination", "popcount"]


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
def _fill(adjacent: Bits, axis: int, around: Ints, count: int) -> int:
    """Return twice the number of edges that eliminating `axis` would add."""
    missing = 0
    for i in range(count):
        shared = 0
        for word in range(adjacent.shape[1]):
            shared += popcount(adjacent[around[i], word] & adjacent[axis, word])
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
    """Eliminate every axis of the core, writing the order; return the predicted cost."""
    total = adjacent.shape[0]
    around = np.empty(total, np.int64)
    second = np.empty(total, np.int64)
    key = np.empty(total, np.int64)
    stale = np.ones(total, np.bool_)
    left = np.arange(total)
    cost = 0.0
    for step in range(total):
        best = 0
        for at in range(total - step):
            axis = left[at]
            if stale[axis]:
                degree = _members(adjacent[axis], around)
                fill = _fill(adjacent, axis, around, degree)
                key[axis] = degree * 100000 + fill if by_size else fill * 1000 + degree
                stale[axis] = False
            if key[axis] < key[left[best]]:
                best = at
        axis = left[best]
        left[best] = left[total - step - 1]
        count = _eliminate(adjacent, axis, around)
        sequence[step] = axis
        cost += 2.0 ** (count + 1)
        for i in range(count):
            stale[around[i]] = True
            near = _members(adjacent[around[i]], second)
            for j in range(near):
                stale[second[j]] = True
    return cost


@njit(cache=True)
def _trim(pointer: Ints, around: Ints, sequence: Ints, owner: Ints) -> int:
    """Take out axes with at most one neighbour, again and again; return how many.

    `owner` gets the one neighbour of each axis taken, -1 for none; it stays -2
    for axes of the core.
    """
    total = pointer.shape[0] - 1
    degree = pointer[1:] - pointer[:-1]
    gone = np.zeros(total, np.bool_)
    stack = np.empty(total, np.int64)
    top = 0
    for axis in range(total - 1, -1, -1):
        if degree[axis] <= 1:
            stack[top] = axis
            top += 1
    taken = 0
    while top:
        top -= 1
        axis = stack[top]
        gone[axis] = True
        sequence[taken] = axis
        taken += 1
        owner[axis] = -1
        for k in range(pointer[axis], pointer[axis + 1]):
            other = around[k]
            if not gone[other]:
                owner[axis] = other
                degree[other] -= 1
                if degree[other] == 1:
                    stack[top] = other
                    top += 1
    return taken


@njit(cache=True)
def _core(pointer: Ints, around: Ints, owner: Ints, core: Ints) -> Bits:
    """Return the graph among the axes of the core as rows of bits."""
    size = core.shape[0]
    where = np.full(owner.shape[0], -1, np.int64)
    for i in range(size):
        where[core[i]] = i
    rows = np.zeros((size, (size + 63) // 64), np.uint64)
    for i in range(size):
        for k in range(pointer[core[i]], pointer[core[i] + 1]):
            j = where[around[k]]
            if j >= 0:
                rows[i, j // 64] |= np.uint64(1) << np.uint64(j % 64)
    return rows


@njit(cache=True)
def elimination(pointer: Ints, around: Ints) -> tuple[Ints, Ints, Ints, Ints, float]:
    """Return an order of elimination and what each step's table ranges over.

    Parameters
    ----------
    pointer, around : neighbours of axis ``i`` are ``around[pointer[i]:pointer[i + 1]]``;
        symmetric, no axis its own neighbour, none listed twice

    Returns
    -------
    sequence : (n,) axes in the order in which they are summed out
    start : (n + 1,) where each step's scope starts in `scope`
    scope : the axes left around each step's own, latest eliminated first
    position : (n,) the step at which each axis is eliminated
    cost : predicted number of table entries over all steps
    """
    total = pointer.shape[0] - 1
    sequence = np.empty(total, np.int64)
    owner = np.full(total, -2, np.int64)
    trimmed = _trim(pointer, around, sequence, owner)
    core = np.flatnonzero(owner == -2)
    rows = _core(pointer, around, owner, core)
    by_fill = np.empty(core.shape[0], np.int64)
    best, cost = by_fill, _greedy(rows.copy(), False, by_fill)
    by_size = np.empty(core.shape[0], np.int64)
    cost_size = _greedy(rows.copy(), True, by_size)
    if cost_size < cost:
        best, cost = by_size, cost_size
    for i in range(core.shape[0]):
        sequence[trimmed + i] = core[best[i]]
    position = np.empty(total, np.int64)
    for step in range(total):
        position[sequence[step]] = step
    start = np.zeros(total + 1, np.int64)
    scope = np.empty(max(64, 2 * total), np.int64)
    used = 0
    near = np.empty(core.shape[0], np.int64)
    for step in range(total):
        if step < trimmed:
            count = 1 if owner[sequence[step]] >= 0 else 0
        else:
            count = _eliminate(rows, best[step - trimmed], near)
        if used + count > scope.shape[0]:
            larger = np.empty(2 * scope.shape[0] + count, np.int64)
            larger[:used] = scope[:used]
            scope = larger
        if step < trimmed:
            if count:
                scope[used] = owner[sequence[step]]
        else:
            where = np.argsort(-position[core[near[:count]]])
            for i in range(count):
                scope[used + i] = core[near[where[i]]]
        used += count
        start[step + 1] = used
    return sequence, start, scope[:used], position, cost + 4.0 * trimmed
