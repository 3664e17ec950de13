"""How each step's table takes in what belongs to it, worked out once for all sweeps.

The axes of a child's message meet those of the table in three ways. On a *shared*
collector axis both have collected something, and the two are joined by OR or
pulled through a gate. On a *plain* axis - a value axis, or a collector that the
table has not filled yet - entries are multiplied one by one. The *rest* are axes
that only the table has. Which is which depends on what was taken in before, never on
a number: a plan knows it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Ints
from triage.folding import VALUE
from triage.tables import COLLECTING, EMPTY, GATED

__all__ = [
    "PLAIN_M",
    "PLAIN_READ",
    "PLAIN_T",
    "REST",
    "SHARED_KIND",
    "SHARED_M",
    "SHARED_T",
    "Meetings",
    "Tree",
    "meet",
]

# Rows of a meeting: what `split` writes and the joins read.
SHARED_T, SHARED_KIND, SHARED_M, PLAIN_T, PLAIN_M, PLAIN_READ, REST = range(7)
_ROWS = 7


class Tree(NamedTuple):
    """The steps of a plan, and what each of them takes in."""

    sequence: Ints  # axis eliminated at each step
    start: Ints  # (steps + 1,) where each step's scope starts
    scope: Ints  # axes of all scopes, latest eliminated first
    role: Ints  # role of each scope entry in the step's message; -1 on value axes
    partner: Ints  # of each axis: the other axis of its gate, -1 for none
    sort: Ints  # of each axis: VALUE, GATE or PRESENT
    child_start: Ints
    child: Ints  # steps whose messages a step takes in, in the order of the joins
    link_start: Ints
    link_value: Ints  # links by step
    link_collector: Ints


class Meetings(NamedTuple):
    """How every step's table takes in what belongs to it."""

    single: Ints  # (steps,) where the children over one axis start; those before are joined
    collectors: Ints  # (steps,) which bits of the table are collectors, the own axis left out
    own_role: Ints  # (steps,) role of the own axis once all children are in
    partner_bit: Ints  # (steps,) bit of the own axis' partner, where it is in the scope
    link_bits: Ints  # (links, 2) bits of the value and of the collector axis
    link_role: Ints  # (links,) role of the collector before any link of the step
    join_start: Ints  # (steps + 1,) where the joins of each step start
    row_start: Ints  # (joins + 1,) where the rows of each join start ...
    rows: Ints  # ... (7, axes) each: see the names above
    counts: Ints  # (joins, 3) of shared, plain and rest axes
    table_start: Ints  # (steps + 1,) where each step's tables start when all are kept
    ahead_start: Ints  # (steps + 1,) where the combinations of its singles start


@njit(cache=True)
def meet(tree: Tree) -> Meetings:
    """Return how every step of a plan takes in its children and its links."""
    steps, links = tree.sequence.shape[0], tree.link_value.shape[0]
    single = np.empty(steps, np.int64)
    join_start, table_start = np.zeros(steps + 1, np.int64), np.zeros(steps + 1, np.int64)
    ahead_start = np.zeros(steps + 1, np.int64)
    numbers = 0
    for step in range(steps):
        single[step] = _first_single(tree, step)
        axes = tree.start[step + 1] - tree.start[step] + 1
        joins = single[step] - tree.child_start[step]
        join_start[step + 1] = join_start[step] + joins
        table_start[step + 1] = table_start[step] + ((joins + 1) << axes)
        ahead_start[step + 1] = ahead_start[step] + tree.child_start[step + 1] - single[step] + 2
        numbers += joins * axes * _ROWS
    out = Meetings(
        single,
        np.zeros(steps, np.int64),
        np.empty(steps, np.int64),
        np.full(steps, -1, np.int64),
        np.empty((links, 2), np.int64),
        np.empty(links, np.int64),
        join_start,
        np.zeros(join_start[steps] + 1, np.int64),
        np.empty(numbers, np.int64),
        np.empty((join_start[steps], 3), np.int64),
        table_start,
        ahead_start,
    )
    look = (np.zeros(steps, np.int64), np.zeros(steps, np.int64))
    for step in range(steps):
        _meet_step(tree, step, look, out)
    return out


@njit(cache=True)
def _first_single(tree: Tree, step: int) -> int:
    """Return where the single-axis children start; they come last."""
    c = tree.child_start[step + 1]
    while c > tree.child_start[step]:
        child = tree.child[c - 1]
        if tree.start[child + 1] - tree.start[child] > 1:
            break
        c -= 1
    return c


