"""In which order to sum the axes out, and what each step's table ranges over.

Eliminating an axis joins all its neighbours into one table, so the order fixes
the size of every table before a single number is computed. Connected parts have
nothing to do with each other and are put in order one after the other. In each, an axis
with at most one neighbour is always safe to take first; most of a case falls
away like that. What is left, the *core*, is ordered greedily (`triage.greedy`).
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Bits, Flags, Ints
from triage.cores import best_order
from triage.folding import VALUE, Folded, neighbours
from triage.greedy import popcount

__all__ = ["Order", "as_numbered", "popcount", "put_in_order"]

_TRIES = 4  # greedy orders of one core, of which the best is made better
_FEW, _MORE = 2, 8  # the same with little trying
_WORTH_MORE = (2e4, 4e5)  # predicted work for which more of them pay

#: Sequence, where scopes start, scopes, positions, and predicted work.
Order = tuple[Ints, Ints, Ints, Ints, float]


@njit(cache=True)
def _trim(pointer: Ints, around: Ints, sequence: Ints, owner: Ints) -> int:
    """Take out axes with at most one neighbour, again and again; return how many.

    `owner` gets the one neighbour of each axis taken, -1 for none; it stays -2
    for axes of the cores.
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
def _parts(pointer: Ints, around: Ints) -> tuple[Ints, int]:
    """Return of each axis the connected part it lies in, and how many parts there are."""
    total = pointer.shape[0] - 1
    part = np.full(total, -1, np.int64)
    stack = np.empty(total, np.int64)
    count = 0
    for axis in range(total):
        if part[axis] >= 0:
            continue
        part[axis], stack[0], top = count, axis, 1
        while top:
            top -= 1
            one = stack[top]
            for k in range(pointer[one], pointer[one + 1]):
                if part[around[k]] < 0:
                    part[around[k]] = count
                    stack[top] = around[k]
                    top += 1
        count += 1
    return part, count


