"""An order made better by turning edges of its tree, one at a time.

Eliminating the axes of a core in order makes a tree: an axis hangs below the first axis of its
scope. Let an axis and its parent change places, and only the scopes of these two change: what is
left once both are gone is the same, so that the tree above does not notice. The difference in
work is known after a look at the children of the two, in less than a microsecond. Every order
of elimination can be reached by such turns.

A turn that brings the work down is always made, one that brings it up sometimes,
less and less often: annealing [1]_, with fixed noise. The best tree on the way is kept.

Work is counted as in `triage.greedy`, and two products more for each entry of a table that a
child is joined into: so much its packing takes, as measured.

References
----------
.. [1] Kirkpatrick, S., Gelatt, C. D. and Vecchi, M. P. (1983). Optimization by simulated
       annealing. Science 220(4598), 671-680. (From memory.)
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Bits, Floats, Ints
from triage.bare import bare
from triage.greedy import eliminate, popcount

__all__ = ["turn"]

_WARM, _COLD = 0.05, 0.001  # what a turn may add to the work, as a share of it, first and last
_PACKING = 2.0
_MOST = 300  # axes of a table that is looked at; a power of more would have no room in a double
_TWO, _HALF = 2.0 ** np.arange(2 * _MOST + 2), 1.5 ** np.arange(_MOST + 1)
_ONE = np.uint64(1)


class _Tree(NamedTuple):
    """Which axis hangs below which; rows are axes, and a spare one at the end."""

    rows: Bits  # (axes, words) the graph
    scope: Bits  # (axes + 1, words) what each axis' message ranges over
    size: Ints  # number of axes of it
    parent: Ints  # -1 for a root
    first: Ints  # of each axis: one of its children, -1 for none ...
    after: Ints  # ... and of each child: the next one of the same parent
    work: Floats  # of each step
    collectors: Bits  # (words,)
    filled: Bits  # (words,) room for one step
    upper: Ints  # (axes + 1,) room for the children that one axis would have ...
    lower: Ints  # ... and for those of the other


@njit(cache=True, forceinline=True)
def _join(tree: _Tree, child: int, axis: int, row: int) -> float:
    """Return the products of joining a child's message; bring `filled` up to date."""
    size, shared, filled = tree.size[child], 0, tree.filled
    for w in range(filled.shape[0]):
        mine, whole = tree.scope[child, w], tree.scope[row, w]
        if w == axis >> 6:
            whole |= _ONE << np.uint64(axis & 63)
        shared += popcount(mine & filled[w])
        size += popcount(whole & ~mine & (filled[w] | ~tree.collectors[w]))
        filled[w] |= mine & tree.collectors[w]
    return _TWO[size] * _HALF[shared]


@njit(cache=True, forceinline=True)
def _step(tree: _Tree, where: tuple[int, int], kids: Ints, many: int, bound: float) -> float:
    """Return the work of a step, or stop once it is past `bound`.

    Parameters
    ----------
    where : the axis eliminated, and the row that holds its scope
    kids, many : its children, which are put in order: small ones are joined first
    """
    axis, row = where
    size = tree.size[row]
    if size > _MOST:
        return np.inf
    for i in range(1, many):
        j, child = i, kids[i]
        while j > 0 and tree.size[kids[j - 1]] > tree.size[child]:
            kids[j] = kids[j - 1]
            j -= 1
        kids[j] = child
    work = _TWO[size + 1]
    tree.filled[:] = 0
    for i in range(many):
        if work > bound:
            break
        if tree.size[kids[i]] > 1:
            work += _join(tree, kids[i], axis, row) + _PACKING * _TWO[size + 1]
    return work


@njit(cache=True)
def _plant(rows: Bits, collectors: Bits, sequence: Ints) -> _Tree:
    """Return the tree of an order."""
    total, words = rows.shape
    tree = _Tree(
        rows,
        np.zeros((total + 1, words), np.uint64),
        np.zeros(total + 1, np.int64),
        np.full(total, -1, np.int64),
        np.full(total, -1, np.int64),
        np.full(total, -1, np.int64),
        np.zeros(total),
        collectors,
        np.zeros(words, np.uint64),
        np.empty(total + 1, np.int64),
        np.empty(total + 1, np.int64),
    )
    position, adjacent, room = np.empty(total, np.int64), rows.copy(), tree.upper
    for step in range(total):
        position[sequence[step]] = step
    for step in range(total):
        axis = sequence[step]
        tree.scope[axis] = adjacent[axis]
        count = eliminate(adjacent, axis, room)
        tree.size[axis] = count
        if count:
            next_ = total
            for i in range(count):
                next_ = min(next_, position[room[i]])
            up = sequence[next_]
            tree.parent[axis], tree.after[axis], tree.first[up] = up, tree.first[up], axis
        count, child = 0, tree.first[axis]
        while child >= 0:
            room[count] = child
            count, child = count + 1, tree.after[child]
        tree.work[axis] = _step(tree, (axis, axis), room, count, np.inf)
    return tree


@njit(cache=True, forceinline=True)
def _take(tree: _Tree, child: int) -> None:
    """Put a child's scope to that in the spare row."""
    spare = tree.parent.shape[0]
    for w in range(tree.filled.shape[0]):
        tree.scope[spare, w] |= tree.scope[child, w]


