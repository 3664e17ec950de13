"""Joining a child's message into a table, forwards and transposed.

The axes of the message meet those of the table in three ways. On a *shared*
collector axis both have collected something, and the two are joined by OR or
pulled through a gate (`triage.tables.join_terms`). On a *plain* axis - a value
axis, or a collector that the table has not filled yet - entries are multiplied
one by one. The *rest* are axes that only the table has.

Shared axes cost three products where others cost two, so a large join is all
about them. Tables are packed for it, shared axes first, rest axes last and side
by side, and the message is grown to (off, all, on) on at most `_INNER` shared
axes at a time, which bounds the room.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints
from triage.folding import VALUE
from triage.planning import Plan
from triage.tables import COLLECTING, EMPTY, GATED, join_terms, offsets

__all__ = ["join", "join_back", "split"]

# Rows of a meeting: what `split` writes and the joins read.
SHARED_T, SHARED_KIND, SHARED_M, PLAIN_T, PLAIN_M, PLAIN_READ, REST = range(7)
_INNER = 8


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


class Layout(NamedTuple):
    """Where things lie in a packed join."""

    inner: int  # shared axes grown at once
    shared_at: Ints  # (2**shared,) offsets in the table
    message_at: Ints  # (2**shared,) offsets in the message
    plain_at: Ints  # (2**plain,) offsets in the message
    read: Ints  # (2**plain,) offsets in the table when it is read
    write: Ints  # (2**plain,) offsets when it is written
    along: Ints  # (2**rest,) offsets in the table


@njit(cache=True)
def _layout(meeting: tuple[Ints, Ints]) -> Layout:
    """Return where things lie."""
    rows, counts = meeting
    shared, plain, rest = counts[0], counts[1], counts[2]
    return Layout(
        min(shared, _INNER),
        offsets(rows[SHARED_T], shared),
        offsets(rows[SHARED_M], shared),
        offsets(rows[PLAIN_M], plain),
        _read_offsets(rows, plain),
        offsets(rows[PLAIN_T], plain),
        offsets(rows[REST], rest),
    )


@njit(cache=True)
def _pack(table: Floats, where: Layout, starts: Ints, packed: Floats) -> None:
    """Copy table entries to (shared, plain, rest * lanes) order."""
    lanes, rest = table.shape[1], where.along.shape[0]
    for s in range(where.shared_at.shape[0]):
        for p in range(starts.shape[0]):
            row, at = s * starts.shape[0] + p, where.shared_at[s] + starts[p]
            for r in range(rest):
                for b in range(lanes):
                    packed[row, r * lanes + b] = table[at + where.along[r], b]


@njit(cache=True)
def _unpack(packed: Floats, where: Layout, starts: Ints, table: Floats, add: bool) -> None:
    """Copy back, or add: several plain entries may have been read from one place."""
    lanes, rest = table.shape[1], where.along.shape[0]
    for s in range(where.shared_at.shape[0]):
        for p in range(starts.shape[0]):
            row, at = s * starts.shape[0] + p, where.shared_at[s] + starts[p]
            for r in range(rest):
                for b in range(lanes):
                    if add:
                        table[at + where.along[r], b] += packed[row, r * lanes + b]
                    else:
                        table[at + where.along[r], b] = packed[row, r * lanes + b]


@njit(cache=True)
def _digits(index: int, inner: int, count: int) -> tuple[int, int]:
    """Return which outer shared bits are on, and which stand for both, in base 3."""
    on, both = 0, 0
    for k in range(inner, count):
        digit = index % 3
        index //= 3
        if digit == 1:
            both |= 1 << k
        elif digit == 2:
            on |= 1 << k
    return on, both


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
def _add_up(grown: Floats, inner: int, width: int, back: bool) -> None:
    """Fill the "all" digits from "off" and "on"; or transposed, give them back."""
    digit, lanes = 1, grown.shape[1]
    for _ in range(inner):
        for i in range(grown.shape[0] // width):
            if (i // digit) % 3 != 1:
                continue
            here, low, high = i * width, (i - digit) * width, (i + digit) * width
            for j in range(width):
                for b in range(lanes):
                    if back:
                        grown[low + j, b] += grown[here + j, b]
                        grown[high + j, b] += grown[here + j, b]
                    else:
                        grown[here + j, b] = grown[low + j, b] + grown[high + j, b]
        digit *= 3


@njit(cache=True)
def _grow(message: Floats, where: Layout, outer: tuple[int, int], grown: Floats) -> None:
    """Fill (3**inner * 2**plain, lanes): off, all, on on each inner shared axis."""
    on, both = outer
    width, lanes = where.plain_at.shape[0], message.shape[1]
    grown[:] = 0.0
    for i in range(1 << where.inner):
        at = _corner(i, where.inner)
        part = both
        while True:
            base = where.message_at[i | on | part]
            for j in range(width):
                for b in range(lanes):
                    grown[at * width + j, b] += message[base + where.plain_at[j], b]
            if part == 0:
                break
            part = (part - 1) & both
    _add_up(grown, where.inner, width, False)


@njit(cache=True)
def _grow_back(grown: Floats, where: Layout, outer: tuple[int, int], message: Floats) -> None:
    """Transpose of `_grow`: add to the message's derivative; spoils `grown`."""
    on, both = outer
    width, lanes = where.plain_at.shape[0], message.shape[1]
    _add_up(grown, where.inner, width, True)
    for i in range(1 << where.inner):
        at = _corner(i, where.inner)
        part = both
        while True:
            base = where.message_at[i | on | part]
            for j in range(width):
                for b in range(lanes):
                    message[base + where.plain_at[j], b] += grown[at * width + j, b]
            if part == 0:
                break
            part = (part - 1) & both


