"""A narrow case written out as sums of products: a circuit.

Where tables are small, keeping track of them costs far more than the numbers in
them. So a narrow case is gone through once, with the *names* of numbers in
place of numbers, and every product and sum that elimination would do is written
down as one operation, ``number[into] += number[left] * number[right]`` [1]_.
Afterwards the case is nothing but that list. Run forwards it gives the evidence's
probability; run backwards, with derivatives, every marginal at once; and any
variant of the evidence is the same list over other weights (`triage.lanes`).
What is zero or one by structure, such as a collector that has collected nothing yet,
never becomes an operation.

A name is the place of a number, from 0 up, or below zero a constant.

References
----------
.. [1] Darwiche, A. (2003). A differential approach to inference in Bayesian
       networks. Journal of the ACM 50(3), 280-305. (From memory.)
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from triage.arrays import Floats, Ints

__all__ = [
    "CONSTANTS",
    "NODES",
    "ONE",
    "OPS",
    "UNIT",
    "ZERO",
    "Circuit",
    "Names",
    "Pen",
    "add_term",
    "constant",
    "new_pen",
]

Names = npt.NDArray[np.int32]

ZERO, ONE = -1, -2  # names of the constants that every circuit has
OPS, NODES, CONSTANTS, UNIT = range(4)  # what `Pen.used` counts; the last is the place of a one
_ALONE = -(1 << 30)  # no name: the term is a product


class Circuit(NamedTuple):
    """The operations of one case, part by part.

    Operation ``(into, left, right)``: left is a number's place, right a place or a
    constant, and ``into`` below zero says that it is the first to write ``~into``.
    """

    ops: Names  # (operations, 3)
    constants: Floats  # of name -1, -2 ...
    initial: Floats  # (numbers,) weights where there are weights, else nothing
    weight: Ints  # of each axis: the place of the first of its weights
    sort: Ints  # of each axis
    sequence: Ints  # axes, part by part
    step: Ints  # (parts + 1,) where each part starts in `sequence`
    op: Ints  # (parts + 1,) where each part's operations start
    node: Ints  # (parts + 1,) where each part's numbers start
    root: Ints  # (parts,) the name of each part's probability
    part: Ints  # of each axis: its part


class Pen(NamedTuple):
    """A circuit while it is being written."""

    ops: Names
    constants: Floats
    used: Ints


@njit(cache=True)
def new_pen(ops: int, constants: int) -> Pen:
    """Return a pen with room for so many operations and constants."""
    pen = Pen(np.empty((ops, 3), np.int32), np.empty(constants), np.zeros(4, np.int64))
    pen.constants[0], pen.constants[1] = 0.0, 1.0
    pen.used[CONSTANTS] = 2
    return pen


@njit(cache=True, forceinline=True)
def constant(pen: Pen, value: float) -> int:
    """Return the name of a constant."""
    if value == 0.0:
        return ZERO
    if value == 1.0:
        return ONE
    at = pen.used[CONSTANTS]
    if at >= pen.constants.shape[0]:
        pen.used[OPS] = pen.ops.shape[0] + 1  # out of room, as with operations
        return ZERO
    pen.constants[at] = value
    pen.used[CONSTANTS] = at + 1
    return -1 - at


@njit(cache=True, forceinline=True)
def _write(pen: Pen, into: int, left: int, right: int) -> None:
    """Write one operation; one past the room is counted and not written."""
    at = pen.used[OPS]
    if at < pen.ops.shape[0]:
        pen.ops[at, 0], pen.ops[at, 1], pen.ops[at, 2] = into, left, right
    pen.used[OPS] = at + 1


@njit(cache=True, forceinline=True)
def _single(pen: Pen, left: int, right: int) -> int:
    """Return the name of a product that needs no operation, else `_ALONE`."""
    if left == ONE:
        return right
    if right == ONE:
        return left
    if left < 0 and right < 0:
        return constant(pen, pen.constants[-1 - left] * pen.constants[-1 - right])
    return _ALONE


@njit(cache=True)
def add_term(pen: Pen, total: int, left: int, right: int, floor: int) -> int:
    """Return the name of ``total + left * right``.

    `floor` is the first place that was free when this total was begun: a total
    from there on is its own and is added to where it stands.
    """
    if left == ZERO or right == ZERO:
        return total
    single = _single(pen, left, right)
    if single != _ALONE:
        if total == ZERO:
            return single
        if total < 0 and single < 0:
            return constant(pen, pen.constants[-1 - total] + pen.constants[-1 - single])
        left, right = (single, ONE) if single >= 0 else (pen.used[UNIT], single)
    elif left < 0:
        left, right = right, left
    if total < floor:
        made = pen.used[NODES]
        pen.used[NODES] = made + 1
        if total == ZERO:
            _write(pen, ~made, left, right)
            return made
        if total >= 0:
            _write(pen, ~made, total, ONE)
        else:
            _write(pen, ~made, pen.used[UNIT], total)
        total = made
    _write(pen, total, left, right)
    return total
