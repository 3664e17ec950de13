"""In which order to sum the axes out: greedy elimination on the interaction graph.

Eliminating an axis joins all its neighbours into one table, so the order fixes
the size of every table before a single number is computed. An axis with at most
one neighbour is always safe to take first; most of a case falls away like that.
What is left, the *core*, is held as rows of bits, 64 axes a word, and ordered
greedily [1]_: next is the axis whose neighbours miss the fewest edges
(*min-fill*), or the fewest for each neighbour. No rule is best everywhere, so
several orders are made, ties broken by a fixed sequence of noise, and the one
with the least predicted work is kept. Trying goes on for as long as the best
order's own work would take.

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

from triage.arrays import Bits, Flags, Ints

__all__ = ["elimination", "popcount"]

_TRIES = 160  # orders made at the most
_TRY = 1e6  # products that are done in the time of one try


@njit(cache=True, inline="always")
def popcount(word: np.uint64) -> int:
    """Return the number of set bits of a 64-bit word."""
    word = word - ((word >> np.uint64(1)) & np.uint64(0x5555555555555555))
    word = (word & np.uint64(0x3333333333333333)) + (
        (word >> np.uint64(2)) & np.uint64(0x3333333333333333)
    )
    word = (word + (word >> np.uint64(4))) & np.uint64(0x0F0F0F0F0F0F0F0F)
    return int((word * np.uint64(0x0101010101010101)) >> np.uint64(56))


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
def _greedy(adjacent: Bits, rule: int, seed: int, sequence: Ints) -> None:
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
                degree = _members(adjacent[axis], around)
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
        count = _eliminate(adjacent, axis, around)
        sequence[step] = axis
        for i in range(count):
            stale[around[i]] = True
            near = _members(adjacent[around[i]], second)
            for j in range(near):
                stale[second[j]] = True


@njit(cache=True)
def _work(rows: Bits, collectors: Bits, sequence: Ints, limit: float) -> float:
    """Return the predicted work of an order, or stop once it is past `limit`."""
    total, words = rows.shape
    adjacent = rows.copy()
    messages = np.zeros((total, words), np.uint64)
    live = np.zeros(total, np.bool_)
    around = np.empty(total, np.int64)
    filled = np.zeros(words, np.uint64)
    work = 0.0
    for step in range(total):
        axis = sequence[step]
        word, bit = axis // 64, np.uint64(1) << np.uint64(axis % 64)
        scope = adjacent[axis].copy()
        count = _eliminate(adjacent, axis, around)
        work += 2.0 ** (count + 1)
        filled[:] = 0
        for m in range(step):
            if not live[m] or not messages[m, word] & bit:
                continue
            live[m] = False
            size, shared, rest = 0, 0, 0
            for w in range(words):
                mine, whole = messages[m, w], scope[w]
                if w == word:
                    whole |= bit
                size += popcount(mine)
                shared += popcount(mine & filled[w])
                rest += popcount(whole & ~mine & (filled[w] | ~collectors[w]))
                filled[w] |= mine & collectors[w]
            if size > 1:
                work += 2.0 ** (size + rest) * 1.5**shared
        messages[step] = scope
        live[step] = count > 0
        if work > limit:
            return work
    return work


@njit(cache=True)
def _best_order(rows: Bits, collectors: Bits) -> tuple[Ints, float]:
    """Return the order of the core with the least predicted work."""
    best = np.empty(rows.shape[0], np.int64)
    least = np.inf
    trial = np.empty(rows.shape[0], np.int64)
    for attempt in range(_TRIES):
        if attempt >= 2 and attempt * _TRY > least:
            break
        _greedy(rows.copy(), 1 if attempt else 0, max(attempt - 1, 0), trial)
        work = _work(rows, collectors, trial, least)
        if work < least:
            least = work
            best[:] = trial
    return best, least


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
def elimination(
    pointer: Ints, around: Ints, is_collector: Flags
) -> tuple[Ints, Ints, Ints, Ints, float]:
    """Return an order of elimination and what each step's table ranges over.

    Parameters
    ----------
    pointer, around : neighbours of axis ``i`` are ``around[pointer[i]:pointer[i + 1]]``;
        symmetric, no axis its own neighbour, none listed twice
    is_collector : which axes are collectors

    Returns
    -------
    sequence : (n,) axes in the order in which they are summed out
    start : (n + 1,) where each step's scope starts in `scope`
    scope : the axes left around each step's own, latest eliminated first
    position : (n,) the step at which each axis is eliminated
    cost : predicted work, in products
    """
    total = pointer.shape[0] - 1
    sequence = np.empty(total, np.int64)
    owner = np.full(total, -2, np.int64)
    trimmed = _trim(pointer, around, sequence, owner)
    core = np.flatnonzero(owner == -2)
    rows = _core(pointer, around, owner, core)
    words = np.zeros(rows.shape[1], np.uint64)
    for i in range(core.shape[0]):
        if is_collector[core[i]]:
            words[i // 64] |= np.uint64(1) << np.uint64(i % 64)
    best, cost = _best_order(rows, words)
    for i in range(core.shape[0]):
        sequence[trimmed + i] = core[best[i]]
    start, scope, position = _scopes(sequence, owner, (core, rows, best), trimmed)
    return sequence, start, scope, position, cost + 4.0 * trimmed


@njit(cache=True)
def _scopes(
    sequence: Ints, owner: Ints, kernel: tuple[Ints, Bits, Ints], trimmed: int
) -> tuple[Ints, Ints, Ints]:
    """Return each step's scope, as starts and a list, and the step of each axis."""
    core, rows, best = kernel
    total = sequence.shape[0]
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
    return start, scope[:used], position
