"""In which order a step joins the messages of its children.

The product of several tables does not depend on the order, the work does. A
collector axis that the table has not filled yet costs two products; one that
both have filled costs three, or four where the message brings the gate. So the
message that brings a gate had better come before the others, and narrow ones
before wide ones, but both wishes can collide. What has been joined so far decides
what the next join costs, whatever its order was: the best order is found exactly
by dynamic programming over the sets of children [1]_.

References
----------
.. [1] Held, M. and Karp, R. M. (1962). A dynamic programming approach to
       sequencing problems. Journal of the SIAM 10(1), 196-210. (From memory.)
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Ints
from triage.ordering import popcount
from triage.tables import GATED

__all__ = ["line_up"]

#: Children of one step that are ordered exactly; further ones come last, largest first.
_MOST = 9


@njit(cache=True)
def _largest_first(child: Ints, low: int, high: int, start: Ints) -> None:
    """Sort some children by the size of their messages (insertion sort)."""
    for i in range(low + 1, high):
        j = i
        while j > low:
            a, b = child[j - 1], child[j]
            if start[a + 1] - start[a] >= start[b + 1] - start[b]:
                break
            child[j - 1], child[j] = b, a
            j -= 1


@njit(cache=True)
def _count(number: int) -> int:
    """Return the number of set bits."""
    return popcount(np.uint64(number))


@njit(cache=True)
def _price(child: tuple[int, int], table: tuple[int, int], size: int) -> float:
    """Return the products of one join.

    Parameters
    ----------
    child : axes of the message, and those of them that it brings gated
    table : axes of the table that are filled, and those of them that are collectors
    size : number of axes of the step's table
    """
    mask, gated = child
    filled, collectors = table
    shared = mask & filled & collectors
    wide = _count(shared & ~gated)
    widest = _count(shared & gated)
    other = _count(mask & ~shared) + _count(filled & ~mask)
    packed = 2.0 ** min(wide + widest + other, size)
    return 3.0**wide * 4.0**widest * 2.0**other + 4.0 * packed


@njit(cache=True)
def line_up(
    tree: tuple[Ints, Ints, Ints], children: tuple[Ints, Ints], role: Ints, sort: Ints
) -> None:
    """Put the children of every step in the order in which they are joined, in place.

    Messages over at most one axis come last: those are combined among themselves.

    Parameters
    ----------
    tree : start and scope of the steps, and the axis of each
    children : starts and the list that is put in order
    role : of every scope entry
    sort : of every axis
    """
    start, scope, sequence = tree
    child_start, child = children
    bit = np.zeros(sequence.shape[0], np.int64)
    for step in range(sequence.shape[0]):
        low, high = child_start[step], child_start[step + 1]
        _largest_first(child, low, high, start)
        wide = low
        while wide < high and start[child[wide] + 1] - start[child[wide]] > 1:
            wide += 1
        many = min(wide - low, _MOST)
        if many < 2:
            continue
        for i in range(start[step], start[step + 1]):
            bit[scope[i]] = i - start[step]
        size = start[step + 1] - start[step] + 1
        bit[sequence[step]] = size - 1
        table = _table(tree, step, sort, wide < high)
        _best(
            child[low : low + many], _masks(tree, child[low : low + many], role, bit), table, size
        )


@njit(cache=True)
def _table(tree: tuple[Ints, Ints, Ints], step: int, sort: Ints, singles: bool) -> tuple[int, int]:
    """Return which axes of a step's table are filled at first, and which are collectors."""
    start, scope, sequence = tree
    filled, collectors = 0, 0
    for i in range(start[step], start[step + 1]):
        if sort[scope[i]] == 0:
            filled |= 1 << (i - start[step])
        else:
            collectors |= 1 << (i - start[step])
    own = 1 << (start[step + 1] - start[step])
    if sort[sequence[step]] == 0:
        return filled | own, collectors
    return (filled | own if singles else filled), collectors | own


@njit(cache=True)
def _masks(tree: tuple[Ints, Ints, Ints], some: Ints, role: Ints, bit: Ints) -> Ints:
    """Return (children, 2): the axes of each message, and those that it brings gated."""
    start, scope, _ = tree
    masks = np.zeros((some.shape[0], 2), np.int64)
    for k in range(some.shape[0]):
        for i in range(start[some[k]], start[some[k] + 1]):
            masks[k, 0] |= 1 << bit[scope[i]]
            if role[i] == GATED:
                masks[k, 1] |= 1 << bit[scope[i]]
    return masks


@njit(cache=True)
def _best(child: Ints, masks: Ints, table: tuple[int, int], size: int) -> None:
    """Write the order with the least products."""
    many = child.shape[0]
    filled, collectors = table
    least = np.full(1 << many, np.inf)
    last = np.zeros(1 << many, np.int64)
    least[0] = 0.0
    for done in range(1 << many):
        here = filled
        for k in range(many):
            if done >> k & 1:
                here |= masks[k, 0]
        for k in range(many):
            if done >> k & 1:
                continue
            after = done | 1 << k
            price = least[done] + _price((masks[k, 0], masks[k, 1]), (here, collectors), size)
            if price < least[after]:
                least[after], last[after] = price, k
    before = child.copy()
    done = (1 << many) - 1
    for place in range(many - 1, -1, -1):
        child[place] = before[last[done]]
        done &= ~(1 << last[done])
