"""Greedy orders of one core: next is the axis that costs least now.

Next is the axis whose neighbours miss the fewest edges (*min-fill*, [1]_), or the fewest for
each neighbour; a fixed sequence of noise breaks ties. The graph is held as rows of bits, 64
axes a word.

Work is counted in products: a join of two tables costs two for each axis of the
result, and three for a collector axis that both have filled.

References
----------
.. [1] Kjaerulff, U. (1990). Triangulation of graphs: algorithms giving small
       total state space. Aalborg University, R 90-09. (From memory.)
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Bits, Ints

__all__ = ["eliminate", "greedy_order", "members", "popcount", "work_of"]


@njit(cache=True, forceinline=True)
def popcount(word: np.uint64) -> int:
    """Return the number of set bits of a 64-bit word."""
    word = word - ((word >> np.uint64(1)) & np.uint64(0x5555555555555555))
    word = (word & np.uint64(0x3333333333333333)) + (
        (word >> np.uint64(2)) & np.uint64(0x3333333333333333)
    )
    word = (word + (word >> np.uint64(4))) & np.uint64(0x0F0F0F0F0F0F0F0F)
    return int((word * np.uint64(0x0101010101010101)) >> np.uint64(56))


@njit(cache=True, forceinline=True)
def members(row: Bits, out: Ints) -> int:
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


@njit(cache=True, forceinline=True)
def _fill(adjacent: Bits, axis: int, around: Ints, count: int) -> int:
    """Return twice the number of edges that eliminating `axis` would add."""
    missing = 0
    for i in range(count):
        shared = 0
        for word in range(adjacent.shape[1]):
            shared += popcount(adjacent[around[i], word] & adjacent[axis, word])
        missing += count - 1 - shared
    return missing


@njit(cache=True, forceinline=True)
def eliminate(adjacent: Bits, axis: int, around: Ints) -> int:
    """Join the neighbours of `axis` and take it out; return their number."""
    count = members(adjacent[axis], around)
    word, bit = axis // 64, np.uint64(1) << np.uint64(axis % 64)
    for i in range(count):
        one = around[i]
        for w in range(adjacent.shape[1]):
            adjacent[one, w] |= adjacent[axis, w]
        adjacent[one, word] &= ~bit
        adjacent[one, one // 64] &= ~(np.uint64(1) << np.uint64(one % 64))
    return count


@njit(cache=True)
def greedy_order(adjacent: Bits, rule: int, seed: int, sequence: Ints) -> None:
    """Eliminate every axis of the core by one rule, writing the order.

    Rule 0 is min-fill, rule 1 fill for each neighbour; a seed above 0 adds noise.
    """
    total = adjacent.shape[0]
    around = np.empty(total, np.int64)
    second = np.empty(total, np.int64)
    key = np.empty(total, np.float64)
    stale = np.ones(total, np.bool_)
    left = np.arange(total)
    state = np.uint64(seed) * np.uint64(0x9E3779B97F4A7C15) + np.uint64(1)
    for step in range(total):
        best = 0
        for at in range(total - step):
            axis = left[at]
            if stale[axis]:
                degree = members(adjacent[axis], around)
                fill = 0.5 * _fill(adjacent, axis, around, degree)
                value = fill + 0.001 * degree if rule == 0 else fill / (degree + 1) + 0.01 * degree
                if seed > 0:
                    state = state * np.uint64(6364136223846793005) + np.uint64(1442695040888963407)
                    value *= 1.0 + 0.25 * float(state >> np.uint64(40)) / 16777216.0
                key[axis] = value
                stale[axis] = False
            if key[axis] < key[left[best]]:
                best = at
        axis = left[best]
        left[best] = left[total - step - 1]
        count = eliminate(adjacent, axis, around)
        sequence[step] = axis
        for i in range(count):
            stale[around[i]] = True
            near = members(adjacent[around[i]], second)
            for j in range(near):
                stale[second[j]] = True


@njit(cache=True)
def work_of(rows: Bits, collectors: Bits, sequence: Ints, limit: float) -> float:
    """Return the predicted work of an order, or stop once it is past `limit`."""
    total, words = rows.shape
    adjacent = rows.copy()
    messages = np.zeros((total, words), np.uint64)
    around = np.empty(total, np.int64)
    filled = np.zeros(words, np.uint64)
    position = np.empty(total, np.int64)
    for step in range(total):
        position[sequence[step]] = step
    first, last, after = np.full(total, -1), np.full(total, -1), np.full(total, -1)
    work = 0.0
    for step in range(total):
        axis = sequence[step]
        messages[step] = adjacent[axis]
        count = eliminate(adjacent, axis, around)
        work += 2.0 ** (count + 1)
        filled[:] = 0
        m = first[step]
        while m >= 0:
            work += _meet((messages[m], messages[step]), collectors, filled, axis)
            m = after[m]
        if work > limit:
            return work
        if count:
            to = position[around[:count]].min()
            if first[to] < 0:
                first[to] = step
            else:
                after[last[to]] = step
            last[to] = step
    return work


@njit(cache=True, forceinline=True)
def _meet(messages: tuple[Bits, Bits], collectors: Bits, filled: Bits, axis: int) -> float:
    """Return the products of joining a message into the table of an axis; bring `filled` up."""
    message, scope = messages
    word, bit = axis // 64, np.uint64(1) << np.uint64(axis % 64)
    size, shared, rest = 0, 0, 0
    for w in range(message.shape[0]):
        mine, whole = message[w], scope[w]
        if w == word:
            whole |= bit
        size += popcount(mine)
        shared += popcount(mine & filled[w])
        rest += popcount(whole & ~mine & (filled[w] | ~collectors[w]))
        filled[w] |= mine & collectors[w]
    return 2.0 ** (size + rest) * 1.5**shared if size > 1 else 0.0
