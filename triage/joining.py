"""Joining a child's message into a table, forwards and transposed.

The axes of the message meet those of the table in three ways. On a *shared*
collector axis both have collected something, and the two are joined by OR or
pulled through a gate (`triage.tables.join_terms`). On a *plain* axis - a value
axis, or a collector that the table has not filled yet - entries are multiplied
one by one. The *rest* are axes that only the table has.

Shared axes cost three products where others cost two, so a large join is all
about them. Tables are packed for it: shared axes first, then plain and rest
axes, the larger of the two last and side by side, which makes the *run* that the
innermost loop goes along. The message is grown to (off, all, on) on at most
`_INNER` shared axes at a time, and on fewer where it is wide, so that it stays near the core.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints
from triage.folding import VALUE
from triage.planning import Plan
from triage.products import Shape, Terms, add_products, add_products_back
from triage.tables import COLLECTING, EMPTY, GATED, join_terms, offsets

__all__ = ["join", "join_back", "split"]

# Rows of a meeting: what `split` writes and the joins read.
SHARED_T, SHARED_KIND, SHARED_M, PLAIN_T, PLAIN_M, PLAIN_READ, REST = range(7)
_INNER = 8
_OUTER = 4  # shared axes that are left out of the growing for its sake, at most
_GROWN = 1 << 15  # numbers of a grown message: what stays in a cache near the core


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
    shared, plain, inside, both = 0, 0, np.int64(0), 0
    for i in range(plan.start[child], plan.start[child + 1]):
        axis = plan.scope[i]
        inside |= np.int64(1) << bit[axis]
        at = i - plan.start[child]
        if plan.sort[axis] != VALUE and role[axis] != EMPTY:
            kind = 1 if role[axis] == GATED else 0
            kind = 2 if plan.role[i] == GATED else kind
            both = _insert(rows, (shared, both), (bit[axis], kind, at))
            shared += 1
        else:
            rows[PLAIN_T, plain], rows[PLAIN_M, plain] = bit[axis], at
            rows[PLAIN_READ, plain] = 1 if plan.sort[axis] == VALUE else 0
            plain += 1
    counts[0], counts[1] = shared, plain
    counts[2] = _rest(plan, step, look, inside, rows)
    for i in range(plan.start[child], plan.start[child + 1]):
        axis = plan.scope[i]
        if plan.sort[axis] != VALUE and role[axis] != GATED:
            role[axis] = GATED if plan.role[i] == GATED else COLLECTING


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
def _rest(plan: Plan, step: int, look: tuple[Ints, Ints], inside: int, rows: Ints) -> int:
    """Write the axes that only the table has; return how many."""
    bit, role = look
    rest = 0
    for i in range(plan.start[step], plan.start[step + 1] + 1):
        axis = plan.scope[i] if i < plan.start[step + 1] else plan.sequence[step]
        if not (inside >> bit[axis]) & 1 and (plan.sort[axis] == VALUE or role[axis] != EMPTY):
            rows[REST, rest] = bit[axis]
            rest += 1
    return rest


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
    inner = min(shared, _INNER)
    while inner > max(2, shared - _OUTER) and 3**inner << plain > _GROWN:
        inner -= 1
    return Layout(
        inner,
        offsets(rows[SHARED_T], shared),
        offsets(rows[SHARED_M], shared),
        offsets(rows[PLAIN_M], plain),
        _read_offsets(rows, plain),
        offsets(rows[PLAIN_T], plain),
        offsets(rows[REST], rest),
    )


@njit(cache=True)
def _pack(table: Floats, where: Layout, starts: Ints, packed: Floats) -> None:
    """Copy table entries to (shared, plain or rest, the larger of the two) order."""
    plain, rest = starts.shape[0], where.along.shape[0]
    for s in range(where.shared_at.shape[0]):
        if rest >= plain:
            for p in range(plain):
                row, at = s * plain + p, where.shared_at[s] + starts[p]
                for r in range(rest):
                    packed[row, r] = table[at + where.along[r]]
        else:
            for r in range(rest):
                row, at = s * rest + r, where.shared_at[s] + where.along[r]
                for p in range(plain):
                    packed[row, p] = table[at + starts[p]]


@njit(cache=True)
def _unpack(packed: Floats, where: Layout, starts: Ints, table: Floats) -> None:
    """Add the entries back: several plain entries may have been read from one place."""
    plain, rest = starts.shape[0], where.along.shape[0]
    for s in range(where.shared_at.shape[0]):
        if rest >= plain:
            for p in range(plain):
                row, at = s * plain + p, where.shared_at[s] + starts[p]
                for r in range(rest):
                    table[at + where.along[r]] += packed[row, r]
        else:
            for r in range(rest):
                row, at = s * rest + r, where.shared_at[s] + where.along[r]
                for p in range(plain):
                    table[at + starts[p]] += packed[row, p]


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
def _gather(message: Floats, where: Layout, outer: tuple[int, int], grown: Floats) -> None:
    """Write (2**inner * 2**plain,): the message for one choice on the outer shared axes."""
    on, both = outer
    width = where.plain_at.shape[0]
    for i in range(1 << where.inner):
        base, to = where.message_at[i | on], i * width
        for j in range(width):
            grown[to + j] = message[base + where.plain_at[j]]
        part = both
        while part:
            base = where.message_at[i | on | part]
            for j in range(width):
                grown[to + j] += message[base + where.plain_at[j]]
            part = (part - 1) & both


@njit(cache=True)
def _gather_back(grown: Floats, where: Layout, outer: tuple[int, int], message: Floats) -> None:
    """Transpose of `_gather`: add to the message's derivative."""
    on, both = outer
    width = where.plain_at.shape[0]
    for i in range(1 << where.inner):
        part, of = both, i * width
        while True:
            base = where.message_at[i | on | part]
            for j in range(width):
                message[base + where.plain_at[j]] += grown[of + j]
            if part == 0:
                break
            part = (part - 1) & both


