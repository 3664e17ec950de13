"""The products of a join: where a sweep spends its time.

Tables come packed (`triage.joining`): a row for each combination of the shared
axes, and in it a *run* of numbers side by side. Each term of a join multiplies
one row of the table by a number, or by a run, of the message and adds it to one
row of the result. Where both operands are still collecting on two axes, their
nine products are done at once, so that each number is fetched once for all nine.
The functions that end in ``_back`` are the transposes, for the reverse sweep.
"""

from __future__ import annotations

from typing import NamedTuple

from numba import njit

from triage.arrays import Floats, Ints

__all__ = ["Shape", "Terms", "add_products", "add_products_back"]


class Terms(NamedTuple):
    """The products of a join, as offsets in packed bits."""

    table: Ints
    message: Ints
    into: Ints


class Shape(NamedTuple):
    """How packed tables lie."""

    lines: int  # rows
    run: int  # numbers side by side in a row
    many: int  # rows of each combination of the shared axes
    along_rest: bool  # whether runs go along the rest axes, or along the plain ones
    block: bool  # whether the first two shared axes are worked off together


@njit(cache=True)
def add_products(out: Floats, table: Floats, grown: Floats, terms: Terms, shape: Shape) -> None:
    """Add the products of all terms of packed tables to the result."""
    if shape.along_rest and shape.block:
        _blocks_along_rest(out, table, grown, terms, shape.many)
    elif shape.along_rest:
        _along_rest(out, table, grown, terms, shape.many)
    elif shape.block:
        _blocks_along_plain(out, table, grown, terms, shape.many)
    else:
        _along_plain(out, table, grown, terms, shape.many)


@njit(cache=True)
def add_products_back(
    tables: tuple[Floats, Floats, Floats], grown: Floats, back: Floats, terms: Terms, shape: Shape
) -> None:
    """Transpose of `add_products`.

    `tables` are the result's derivative, the table, and its derivative, which is
    added to; so is `back`, the derivative of the grown message.
    """
    if shape.along_rest and shape.block:
        _blocks_along_rest_back(tables, grown, back, terms, shape.many)
    elif shape.along_rest:
        _along_rest_back(tables, grown, back, terms, shape.many)
    elif shape.block:
        _blocks_along_plain_back(tables, grown, back, terms, shape.many)
    else:
        _along_plain_back(tables, grown, back, terms, shape.many)


@njit(cache=True, fastmath={"contract"})
def _along_rest(out: Floats, table: Floats, grown: Floats, terms: Terms, width: int) -> None:
    """Add a run of products for each term: one number of the message for a whole run."""
    for p in range(width):  # outermost, so that the runs of one entry stay in the cache
        for t in range(terms.table.shape[0]):
            of, to = terms.table[t] * width + p, terms.into[t] * width + p
            factor = grown[terms.message[t] * width + p]
            for r in range(out.shape[1]):
                out[to, r] += table[of, r] * factor


@njit(cache=True, fastmath={"contract"})
def _along_plain(out: Floats, table: Floats, grown: Floats, terms: Terms, many: int) -> None:
    """Add a run of products for each term: a run of the message, the same for all of the rest."""
    run = out.shape[1]
    for r in range(many):
        for t in range(terms.table.shape[0]):
            of, to, m = terms.table[t] * many + r, terms.into[t] * many + r, terms.message[t] * run
            for p in range(run):
                out[to, p] += table[of, p] * grown[m + p]


@njit(cache=True, fastmath={"contract"})
def _blocks_along_rest(out: Floats, table: Floats, grown: Floats, terms: Terms, width: int) -> None:
    """As `_along_rest`, two axes on which both are collecting at a time: nine products."""
    for p in range(width):
        for t in range(terms.table.shape[0]):
            a, o, m = terms.table[t] * width + p, terms.into[t] * width + p, terms.message[t]
            g = grown[m * width + p : (m + 9) * width : width]
            g0, g1, g2, g3, g4, g5, g6, g7, g8 = (
                g[0],
                g[1],
                g[2],
                g[3],
                g[4],
                g[5],
                g[6],
                g[7],
                g[8],
            )
            t0, t1, t2, t3 = table[a], table[a + width], table[a + 2 * width], table[a + 3 * width]
            o0, o1, o2, o3 = out[o], out[o + width], out[o + 2 * width], out[o + 3 * width]
            for r in range(out.shape[1]):
                x0, x1, x2, x3 = t0[r], t1[r], t2[r], t3[r]
                o0[r] += x0 * g0
                o1[r] += x1 * g1 + x0 * g2
                o2[r] += x2 * g3 + x0 * g6
                o3[r] += x3 * g4 + x2 * g5 + x1 * g7 + x0 * g8


@njit(cache=True, fastmath={"contract", "reassoc"})
def _along_rest_back(
    tables: tuple[Floats, Floats, Floats], grown: Floats, back: Floats, terms: Terms, width: int
) -> None:
    """Transpose of `_along_rest`."""
    slope, table, slope_table = tables
    for p in range(width):
        for t in range(terms.table.shape[0]):
            of, to = terms.table[t] * width + p, terms.into[t] * width + p
            m = terms.message[t] * width + p
            factor, total = grown[m], 0.0
            for r in range(slope.shape[1]):
                slope_table[of, r] += slope[to, r] * factor
                total += slope[to, r] * table[of, r]
            back[m] += total