@njit(cache=True)
def _outer_terms(meeting: tuple[Ints, Ints], inner: int) -> tuple[Ints, Ints, Ints]:
    """Return the terms of the shared axes beyond the inner ones, in packed bits."""
    rows, counts = meeting
    more = counts[0] - inner
    return join_terms(rows[SHARED_KIND, inner:], np.arange(inner, inner + more), more)


@njit(cache=True, fastmath={"contract"})
def _products(
    out: Floats, table: Floats, grown: Floats, terms: tuple[Ints, Ints, Ints], width: int
) -> None:
    """Add, for each term and plain entry, one row of products to the result."""
    term_t, term_m, term_o = terms
    lanes, many = grown.shape[1], out.shape[1]
    for p in range(width):  # outermost, so that the rows of one entry stay in the cache
        for t in range(term_t.shape[0]):
            of, to, m = term_t[t] * width + p, term_o[t] * width + p, term_m[t] * width + p
            if lanes == 1:
                factor = grown[m, 0]
                for r in range(many):
                    out[to, r] += table[of, r] * factor
            elif lanes == 8:  # a count known to the compiler fills its vector units
                for start in range(0, many, 8):
                    for b in range(8):
                        out[to, start + b] += table[of, start + b] * grown[m, b]
            else:
                for start in range(0, many, lanes):
                    for b in range(lanes):
                        out[to, start + b] += table[of, start + b] * grown[m, b]


@njit(cache=True, fastmath={"contract", "reassoc"})
def _products_back(
    tables: tuple[Floats, Floats, Floats],
    grown: Floats,
    back: Floats,
    terms: tuple[Ints, Ints, Ints],
    width: int,
) -> None:
    """Transpose of `_products`."""
    slope, table, slope_table = tables
    term_t, term_m, term_o = terms
    lanes, many = grown.shape[1], slope.shape[1]
    for p in range(width):  # outermost, so that the rows of one entry stay in the cache
        for t in range(term_t.shape[0]):
            of, to, m = term_t[t] * width + p, term_o[t] * width + p, term_m[t] * width + p
            if lanes == 1:
                factor, total = grown[m, 0], 0.0
                for r in range(many):
                    slope_table[of, r] += slope[to, r] * factor
                    total += slope[to, r] * table[of, r]
                back[m, 0] += total
            elif lanes == 8:
                for start in range(0, many, 8):
                    for b in range(8):
                        flow = slope[to, start + b]
                        slope_table[of, start + b] += flow * grown[m, b]
                        back[m, b] += flow * table[of, start + b]
            else:
                for start in range(0, many, lanes):
                    for b in range(lanes):
                        flow = slope[to, start + b]
                        slope_table[of, start + b] += flow * grown[m, b]
                        back[m, b] += flow * table[of, start + b]