@njit(cache=True)
def _meet_step(tree: Tree, step: int, look: tuple[Ints, Ints], out: Meetings) -> None:
    """Write how one step takes in what belongs to it; `look` is bit and role of its axes."""
    bit, role = look
    low, high, axis = tree.start[step], tree.start[step + 1], tree.sequence[step]
    for i in range(low, high):
        bit[tree.scope[i]], role[tree.scope[i]] = i - low, EMPTY
        if tree.sort[tree.scope[i]] != VALUE:
            out.collectors[step] |= 1 << (i - low)
    bit[axis], role[axis] = high - low, _role_of_singles(tree, step, out.single[step])
    for c in range(tree.child_start[step], out.single[step]):
        join = out.join_start[step] + c - tree.child_start[step]
        at = out.row_start[join]
        axes = high - low + 1
        out.row_start[join + 1] = at + _ROWS * axes
        rows = out.rows[at : at + _ROWS * axes].reshape((_ROWS, axes))
        _split(tree, (step, tree.child[c]), look, (rows, out.counts[join]))
    out.own_role[step] = role[axis]
    for i in range(low, high):
        if tree.scope[i] == tree.partner[axis]:
            out.partner_bit[step] = i - low
    for k in range(tree.link_start[step], tree.link_start[step + 1]):
        collector = tree.link_collector[k]
        out.link_bits[k, 0], out.link_bits[k, 1] = bit[tree.link_value[k]], bit[collector]
        out.link_role[k] = role[collector]


@njit(cache=True)
def _role_of_singles(tree: Tree, step: int, first: int) -> int:
    """Return the role of the own axis once the single-axis children are in."""
    if tree.sort[tree.sequence[step]] == VALUE or first == tree.child_start[step + 1]:
        return EMPTY
    for c in range(first, tree.child_start[step + 1]):
        if tree.role[tree.start[tree.child[c]]] == GATED:
            return GATED
    return COLLECTING


@njit(cache=True)
def _split(
    tree: Tree, steps: tuple[int, int], look: tuple[Ints, Ints], meeting: tuple[Ints, Ints]
) -> None:
    """Write how the axes of a child's message meet those of the step's table.

    Parameters
    ----------
    steps : the step and its child
    look : bit and role of every axis in the table; roles are brought up to date
    meeting : (7, axes) bits and (3,) counts of shared, plain and rest axes
    """
    step, child = steps
    bit, role = look
    rows, counts = meeting
    shared, plain, inside, both = 0, 0, np.int64(0), 0
    for i in range(tree.start[child], tree.start[child + 1]):
        axis = tree.scope[i]
        inside |= np.int64(1) << bit[axis]
        at = i - tree.start[child]
        if tree.sort[axis] != VALUE and role[axis] != EMPTY:
            kind = 1 if role[axis] == GATED else 0
            kind = 2 if tree.role[i] == GATED else kind
            both = _insert(rows, (shared, both), (bit[axis], kind, at))
            shared += 1
        else:
            rows[PLAIN_T, plain], rows[PLAIN_M, plain] = bit[axis], at
            rows[PLAIN_READ, plain] = 1 if tree.sort[axis] == VALUE else 0
            plain += 1
    counts[0], counts[1] = shared, plain
    counts[2] = _rest(tree, step, look, inside, rows)
    for i in range(tree.start[child], tree.start[child + 1]):
        axis = tree.scope[i]
        if tree.sort[axis] != VALUE and role[axis] != GATED:
            role[axis] = GATED if tree.role[i] == GATED else COLLECTING


@njit(cache=True)
def _insert(rows: Ints, places: tuple[int, int], found: tuple[int, int, int]) -> int:
    """Write a shared axis, those first on which both are collecting; return how many these are."""
    shared, both = places
    where = shared
    if found[1] == 0:
        for row in range(3):
            rows[row, shared] = rows[row, both]
        where = both
        both += 1
    rows[SHARED_T, where], rows[SHARED_KIND, where], rows[SHARED_M, where] = found
    return both


@njit(cache=True)
def _rest(tree: Tree, step: int, look: tuple[Ints, Ints], inside: int, rows: Ints) -> int:
    """Write the axes that only the table has; return how many."""
    bit, role = look
    rest = 0
    for i in range(tree.start[step], tree.start[step + 1] + 1):
        axis = tree.scope[i] if i < tree.start[step + 1] else tree.sequence[step]
        if not (inside >> bit[axis]) & 1 and (tree.sort[axis] == VALUE or role[axis] != EMPTY):
            rows[REST, rest] = bit[axis]
            rest += 1
    return rest
