"""Where the entries of a join lie: offsets and products, from how two tables meet.

Most joins are small, so that making a few arrays would take longer than the sums:
all that a join needs to know is written into one run of numbers that is used again
for each of them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints
from triage.meeting import PLAIN_M, PLAIN_READ, PLAIN_T, REST, SHARED_KIND, SHARED_M, SHARED_T
from triage.products import Terms
from triage.tables import terms_count, write_offsets, write_terms

__all__ = ["Layout", "Scratch", "lay_out"]

_INNER = 8
_OUTER = 4  # shared axes that are left out of the growing for its sake, at most
_GROWN = 1 << 15  # numbers of a grown message: what stays in a cache near the core


class Scratch(NamedTuple):
    """Room that every join uses again; a join that needs more makes its own."""

    tables: Floats  # three packed tables
    grown: Floats  # a grown message, once more, and what it grows from
    ints: Ints  # a layout


class Layout(NamedTuple):
    """Where things lie in a packed join."""

    shared: int  # axes
    inner: int  # shared axes grown at once
    block: bool  # whether the first two of them are worked off together
    run: int  # plain entries that lie side by side in table and message
    shared_at: Ints  # (2**shared,) offsets in the table
    message_at: Ints  # (2**shared,) offsets in the message
    plain_at: Ints  # (2**plain,) offsets in the message
    read: Ints  # (2**plain,) offsets in the table when it is read
    write: Ints  # (2**plain,) offsets when it is written
    along: Ints  # (2**rest,) offsets in the table
    within: Terms  # products on the shared axes up to `inner`, those of the block left out
    beyond: Terms  # products on the others


@njit(cache=True)
def lay_out(meeting: tuple[Ints, Ints], ints: Ints) -> Layout:
    """Return where things lie; `ints` is written over, if it is long enough."""
    rows, counts = meeting
    shared, plain, rest = counts[0], counts[1], counts[2]
    inner = min(shared, _INNER)
    while inner > max(2, shared - _OUTER) and 3**inner << plain > _GROWN:
        inner -= 1
    block = inner >= 2 and rows[SHARED_KIND, 0] == 0 and rows[SHARED_KIND, 1] == 0
    start = 2 if block else 0
    kinds = rows[SHARED_KIND]
    near = terms_count(kinds, start, inner)
    far = terms_count(kinds, inner, shared)
    need = (2 << shared) + (3 << plain) + (1 << rest) + 3 * (near + far)
    pool = ints if need <= ints.shape[0] else np.empty(need, np.int64)
    sizes = (1 << shared, 1 << plain, 1 << rest, near, far)
    out = _share_out(pool, sizes, (shared, inner, block, _side_by_side(rows, plain)))
    write_offsets(rows[SHARED_T], shared, out.shared_at)
    write_offsets(rows[SHARED_M], shared, out.message_at)
    write_offsets(rows[PLAIN_M], plain, out.plain_at)
    write_offsets(rows[PLAIN_T], plain, out.write)
    write_offsets(rows[REST], rest, out.along)
    _write_read(rows, plain, out.read)
    _write(kinds, (start, inner), 3**start, out.within)
    _write(kinds, (inner, shared), 1, out.beyond)
    return out


@njit(cache=True)
def _write(kinds: Ints, axes: tuple[int, int], digit: int, terms: Terms) -> None:
    """Write the products on some of the shared axes."""
    write_terms(kinds, axes, digit, (terms.table, terms.message, terms.into))


@njit(cache=True)
def _share_out(
    pool: Ints, sizes: tuple[int, int, int, int, int], facts: tuple[int, int, bool, int]
) -> Layout:
    """Cut the pool into the arrays of a layout."""
    s, p, r, near, far = sizes
    a = 2 * s
    b = a + 3 * p
    c = b + r
    d = c + 3 * near
    return Layout(
        facts[0],
        facts[1],
        facts[2],
        facts[3],
        pool[:s],
        pool[s:a],
        pool[a : a + p],
        pool[a + p : a + 2 * p],
        pool[a + 2 * p : b],
        pool[b:c],
        Terms(pool[c : c + near], pool[c + near : c + 2 * near], pool[c + 2 * near : d]),
        Terms(pool[d : d + far], pool[d + far : d + 2 * far], pool[d + 2 * far : d + 3 * far]),
    )


@njit(cache=True)
def _side_by_side(rows: Ints, plain: int) -> int:
    """Return how many plain entries lie one after the other wherever they are."""
    run = 0
    while run < plain and rows[PLAIN_T, run] == run and rows[PLAIN_M, run] == run:
        if rows[PLAIN_READ, run] != rows[PLAIN_READ, 0]:
            break
        run += 1
    return 1 << run


@njit(cache=True)
def _write_read(rows: Ints, count: int, out: Ints) -> None:
    """Write where the table is read on plain axes: 0 on one it has not filled."""
    out[0] = 0
    for b in range(count):
        step, half = (np.int64(1) << rows[PLAIN_T, b]) * rows[PLAIN_READ, b], 1 << b
        for i in range(half):
            out[half + i] = out[i] + step
