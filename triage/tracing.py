"""The table operations of elimination on names in place of numbers.

A table has one entry for each combination of a few axes; on a collector axis it is
*collecting* or *gated*, as in `triage.tables`. An axis that is not in a table is one
on which nothing has been collected, so tables grow only when they must. What comes
out of each operation is written down by `triage.circuit`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Ints
from triage.circuit import NODES, ONE, ZERO, Names, Pen, add_term, constant
from triage.folding import VALUE
from triage.tables import COLLECTING, GATED

__all__ = ["Desk", "Left", "begin", "gate", "join", "leave", "link", "new_desk", "summed"]

# How a joined entry comes about on a shared collector, by kind (both collecting, the table gated,
# the message gated) and by off or on: how many products, and (table, message) of each. On the
# message 0 is off, 1 on, 2 both together. It says what `triage.tables.write_terms` says.
_HOW_MANY = np.array([[1, 2], [2, 1], [2, 2]])
_HOW = np.array(
    [
        [[[0, 0], [0, 0]], [[1, 2], [0, 1]]],
        [[[0, 0], [1, 1]], [[1, 2], [0, 0]]],
        [[[0, 0], [1, 1]], [[0, 1], [1, 1]]],
    ]
)


class Desk(NamedTuple):
    """The table at hand."""

    table: Names  # (2**most,)
    spare: Names
    axes: Ints  # (most,) the axis of each bit
    where: Ints  # of each axis: its bit, -1 where the table doesn't have it
    role: Ints  # of each collector axis in the table
    many: Ints  # (1,) number of axes
    shared: Ints  # (4, most) bit, stride, kind, and place of a shared collector of a message
    plain: Ints  # (3, most) bit, stride and place of its other axes


class Left(NamedTuple):
    """What the steps have left: a message each."""

    names: Names
    start: Ints  # (steps + 1,) where each message starts in `names`
    axes: Ints
    role: Ints
    first: Ints  # (steps + 1,) where its axes start
    width: Ints  # (steps,) how many they are


@njit(cache=True)
def new_desk(total: int, most: int) -> Desk:
    """Return a desk for tables of so many axes."""
    return Desk(
        np.empty(1 << most, np.int32),
        np.empty(1 << most, np.int32),
        np.empty(most, np.int64),
        np.full(total, -1),
        np.zeros(total, np.int64),
        np.zeros(1, np.int64),
        np.empty((4, most), np.int64),
        np.empty((3, most), np.int64),
    )


@njit(cache=True, forceinline=True)
def _put_axis(desk: Desk, axis: int, role: int) -> int:
    """Give the table one more axis, its entries aside; return the bit."""
    bit = desk.many[0]
    desk.axes[bit], desk.where[axis], desk.role[axis] = axis, bit, role
    desk.many[0] = bit + 1
    return bit


@njit(cache=True, forceinline=True)
def begin(desk: Desk, axis: int, sort: int) -> None:
    """Put a table over one axis on the desk that says nothing."""
    desk.table[0], desk.table[1] = ONE, ONE if sort == VALUE else ZERO
    _put_axis(desk, axis, COLLECTING)


@njit(cache=True, forceinline=True)
def leave(desk: Desk, left: Left, step: int) -> None:
    """Turn the table into the step's message and clear the desk."""
    low = left.first[step]
    for bit in range(desk.many[0]):
        axis = desk.axes[bit]
        left.axes[low + bit], left.role[low + bit] = axis, desk.role[axis]
        desk.where[axis] = -1
    size = 1 << desk.many[0]
    left.names[left.start[step] : left.start[step] + size] = desk.table[:size]
    left.width[step] = desk.many[0]
    desk.many[0] = 0


@njit(cache=True, forceinline=True)
def _widen(desk: Desk, axis: int, sort: int) -> int:
    """Return the axis' bit, having added it where it is not there yet."""
    if desk.where[axis] >= 0:
        return int(desk.where[axis])
    size = 1 << desk.many[0]
    for i in range(size):
        desk.table[size + i] = desk.table[i] if sort == VALUE else ZERO
    return int(_put_axis(desk, axis, COLLECTING))