@njit(cache=True)
def _grow(small: Floats, where: Layout, grown: Floats, spare: Floats) -> None:
    """Turn (off, on) into (off, all, on) on every inner shared axis, the last one first."""
    run, blocks = where.plain_at.shape[0] << where.inner, 1
    source, into = small, spare
    for stage in range(where.inner):
        run //= 2
        into = grown if (where.inner - stage) % 2 else spare
        for k in range(blocks):
            of, to = 2 * run * k, 3 * run * k
            for j in range(run):
                off, on = source[of + j], source[of + run + j]
                into[to + j] = off
                into[to + run + j] = off + on
                into[to + 2 * run + j] = on
        source = into
        blocks *= 3


@njit(cache=True)
def _grow_back(grown: Floats, where: Layout) -> None:
    """Transpose of `_grow`: give what lies on "all" to both "off" and "on", in place."""
    run, blocks = where.plain_at.shape[0], 3**where.inner
    for _ in range(where.inner):
        blocks //= 3
        for k in range(blocks):
            of, to = 3 * run * k, 2 * run * k
            for j in range(run):
                low, both, high = grown[of + j], grown[of + run + j], grown[of + 2 * run + j]
                grown[to + j] = low + both
                grown[to + run + j] = high + both
        run *= 2


@njit(cache=True)
def _terms(meeting: tuple[Ints, Ints], inner: int, block: int) -> tuple[Terms, Terms]:
    """Return the terms of the shared axes up to `inner` but for a block, and of those beyond."""
    rows, counts = meeting
    more, few = counts[0] - inner, inner - block
    beyond = join_terms(rows[SHARED_KIND, inner:], np.arange(inner, inner + more), more)
    within = join_terms(rows[SHARED_KIND, block:], np.arange(block, inner), few)
    return (
        Terms(within[0], within[1] * 3**block, within[2]),
        Terms(beyond[0], beyond[1], beyond[2]),
    )


@njit(cache=True)
def _join_plain(table: Floats, message: Floats, out: Floats, where: Layout) -> None:
    """Join where no collector is shared: one product an entry."""
    out[:] = 0.0
    for p in range(where.read.shape[0]):
        factor = message[where.plain_at[p]]
        for r in range(where.along.shape[0]):
            out[where.write[p] + where.along[r]] = table[where.read[p] + where.along[r]] * factor


@njit(cache=True)
def _join_plain_back(
    table: Floats, message: Floats, slopes: tuple[Floats, Floats, Floats], where: Layout
) -> None:
    """Transpose of `_join_plain`."""
    slope, slope_table, slope_message = slopes
    for p in range(where.read.shape[0]):
        m, total = where.plain_at[p], 0.0
        factor = message[m]
        for r in range(where.along.shape[0]):
            to, of = where.write[p] + where.along[r], where.read[p] + where.along[r]
            slope_table[of] += slope[to] * factor
            total += slope[to] * table[of]
        slope_message[m] += total