@njit(cache=True, forceinline=True)
def _look(tree: _Tree, low: int, high: int) -> tuple[int, int]:
    """Write what would change if an axis and its parent changed places.

    The spare row gets what the parent's message would range over, `upper` and `lower` the
    children of the parent and of the axis. Returns how many.
    """
    spare, many, few = tree.parent.shape[0], 0, 0
    for w in range(tree.filled.shape[0]):
        tree.scope[spare, w] = tree.rows[high, w]
    child = tree.first[high]
    while child >= 0:
        if child != low:
            tree.upper[many] = child
            _take(tree, child)
            many += 1
        child = tree.after[child]
    child = tree.first[low]
    while child >= 0:
        if tree.scope[child, high >> 6] >> np.uint64(high & 63) & _ONE:
            tree.upper[many] = child
            _take(tree, child)
            many += 1
        else:
            tree.lower[few] = child
            few += 1
        child = tree.after[child]
    tree.lower[few] = spare
    size = 0
    for w in range(tree.filled.shape[0]):
        word = tree.scope[spare, w] & tree.scope[high, w]
        if w == low >> 6:
            word |= _ONE << np.uint64(low & 63)
        tree.scope[spare, w] = word
        size += popcount(word)
    tree.size[spare] = size
    return many, few + 1


@njit(cache=True, forceinline=True)
def _hang(tree: _Tree, up: int, kids: Ints, many: int) -> None:
    """Hang some axes below another, and nothing else."""
    tree.first[up] = -1
    for i in range(many):
        child = kids[i]
        tree.parent[child], tree.after[child], tree.first[up] = up, tree.first[up], child


@njit(cache=True, forceinline=True)
def _change(tree: _Tree, low: int, high: int, many: int, few: int) -> None:
    """Let an axis and its parent change places, as `_look` has written it down."""
    above, spare = tree.parent[high], tree.parent.shape[0]
    if above >= 0:  # the axis takes its parent's place among the children of the one above
        tree.after[low] = tree.after[high]
        if tree.first[above] == high:
            tree.first[above] = low
        else:
            child = tree.first[above]
            while tree.after[child] != high:
                child = tree.after[child]
            tree.after[child] = low
    for w in range(tree.filled.shape[0]):
        tree.scope[low, w], tree.scope[high, w] = tree.scope[high, w], tree.scope[spare, w]
    tree.size[low], tree.size[high] = tree.size[high], tree.size[spare]
    for i in range(few):
        if tree.lower[i] == spare:
            tree.lower[i] = high
    _hang(tree, high, tree.upper, many)
    _hang(tree, low, tree.lower, few)
    tree.parent[low] = above


@njit(cache=True)
def _write(tree: _Tree, parent: Ints, out: Ints) -> None:
    """Write the axes of a tree, children before parents, one branch after the other."""
    first, after, stack = tree.first, tree.after, tree.upper
    first[:] = -1
    place, top = parent.shape[0], 0
    for axis in range(parent.shape[0]):
        if parent[axis] < 0:
            stack[top] = axis
            top += 1
        else:
            after[axis], first[parent[axis]] = first[parent[axis]], axis
    while top:  # filled from the end: a parent, then its branches
        top -= 1
        place -= 1
        axis = stack[top]
        out[place] = axis
        child = first[axis]
        while child >= 0:
            stack[top] = child
            top, child = top + 1, after[child]


@njit(cache=True, forceinline=True)
def _weigh(
    tree: _Tree, pair: tuple[int, int], counts: tuple[int, int], bound: float
) -> tuple[float, float]:
    """Return the work of the parent and of the axis once they have changed places.

    The second is infinite where both are past `bound`.
    """
    low, high = pair
    axis, row, kids, count = high, tree.parent.shape[0], tree.upper, counts[0]
    upper, work, left = 0.0, 0.0, bound
    for side in range(2):  # one piece of code for both
        work = _step(tree, (axis, row), kids, count, left)
        left -= work
        if left < 0.0:
            return upper, np.inf
        if side == 0:
            upper = work
            axis, row, kids, count = low, high, tree.lower, counts[1]
    return upper, work


@njit(cache=True)
def _anneal(tree: _Tree, best: Ints, turns: int) -> None:
    """Look at so many turns; `best` gets the parents of the best tree on the way."""
    total, work = tree.parent.shape[0], tree.work.sum()
    least, heat = work, _WARM
    cooling = (_COLD / _WARM) ** (1.0 / max(turns, 1))
    state = np.uint64(0x9E3779B97F4A7C15)
    for _ in range(turns):
        heat *= cooling
        state = state * np.uint64(6364136223846793005) + np.uint64(1442695040888963407)
        low = np.int64((state >> np.uint64(33)) % np.uint64(total))
        high = tree.parent[low]
        if high < 0:
            continue
        many, few = _look(tree, low, high)
        state = state * np.uint64(6364136223846793005) + np.uint64(1442695040888963407)
        luck = (np.float64(state >> np.uint64(11)) + 1.0) / 9007199254740993.0
        before = tree.work[low] + tree.work[high]
        bound = before - heat * work * np.log(luck)
        upper, lower = _weigh(tree, (low, high), (many, few), bound)
        if lower == np.inf:
            continue
        _change(tree, low, high, many, few)
        tree.work[high], tree.work[low] = upper, lower
        work += upper + lower - before
        if work < least:
            least = work
            best[:] = tree.parent


@njit(cache=True)
def turn(rows: Bits, collectors: Bits, sequence: Ints, turns: int) -> None:
    """Make an order of elimination better, in place.

    Parameters
    ----------
    rows : (axes, words) the graph among the axes, as bits
    collectors : which of them are collectors
    sequence : (axes,) the order
    turns : how many turns are looked at
    """
    tree = _plant(rows, collectors, sequence)
    best = tree.parent.copy()
    lean = _Tree(
        bare(tree.rows),
        bare(tree.scope),
        bare(tree.size),
        bare(tree.parent),
        bare(tree.first),
        bare(tree.after),
        bare(tree.work),
        bare(tree.collectors),
        bare(tree.filled),
        bare(tree.upper),
        bare(tree.lower),
    )
    _anneal(lean, bare(best), turns)
    _write(lean, bare(best), sequence)
