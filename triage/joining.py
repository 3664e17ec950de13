"""Joining a child's message into a table, forwards and transposed.

How the axes of the two meet is known (`triage.meeting`), and where their entries lie
is laid out (`triage.packing`). Shared axes cost three
products where others cost two, so a large join is all about them. Tables are packed
for it: shared axes first, then plain and rest axes, the larger of the two last and
side by side, which makes the *run* that the innermost loop goes along. The message is
grown to (off, all, on) on a few shared axes at a time, and on fewer where it is wide, so
that it stays near the core.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints
from triage.packing import Layout, Scratch, lay_out
from triage.products import Shape, add_products, add_products_back

__all__ = ["join", "join_back"]


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
def _join_plain(table: Floats, message: Floats, out: Floats, where: Layout) -> None:
    """Join where no collector is shared: one product an entry."""
    run, read_run = where.run, where.run > 1 and where.read[1] == 1
    for r in range(where.along.shape[0]):
        for p in range(0, where.read.shape[0], run):
            to = where.write[p] + where.along[r]
            of, m = where.read[p] + where.along[r], where.plain_at[p]
            if read_run:
                for i in range(run):
                    out[to + i] = table[of + i] * message[m + i]
            else:
                factor = table[of]
                for i in range(run):
                    out[to + i] = factor * message[m + i]


@njit(cache=True)
def _join_plain_back(
    table: Floats, message: Floats, slopes: tuple[Floats, Floats, Floats], where: Layout
) -> None:
    """Transpose of `_join_plain`."""
    slope, slope_table, slope_message = slopes
    run, read_run = where.run, where.run > 1 and where.read[1] == 1
    for r in range(where.along.shape[0]):
        for p in range(0, where.read.shape[0], run):
            to = where.write[p] + where.along[r]
            of, m = where.read[p] + where.along[r], where.plain_at[p]
            if read_run:
                for i in range(run):
                    slope_table[of + i] += slope[to + i] * message[m + i]
                    slope_message[m + i] += slope[to + i] * table[of + i]
            else:
                factor, total = table[of], 0.0
                for i in range(run):
                    total += slope[to + i] * message[m + i]
                    slope_message[m + i] += slope[to + i] * factor
                slope_table[of] += total


@njit(cache=True)
def _shape(where: Layout) -> Shape:
    """Return how the packed tables lie."""
    plain, rest = where.plain_at.shape[0], where.along.shape[0]
    lines = where.shared_at.shape[0] * min(plain, rest)
    return Shape(lines, max(plain, rest), min(plain, rest), rest >= plain, where.block)


@njit(cache=True)
def join(
    table: Floats, message: Floats, out: Floats, meeting: tuple[Ints, Ints], scratch: Scratch
) -> None:
    """Write the join of a table and a message into `out`."""
    where = lay_out(meeting, scratch.ints)
    if where.shared > 0 or where.write.shape[0] * where.along.shape[0] < out.shape[0]:
        out[:] = 0.0
    if where.shared == 0:
        _join_plain(table, message, out, where)
        return
    shape = _shape(where)
    packed, result = _carve(scratch.tables, 0, shape), _carve(scratch.tables, 1, shape)
    result[:] = 0.0
    _pack(table, where, where.read, packed)
    grown, spare, small = _nursery(where, scratch.grown)
    for k in range(where.beyond.table.shape[0]):
        _gather(message, where, _digits(where.beyond.message[k], where.inner, where.shared), small)
        _grow(small, where, grown, spare)
        of, to = where.beyond.table[k] * shape.many, where.beyond.into[k] * shape.many
        add_products(result[to:], packed[of:], grown, where.within, shape)
    _unpack(result, where, where.write, out)


@njit(cache=True)
def _carve(room: Floats, which: int, shape: Shape) -> Floats:
    """Return one of the packed tables in the room."""
    size = shape.lines * shape.run
    return room[which * size : (which + 1) * size].reshape((shape.lines, shape.run))


@njit(cache=True)
def _nursery(where: Layout, grown: Floats) -> tuple[Floats, Floats, Floats]:
    """Return room for a grown message, once more, and for what it grows from."""
    width = where.plain_at.shape[0]
    many, few = 3**where.inner * width, width << where.inner
    room = grown if 2 * many + few <= grown.shape[0] else np.empty(2 * many + few)
    return room[:many], room[many : 2 * many], room[2 * many : 2 * many + few]


@njit(cache=True)
def join_back(
    table: Floats,
    message: Floats,
    slopes: tuple[Floats, Floats, Floats],
    meeting: tuple[Ints, Ints],
    scratch: Scratch,
) -> None:
    """Transpose of `join`.

    `slopes` are the derivative of the joined table (read), of the table before
    (written) and of the message (written).
    """
    slope, slope_table, slope_message = slopes
    where = lay_out(meeting, scratch.ints)
    slope_message[:] = 0.0
    slope_table[:] = 0.0
    if where.shared == 0:
        _join_plain_back(table, message, slopes, where)
        return
    shape = _shape(where)
    room = scratch.tables
    tables = (_carve(room, 0, shape), _carve(room, 1, shape), _carve(room, 2, shape))
    _pack(slope, where, where.write, tables[0])
    _pack(table, where, where.read, tables[1])
    tables[2][:] = 0.0
    _join_shared_back(tables, (message, slope_message), where, scratch)
    _unpack(tables[2], where, where.read, slope_table)


@njit(cache=True)
def _join_shared_back(
    tables: tuple[Floats, Floats, Floats],
    messages: tuple[Floats, Floats],
    where: Layout,
    scratch: Scratch,
) -> None:
    """Work out the derivatives of the packed table and of the message."""
    message, slope_message = messages
    slope, table, slope_table = tables
    shape = _shape(where)
    grown, back, small = _nursery(where, scratch.grown)
    for k in range(where.beyond.table.shape[0]):
        outer = _digits(where.beyond.message[k], where.inner, where.shared)
        _gather(message, where, outer, small)
        _grow(small, where, grown, back)
        back[:] = 0.0
        of, to = where.beyond.table[k] * shape.many, where.beyond.into[k] * shape.many
        add_products_back(
            (slope[to:], table[of:], slope_table[of:]), grown, back, where.within, shape
        )
        _grow_back(back, where)
        _gather_back(back, where, outer, slope_message)