@njit(cache=True)
def _shape(meeting: tuple[Ints, Ints], where: Layout) -> Shape:
    """Return how the packed tables lie."""
    kinds = meeting[0][SHARED_KIND]
    plain, rest = where.plain_at.shape[0], where.along.shape[0]
    block = where.inner >= 2 and kinds[0] == 0 and kinds[1] == 0
    lines = where.shared_at.shape[0] * min(plain, rest)
    return Shape(lines, max(plain, rest), min(plain, rest), rest >= plain, block)


@njit(cache=True)
def join(
    table: Floats, message: Floats, out: Floats, meeting: tuple[Ints, Ints], room: Floats
) -> None:
    """Write the join of a table and a message into `out`; `room` holds three tables."""
    where = _layout(meeting)
    if meeting[1][0] == 0:
        _join_plain(table, message, out, where)
        return
    shape = _shape(meeting, where)
    packed, result = _carve(room, 0, shape), _carve(room, 1, shape)
    result[:] = 0.0
    _pack(table, where, where.read, packed)
    grown, spare, small = _nursery(where)
    within, beyond = _terms(meeting, where.inner, 2 if shape.block else 0)
    for k in range(beyond.table.shape[0]):
        _gather(message, where, _digits(beyond.message[k], where.inner, meeting[1][0]), small)
        _grow(small, where, grown, spare)
        terms = Terms(beyond.table[k] + within.table, within.message, beyond.into[k] + within.into)
        add_products(result, packed, grown, terms, shape)
    out[:] = 0.0
    _unpack(result, where, where.write, out)


@njit(cache=True)
def _carve(room: Floats, which: int, shape: Shape) -> Floats:
    """Return one of the packed tables in the room."""
    size = shape.lines * shape.run
    return room[which * size : (which + 1) * size].reshape((shape.lines, shape.run))


@njit(cache=True)
def _nursery(where: Layout) -> tuple[Floats, Floats, Floats]:
    """Return room for a grown message, once more, and for what it grows from."""
    width = where.plain_at.shape[0]
    many = 3**where.inner * width
    return np.empty(many), np.empty(many), np.empty(width << where.inner)


@njit(cache=True)
def join_back(
    table: Floats,
    message: Floats,
    slopes: tuple[Floats, Floats, Floats],
    meeting: tuple[Ints, Ints],
    room: Floats,
) -> None:
    """Transpose of `join`.

    `slopes` are the derivative of the joined table (read), of the table before
    (written) and of the message (written).
    """
    slope, slope_table, slope_message = slopes
    where = _layout(meeting)
    slope_table[:] = 0.0
    slope_message[:] = 0.0
    if meeting[1][0] == 0:
        _join_plain_back(table, message, slopes, where)
        return
    shape = _shape(meeting, where)
    tables = (_carve(room, 0, shape), _carve(room, 1, shape), _carve(room, 2, shape))
    _pack(slope, where, where.write, tables[0])
    _pack(table, where, where.read, tables[1])
    tables[2][:] = 0.0
    _join_shared_back(tables, (message, slope_message), where, meeting, shape)
    _unpack(tables[2], where, where.read, slope_table)


@njit(cache=True)
def _join_shared_back(
    tables: tuple[Floats, Floats, Floats],
    messages: tuple[Floats, Floats],
    where: Layout,
    meeting: tuple[Ints, Ints],
    shape: Shape,
) -> None:
    """Work out the derivatives of the packed table and of the message."""
    message, slope_message = messages
    grown, back, small = _nursery(where)
    within, beyond = _terms(meeting, where.inner, 2 if shape.block else 0)
    for k in range(beyond.table.shape[0]):
        outer = _digits(beyond.message[k], where.inner, meeting[1][0])
        _gather(message, where, outer, small)
        _grow(small, where, grown, back)
        back[:] = 0.0
        terms = Terms(beyond.table[k] + within.table, within.message, beyond.into[k] + within.into)
        add_products_back(tables, grown, back, terms, shape)
        _grow_back(back, where)
        _gather_back(back, where, outer, slope_message)