@njit(cache=True)
def _core(pointer: Ints, around: Ints, where: Ints, core: Ints) -> Bits:
    """Return the graph among the axes of one core as rows of bits; `where` is -1 all over."""
    size = core.shape[0]
    for i in range(size):
        where[core[i]] = i
    rows = np.zeros((size, (size + 63) // 64), np.uint64)
    for i in range(size):
        for k in range(pointer[core[i]], pointer[core[i] + 1]):
            j = where[around[k]]
            if j >= 0:
                rows[i, j // 64] |= np.uint64(1) << np.uint64(j % 64)
    for i in range(size):
        where[core[i]] = -1
    return rows


@njit(cache=True)
def _by_part(part: Ints, count: int, trimmed: tuple[Ints, int], owner: Ints) -> tuple[Ints, Ints]:
    """Return the axes part by part, those taken first in front, and where each part starts."""
    taken, many = trimmed
    start = np.zeros(count + 1, np.int64)
    for axis in range(part.shape[0]):
        start[part[axis] + 1] += 1
    for p in range(count):
        start[p + 1] += start[p]
    fill, sequence = start[:-1].copy(), np.empty(part.shape[0], np.int64)
    for i in range(many):
        sequence[fill[part[taken[i]]]] = taken[i]
        fill[part[taken[i]]] += 1
    for axis in range(part.shape[0]):
        if owner[axis] == -2:
            sequence[fill[part[axis]]] = axis
            fill[part[axis]] += 1
    return sequence, start


@njit(cache=True, nogil=True)
def put_in_order(folded: Folded, thorough: bool) -> Order:
    """Return an order of elimination and what each step's table ranges over.

    Parameters
    ----------
    folded : the axes and links of a case
    thorough : whether it is worth the time that tables take; else little is tried

    Returns
    -------
    sequence : (n,) axes in the order in which they are summed out, connected
        parts one after the other
    start : (n + 1,) where each step's scope starts in `scope`
    scope : the axes left around each step's own, latest eliminated first
    position : (n,) the step at which each axis is eliminated
    cost : predicted work, in products
    """
    graph, collectors = neighbours(folded), folded.axis_sort != VALUE
    effort = (_TRIES, True) if thorough else (_FEW, False)
    first = _first_order(graph, collectors, effort)
    if thorough or not _WORTH_MORE[0] < first[4] < _WORTH_MORE[1]:
        return first
    return _first_order(graph, collectors, (_MORE, True))


@njit(cache=True)
def as_numbered(folded: Folded) -> Order:
    """Return the axes in the order in which they are numbered; the cost is not known."""
    order = np.arange(folded.axis_sort.shape[0])
    start, scope = _scopes(neighbours(folded), order, order)
    return order, start, scope, order, np.inf


@njit(cache=True)
def _first_order(graph: tuple[Ints, Ints], is_collector: Flags, effort: tuple[int, bool]) -> Order:
    """Do so with given effort: how many greedy tries, and whether turns are looked at.

    `graph`: neighbours of axis ``i`` are ``around[pointer[i]:pointer[i + 1]]``; symmetric, no
    axis its own neighbour, none listed twice.
    """
    pointer, around = graph
    total = pointer.shape[0] - 1
    taken, owner = np.empty(total, np.int64), np.full(total, -2, np.int64)
    trimmed = _trim(pointer, around, taken, owner)
    part, count = _parts(pointer, around)
    sequence, start = _by_part(part, count, (taken, trimmed), owner)
    cost, where = 4.0 * trimmed, np.full(total, -1, np.int64)
    for p in range(count):
        low, high = start[p], start[p + 1]
        while low < high and owner[sequence[low]] != -2:
            low += 1
        core = sequence[low:high].copy()
        if core.size:
            rows = _core(pointer, around, where, core)
            best, work = best_order(rows, _words(core, is_collector), effort[0], effort[1])
            cost += work
            sequence[low:high] = core[best]
    position = np.empty(total, np.int64)
    for step in range(total):
        position[sequence[step]] = step
    bounds, scope = _scopes(graph, sequence, position)
    return sequence, bounds, scope, position, cost


@njit(cache=True)
def _words(core: Ints, is_collector: Flags) -> Bits:
    """Return which axes of the core are collectors, as bits."""
    words = np.zeros((core.shape[0] + 63) // 64, np.uint64)
    for i in range(core.shape[0]):
        if is_collector[core[i]]:
            words[i // 64] |= np.uint64(1) << np.uint64(i % 64)
    return words


@njit(cache=True, forceinline=True)
def _put(some: Ints, here: tuple[int, int], room: tuple[Ints, Ints], position: Ints) -> int:
    """Add those of some axes that come after the step and are not there yet; return how many."""
    step, count = here
    mark, near = room
    for axis in some:
        if position[axis] > step and mark[axis] != step:
            mark[axis], near[count] = step, axis
            count += 1
    return count


@njit(cache=True)
def _scopes(graph: tuple[Ints, Ints], sequence: Ints, position: Ints) -> tuple[Ints, Ints]:
    """Return each step's scope, as starts and a list.

    A step's table ranges over the neighbours that come later and over what the
    steps before it have left to it.
    """
    pointer, around = graph
    total = sequence.shape[0]
    start = np.zeros(total + 1, np.int64)
    scope = np.empty(max(64, 3 * total), np.int64)
    first, after = np.full(total, -1), np.full(total, -1)
    mark, near = np.full(total, -1), np.empty(total, np.int64)
    used = 0
    for step in range(total):
        axis = sequence[step]
        count = _put(around[pointer[axis] : pointer[axis + 1]], (step, 0), (mark, near), position)
        child = first[step]
        while child >= 0:
            count = _put(
                scope[start[child] : start[child + 1]], (step, count), (mark, near), position
            )
            child = after[child]
        if used + count > scope.shape[0]:
            scope = np.concatenate((scope, np.empty(scope.shape[0] + count, np.int64)))
        for i in range(count):  # latest eliminated first
            at = used + i
            while at > used and position[scope[at - 1]] < position[near[i]]:
                scope[at] = scope[at - 1]
                at -= 1
            scope[at] = near[i]
        used += count
        start[step + 1] = used
        if count:
            parent = position[scope[used - 1]]
            after[step], first[parent] = first[parent], step
    return start, scope[:used]