@njit(cache=True, forceinline=True)
def _grown(desk: Desk, names: Names, counts: tuple[int, int, int], pen: Pen) -> Names:
    """Return a message with both together beside off and on where that is asked for."""
    shared, plain, size = counts
    out = np.empty(size, np.int32)
    for g in range(size):
        at, both = 0, 0
        for k in range(plain):
            at += (g // desk.plain[1, k] % 2) << desk.plain[2, k]
        for k in range(shared):
            digit = g // desk.shared[1, k] % (2 if desk.shared[2, k] == 2 else 3)
            if digit == 2:
                both = desk.shared[1, k]
            else:
                at += digit << desk.shared[3, k]
        if both:
            floor = pen.used[NODES]
            off = add_term(pen, ZERO, out[g - 2 * both], ONE, floor)
            out[g] = add_term(pen, off, out[g - both], ONE, floor)
        else:
            out[g] = names[at]
    return out


@njit(cache=True, forceinline=True)
def _meet(desk: Desk, left: Left, child: int, sort: Ints) -> tuple[int, int, int]:
    """Note how a message's axes meet the table's; return shared, plain, and the grown size."""
    low, size, shared, plain = left.first[child], 1, 0, 0
    for j in range(left.width[child]):
        axis, role = left.axes[low + j], left.role[low + j]
        bit = desk.where[axis]
        if bit >= 0 and sort[axis] != VALUE:
            kind = 2 if role == GATED else (1 if desk.role[axis] == GATED else 0)
            desk.shared[0, shared], desk.shared[1, shared] = bit, size
            desk.shared[2, shared], desk.shared[3, shared] = kind, j
            shared += 1
            size *= 2 if kind == 2 else 3
            if kind == 2:
                desk.role[axis] = GATED
        else:
            if bit < 0:
                bit = _put_axis(desk, axis, role)
            desk.plain[0, plain], desk.plain[1, plain] = bit, size
            desk.plain[2, plain] = j
            plain += 1
            size *= 2
    return shared, plain, size


@njit(cache=True, forceinline=True)
def join(desk: Desk, left: Left, child: int, sort: Ints, pen: Pen) -> None:
    """Join a message into the table."""
    old = (1 << desk.many[0]) - 1
    names = left.names[left.start[child] : left.start[child] + (1 << left.width[child])]
    counts = _meet(desk, left, child, sort)
    if old == 0:
        desk.table[: names.shape[0]] = names
        return
    grown = _grown(desk, names, counts, pen)
    for entry in range(1 << desk.many[0]):
        table, message, ways = entry & old, 0, 1
        for k in range(counts[1]):
            message += ((entry >> desk.plain[0, k]) & 1) * desk.plain[1, k]
        for k in range(counts[0]):
            bit = desk.shared[0, k]
            ways *= _HOW_MANY[desk.shared[2, k], (entry >> bit) & 1]
            table &= ~(1 << bit)
        total, floor = ZERO, pen.used[NODES]
        for way in range(ways):
            t, m = _way(desk, entry, (table, message), counts[0], way)
            total = add_term(pen, total, desk.table[t], grown[m], floor)
        desk.spare[entry] = total
    desk.table[: 1 << desk.many[0]] = desk.spare[: 1 << desk.many[0]]


@njit(cache=True, forceinline=True)
def _way(desk: Desk, entry: int, start: tuple[int, int], shared: int, way: int) -> tuple[int, int]:
    """Return which entries of table and message one product of a joined entry takes."""
    table, message = start
    for k in range(shared):
        bit, kind = desk.shared[0, k], desk.shared[2, k]
        side = (entry >> bit) & 1
        many = _HOW_MANY[kind, side]
        how = _HOW[kind, side, way % many]
        way //= many
        table |= how[0] << bit
        message += how[1] * desk.shared[1, k]
    return table, message


@njit(cache=True, forceinline=True)
def link(desk: Desk, value: int, collector: int, strength: float, pen: Pen) -> None:
    """Let a parent feed a collector."""
    v, c = 1 << _widen(desk, value, VALUE), 1 << _widen(desk, collector, 1)
    pull = desk.role[collector] == GATED
    on, silent = constant(pen, strength), constant(pen, 1.0 - strength)
    for i in range(1 << desk.many[0]):
        if not i & v or i & c:
            continue
        low, high = desk.table[i], desk.table[i | c]
        floor = pen.used[NODES]
        off = add_term(pen, ZERO, low, silent, floor)
        if pull:
            desk.table[i] = add_term(pen, off, high, on, floor)
        else:
            floor = pen.used[NODES]
            more = add_term(pen, ZERO, low, on, floor)
            desk.table[i], desk.table[i | c] = off, add_term(pen, more, high, ONE, floor)


@njit(cache=True, forceinline=True)
def gate(
    desk: Desk, value: int, collector: int, weight: tuple[int, int, int, int], pen: Pen
) -> None:
    """Put the gate on: the collector turns from collecting to gated."""
    v, c = 1 << _widen(desk, value, VALUE), 1 << _widen(desk, collector, 1)
    for i in range(1 << desk.many[0]):
        if i & c:
            continue
        low, high = desk.table[i], desk.table[i | c]
        keep, take = (weight[1], weight[3]) if i & v else (weight[0], weight[2])
        floor = pen.used[NODES]
        both = add_term(pen, add_term(pen, ZERO, low, ONE, floor), high, ONE, floor)
        floor = pen.used[NODES]
        off = add_term(pen, add_term(pen, ZERO, low, keep, floor), high, take, floor)
        desk.table[i] = off
        floor = pen.used[NODES]
        desk.table[i | c] = add_term(pen, ZERO, both, take, floor)
    desk.role[collector] = GATED


@njit(cache=True, forceinline=True)
def summed(desk: Desk, axis: int, value: int, weight: tuple[int, int, int, int], pen: Pen) -> None:
    """Sum an axis out.

    Parameters
    ----------
    axis : the axis
    value : the value axis of a collector's gate; -1 where the weights don't depend on any
    weight : names of the weights: (off, on) of the axis with the value off, then with it on
    """
    v = 1 << _widen(desk, value, VALUE) if value >= 0 else 0
    bit, last = desk.where[axis], desk.many[0] - 1
    own, below = 1 << bit, (1 << bit) - 1
    for entry in range(1 << last):
        i = (entry & below) | (entry & ~below) << 1
        off, on = (weight[2], weight[3]) if i & v else (weight[0], weight[1])
        floor = pen.used[NODES]
        total = add_term(pen, ZERO, desk.table[i], off, floor)
        desk.spare[entry] = add_term(pen, total, desk.table[i | own], on, floor)
    desk.table[: 1 << last] = desk.spare[: 1 << last]
    for b in range(bit, last):
        desk.axes[b] = desk.axes[b + 1]
        desk.where[desk.axes[b]] = b
    desk.where[axis] = -1
    desk.many[0] = last