@njit(cache=True)
def _join_plain(table: Floats, message: Floats, out: Floats, where: Layout) -> None:
    """Join where no collector is shared: one product an entry."""
    lanes = message.shape[1]
    out[:] = 0.0
    for p in range(where.read.shape[0]):
        for r in range(where.along.shape[0]):
            to, of = where.write[p] + where.along[r], where.read[p] + where.along[r]
            for b in range(lanes):
                out[to, b] = table[of, b] * message[where.plain_at[p], b]


@njit(cache=True)
def _join_plain_back(
    table: Floats, message: Floats, slopes: tuple[Floats, Floats, Floats], where: Layout
) -> None:
    """Transpose of `_join_plain`."""
    slope, slope_table, slope_message = slopes
    lanes = message.shape[1]
    for p in range(where.read.shape[0]):
        m = where.plain_at[p]
        for r in range(where.along.shape[0]):
            to, of = where.write[p] + where.along[r], where.read[p] + where.along[r]
            for b in range(lanes):
                slope_table[of, b] += slope[to, b] * message[m, b]
                slope_message[m, b] += slope[to, b] * table[of, b]


@njit(cache=True)
def join(table: Floats, message: Floats, out: Floats, meeting: tuple[Ints, Ints]) -> None:
    """Write the join of a table and a message into `out`."""
    rows, counts = meeting
    where = _layout(meeting)
    if counts[0] == 0:
        _join_plain(table, message, out, where)
        return
    lanes, width = message.shape[1], where.plain_at.shape[0]
    shape = (where.shared_at.shape[0] * width, where.along.shape[0] * lanes)
    packed, result = np.empty(shape), np.zeros(shape)
    _pack(table, where, where.read, packed)
    grown = np.empty((3**where.inner * width, lanes))
    term_t, term_m, term_o = join_terms(rows[SHARED_KIND], np.arange(where.inner), where.inner)
    outer_t, outer_m, outer_o = _outer_terms(meeting, where.inner)
    for k in range(outer_t.shape[0]):
        _grow(message, where, _digits(outer_m[k], where.inner, counts[0]), grown)
        terms = (outer_t[k] + term_t, term_m, outer_o[k] + term_o)
        _products(result, packed, grown, terms, width)
    out[:] = 0.0
    _unpack(result, where, where.write, out, False)


@njit(cache=True)
def join_back(
    table: Floats,
    message: Floats,
    slopes: tuple[Floats, Floats, Floats],
    meeting: tuple[Ints, Ints],
) -> None:
    """Transpose of `join`.

    `slopes` are the derivative of the joined table (read), of the table before
    (written) and of the message (written).
    """
    rows, counts = meeting
    slope, slope_table, slope_message = slopes
    where = _layout(meeting)
    slope_table[:] = 0.0
    slope_message[:] = 0.0
    if counts[0] == 0:
        _join_plain_back(table, message, slopes, where)
        return
    lanes, width = message.shape[1], where.plain_at.shape[0]
    shape = (where.shared_at.shape[0] * width, where.along.shape[0] * lanes)
    packed, above, below = np.empty(shape), np.empty(shape), np.zeros(shape)
    _pack(table, where, where.read, packed)
    _pack(slope, where, where.write, above)
    grown = np.empty((3**where.inner * width, lanes))
    back = np.empty_like(grown)
    term_t, term_m, term_o = join_terms(rows[SHARED_KIND], np.arange(where.inner), where.inner)
    outer_t, outer_m, outer_o = _outer_terms(meeting, where.inner)
    for k in range(outer_t.shape[0]):
        outer = _digits(outer_m[k], where.inner, counts[0])
        _grow(message, where, outer, grown)
        back[:] = 0.0
        terms = (outer_t[k] + term_t, term_m, outer_o[k] + term_o)
        _products_back((above, packed, below), grown, back, terms, width)
        _grow_back(back, where, outer, slope_message)
    _unpack(below, where, where.read, slope_table, True)