@njit(cache=True, fastmath={"contract"})
def _along_plain_back(
    tables: tuple[Floats, Floats, Floats], grown: Floats, back: Floats, terms: Terms, many: int
) -> None:
    """Transpose of `_along_plain`."""
    slope, table, slope_table = tables
    run = slope.shape[1]
    for r in range(many):
        for t in range(terms.table.shape[0]):
            of, to, m = terms.table[t] * many + r, terms.into[t] * many + r, terms.message[t] * run
            for p in range(run):
                slope_table[of, p] += slope[to, p] * grown[m + p]
                back[m + p] += slope[to, p] * table[of, p]


@njit(cache=True, fastmath={"contract", "reassoc"})
def _blocks_along_rest_back(
    tables: tuple[Floats, Floats, Floats], grown: Floats, back: Floats, terms: Terms, width: int
) -> None:
    """Transpose of `_blocks_along_rest`."""
    slope, table, slope_table = tables
    for p in range(width):
        for t in range(terms.table.shape[0]):
            a, o, m = terms.table[t] * width + p, terms.into[t] * width + p, terms.message[t]
            g = grown[m * width + p : (m + 9) * width : width]
            g0, g1, g2, g3, g4, g5, g6, g7, g8 = (
                g[0],
                g[1],
                g[2],
                g[3],
                g[4],
                g[5],
                g[6],
                g[7],
                g[8],
            )
            t0, t1, t2, t3 = table[a], table[a + width], table[a + 2 * width], table[a + 3 * width]
            o0, o1, o2, o3 = slope[o], slope[o + width], slope[o + 2 * width], slope[o + 3 * width]
            b0, b1 = slope_table[a], slope_table[a + width]
            b2, b3 = slope_table[a + 2 * width], slope_table[a + 3 * width]
            c0, c1, c2, c3, c4, c5, c6, c7, c8 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
            for r in range(slope.shape[1]):
                y0, y1, y2, y3 = o0[r], o1[r], o2[r], o3[r]
                x0, x1, x2, x3 = t0[r], t1[r], t2[r], t3[r]
                b0[r] += y0 * g0 + y1 * g2 + y2 * g6 + y3 * g8
                b1[r] += y1 * g1 + y3 * g7
                b2[r] += y2 * g3 + y3 * g5
                b3[r] += y3 * g4
                c0 += y0 * x0
                c1 += y1 * x1
                c2 += y1 * x0
                c3 += y2 * x2
                c4 += y3 * x3
                c5 += y3 * x2
                c6 += y2 * x0
                c7 += y3 * x1
                c8 += y3 * x0
            for i, c in enumerate((c0, c1, c2, c3, c4, c5, c6, c7, c8)):
                back[(m + i) * width + p] += c


@njit(cache=True, fastmath={"contract"})
def _blocks_along_plain(out: Floats, table: Floats, grown: Floats, terms: Terms, many: int) -> None:
    """As `_along_plain`, two axes on which both are collecting at a time: nine products."""
    run = out.shape[1]
    for r in range(many):
        for t in range(terms.table.shape[0]):
            a, o = terms.table[t] * many + r, terms.into[t] * many + r
            m = terms.message[t] * run
            g = grown[m : m + 9 * run].reshape((9, run))
            t0, t1, t2, t3 = table[a], table[a + many], table[a + 2 * many], table[a + 3 * many]
            o0, o1, o2, o3 = out[o], out[o + many], out[o + 2 * many], out[o + 3 * many]
            for p in range(run):
                x0, x1, x2, x3 = t0[p], t1[p], t2[p], t3[p]
                o0[p] += x0 * g[0, p]
                o1[p] += x1 * g[1, p] + x0 * g[2, p]
                o2[p] += x2 * g[3, p] + x0 * g[6, p]
                o3[p] += x3 * g[4, p] + x2 * g[5, p] + x1 * g[7, p] + x0 * g[8, p]


@njit(cache=True, fastmath={"contract"})
def _blocks_along_plain_back(
    tables: tuple[Floats, Floats, Floats], grown: Floats, back: Floats, terms: Terms, many: int
) -> None:
    """Transpose of `_blocks_along_plain`."""
    slope, table, slope_table = tables
    run = slope.shape[1]
    for r in range(many):
        for t in range(terms.table.shape[0]):
            a, o = terms.table[t] * many + r, terms.into[t] * many + r
            m = terms.message[t] * run
            g = grown[m : m + 9 * run].reshape((9, run))
            c = back[m : m + 9 * run].reshape((9, run))
            t0, t1, t2, t3 = table[a], table[a + many], table[a + 2 * many], table[a + 3 * many]
            o0, o1, o2, o3 = slope[o], slope[o + many], slope[o + 2 * many], slope[o + 3 * many]
            b0, b1 = slope_table[a], slope_table[a + many]
            b2, b3 = slope_table[a + 2 * many], slope_table[a + 3 * many]
            for p in range(run):
                y0, y1, y2, y3 = o0[p], o1[p], o2[p], o3[p]
                x0, x1, x2, x3 = t0[p], t1[p], t2[p], t3[p]
                b0[p] += y0 * g[0, p] + y1 * g[2, p] + y2 * g[6, p] + y3 * g[8, p]
                b1[p] += y1 * g[1, p] + y3 * g[7, p]
                b2[p] += y2 * g[3, p] + y3 * g[5, p]
                b3[p] += y3 * g[4, p]
                c[0, p] += y0 * x0
                c[1, p] += y1 * x1
                c[2, p] += y1 * x0
                c[3, p] += y2 * x2
                c[4, p] += y3 * x3
                c[5, p] += y3 * x2
                c[6, p] += y2 * x0
                c[7, p] += y3 * x1
                c[8, p] += y3 * x0
