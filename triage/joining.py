"""Joining a child's message into a table, forwards and transposed.

The axes of the message meet those of the table in three ways. On a *shared*
collector axis both have collected something, and the two are joined by OR or
pulled through a gate (`triage.tables.join_terms`). On a *plain* axis - a value
axis, or a collector that the table has not filled yet - entries are multiplied
one by one. The *rest* are axes that only the table has.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints
from triage.folding import VALUE
from triage.planning import Plan
from triage.tables import COLLECTING, EMPTY, GATED, join_terms, offsets

__all__ = ["join", "join_back", "split"]

# Rows of a meeting: what `split` writes and the joins read.
SHARED_T, SHARED_KIND, SHARED_M, PLAIN_T, PLAIN_M, PLAIN_READ, REST = range(7)


@njit(cache=True)
def split(
    plan: Plan, step: int, child: int, look: tuple[Ints, Ints], meeting: tuple[Ints, Ints]
) -> None:
    """Write how the axes of a child's message meet those of the step's table.

    Parameters
    ----------
    look : bit and role of every axis in the table; roles are brought up to date
    meeting : (7, width) bits and (3,) counts of shared, plain and rest axes
    """
    bit, role = look
    rows, counts = meeting
    shared, plain, inside = 0, 0, np.int64(0)
    for i in range(plan.start[child], plan.start[child + 1]):
        axis = plan.scope[i]
        inside |= np.int64(1) << bit[axis]
        at = i - plan.start[child]
        if plan.sort[axis] != VALUE and role[axis] != EMPTY:
            rows[SHARED_T, shared], rows[SHARED_M, shared] = bit[axis], at
            kind = 1 if role[axis] == GATED else 0
            rows[SHARED_KIND, shared] = 2 if plan.role[i] == GATED else kind
            shared += 1
        else:
            rows[PLAIN_T, plain], rows[PLAIN_M, plain] = bit[axis], at
            rows[PLAIN_READ, plain] = 1 if plan.sort[axis] == VALUE else 0
            plain += 1
    rest = 0
    for i in range(plan.start[step], plan.start[step + 1] + 1):
        axis = plan.scope[i] if i < plan.start[step + 1] else plan.sequence[step]
        if not (inside >> bit[axis]) & 1 and (plan.sort[axis] == VALUE or role[axis] != EMPTY):
            rows[REST, rest] = bit[axis]
            rest += 1
    counts[0], counts[1], counts[2] = shared, plain, rest
    for i in range(plan.start[child], plan.start[child + 1]):
        axis = plan.scope[i]
        if plan.sort[axis] != VALUE and role[axis] != GATED:
            role[axis] = GATED if plan.role[i] == GATED else COLLECTING


@njit(cache=True)
def _read_offsets(rows: Ints, count: int) -> Ints:
    """Return where the table is read on plain axes: 0 on one it has not filled."""
    out = np.zeros(1 << count, np.int64)
    for b in range(count):
        step, half = (np.int64(1) << rows[PLAIN_T, b]) * rows[PLAIN_READ, b], 1 << b
        for i in range(half):
            out[half + i] = out[i] + step
    return out


@njit(cache=True)
def _corner(index: int, count: int) -> int:
    """Return the base-3 index whose digits are 0 or 2 where the bits are 0 or 1."""
    at, digit = 0, 1
    for _ in range(count):
        at += 2 * digit * (index & 1)
        index >>= 1
        digit *= 3
    return at


@njit(cache=True)
def _thirds(message: Floats, rows: Ints, shared: int, plain: int) -> Floats:
    """Return the message as (3**shared * 2**plain, lanes): off, all, on where shared."""
    lanes = message.shape[1]
    width = 1 << plain
    plain_at = offsets(rows[PLAIN_M], plain)
    corner = offsets(rows[SHARED_M], shared)
    total = 3**shared
    out = np.empty((total * width, lanes))
    for i in range(1 << shared):
        at = _corner(i, shared) * width
        for j in range(width):
            for b in range(lanes):
                out[at + j, b] = message[corner[i] + plain_at[j], b]
    digit = 1
    for _ in range(shared):
        for i in range(total):
            if (i // digit) % 3 == 1:
                low, high = (i - digit) * width, (i + digit) * width
                for j in range(width):
                    for b in range(lanes):
                        out[i * width + j, b] = out[low + j, b] + out[high + j, b]
        digit *= 3
    return out


@njit(cache=True)
def _thirds_back(grown: Floats, message: Floats, rows: Ints, shared: int, plain: int) -> None:
    """Transpose of `_thirds`: write the message's derivative; spoils `grown`."""
    lanes = message.shape[1]
    width = 1 << plain
    total = 3**shared
    digit = 1
    for _ in range(shared):
        for i in range(total):
            if (i // digit) % 3 == 1:
                low, high = (i - digit) * width, (i + digit) * width
                for j in range(width):
                    for b in range(lanes):
                        flow = grown[i * width + j, b]
                        grown[low + j, b] += flow
                        grown[high + j, b] += flow
        digit *= 3
    plain_at = offsets(rows[PLAIN_M], plain)
    corner = offsets(rows[SHARED_M], shared)
    for i in range(1 << shared):
        at = _corner(i, shared) * width
        for j in range(width):
            for b in range(lanes):
                message[corner[i] + plain_at[j], b] = grown[at + j, b]


@njit(cache=True)
def join(table: Floats, message: Floats, out: Floats, meeting: tuple[Ints, Ints]) -> None:
    """Write the join of a table and a message into `out`."""
    rows, counts = meeting
    shared, plain, rest = counts[0], counts[1], counts[2]
    out[:] = 0.0
    lanes = message.shape[1]
    read, write = _read_offsets(rows, plain), offsets(rows[PLAIN_T], plain)
    along = offsets(rows[REST], rest)
    width = 1 << plain
    if shared == 0:
        for p in range(width):
            for r in range(along.shape[0]):
                for b in range(lanes):
                    out[write[p] + along[r], b] = table[read[p] + along[r], b] * message[p, b]
        return
    grown = _thirds(message, rows, shared, plain)
    term_t, term_m, term_o = join_terms(rows[SHARED_KIND], rows[SHARED_T], shared)
    for t in range(term_t.shape[0]):
        for p in range(width):
            at_t, at_o, at_m = term_t[t] + read[p], term_o[t] + write[p], term_m[t] * width + p
            for r in range(along.shape[0]):
                for b in range(lanes):
                    out[at_o + along[r], b] += table[at_t + along[r], b] * grown[at_m, b]


@njit(cache=True)
def join_back(
    table: Floats, message: Floats, slopes: tuple[Floats, Floats, Floats], meeting: tuple[Ints, Ints]
) -> None:
    """Transpose of `join`.

    `slopes` are the derivative of the joined table (read), of the table before
    (written) and of the message (written).
    """
    slope, slope_table, slope_message = slopes
    rows, counts = meeting
    shared, plain, rest = counts[0], counts[1], counts[2]
    slope_table[:] = 0.0
    lanes = message.shape[1]
    read, write = _read_offsets(rows, plain), offsets(rows[PLAIN_T], plain)
    along = offsets(rows[REST], rest)
    width = 1 << plain
    if shared == 0:
        for p in range(width):
            for b in range(lanes):
                slope_message[p, b] = 0.0
            for r in range(along.shape[0]):
                for b in range(lanes):
                    flow = slope[write[p] + along[r], b]
                    slope_table[read[p] + along[r], b] += flow * message[p, b]
                    slope_message[p, b] += flow * table[read[p] + along[r], b]
        return
    grown = _thirds(message, rows, shared, plain)
    back = np.zeros_like(grown)
    term_t, term_m, term_o = join_terms(rows[SHARED_KIND], rows[SHARED_T], shared)
    for t in range(term_t.shape[0]):
        for p in range(width):
            at_t, at_o, at_m = term_t[t] + read[p], term_o[t] + write[p], term_m[t] * width + p
            for r in range(along.shape[0]):
                for b in range(lanes):
                    flow = slope[at_o + along[r], b]
                    slope_table[at_t + along[r], b] += flow * grown[at_m, b]
                    back[at_m, b] += flow * table[at_t + along[r], b]
    _thirds_back(back, slope_message, rows, shared, plain)
