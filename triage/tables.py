"""The table operations of exact inference.

A table ranges over a few binary axes; entry ``i`` has the axis of bit ``b`` on
when bit ``b`` of ``i`` is set. It is one run of numbers.

On a collector axis a table has one of three roles:

* *empty*: nothing has been collected, all its mass lies on off;
* *collecting*: (off, on) of what has been collected so far. Two such tables are
  joined by logical OR: ``on = on1 * (off2 + on2) + off1 * on2``;
* *gated*: the gate has been put on. What is still to be collected is pulled
  through it: ``off = off_c * off + on_c * on``, ``on = (off_c + on_c) * on``.

Only products and sums of numbers that are not negative: no digit is lost.
`absorb_link` and `absorb_gate` work in place; the reverse sweep needs their
transposes, which are `absorb_link_back` and `absorb_gate` itself. How two tables are
joined: `triage.joining`.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints

__all__ = [
    "COLLECTING",
    "EMPTY",
    "GATED",
    "absorb_gate",
    "absorb_link",
    "absorb_link_back",
    "terms_count",
    "write_offsets",
    "write_terms",
]

EMPTY, COLLECTING, GATED = 0, 1, 2  # roles of a collector axis

#: How two tables meet on an axis that both have filled, [kind, product]: on or off of the table,
#: off, all or on of the message, and what the product is added to.
_PRODUCTS = np.array(
    [
        [[0, 0, 0], [1, 1, 1], [0, 2, 1], [-1, -1, -1]],  # OR: on * all and off * on into on
        [[0, 0, 0], [1, 2, 0], [1, 1, 1], [-1, -1, -1]],  # the message through the table's gate
        [[0, 0, 0], [1, 2, 0], [0, 2, 1], [1, 2, 1]],  # the table through the message's gate
    ]
)


@njit(cache=True)
def write_offsets(bits: Ints, count: int, out: Ints) -> None:
    """Write where each combination of the given bits lies: (2**count,) ints."""
    out[0] = 0
    for b in range(count):
        step, half = np.int64(1) << bits[b], 1 << b
        for i in range(half):
            out[half + i] = out[i] + step


@njit(cache=True)
def absorb_link(
    table: Floats, size: int, value_bit: int, collector_bit: int, link: tuple[float, int]
) -> None:
    """Let the parent on `value_bit` feed the collector, in place.

    `link` is (strength, role of the collector axis). Only entries with the
    parent on change.
    """
    _link(table, size, (value_bit, collector_bit), link[0], link[1] == GATED)


@njit(cache=True)
def absorb_link_back(
    table: Floats, size: int, value_bit: int, collector_bit: int, link: tuple[float, int]
) -> None:
    """Transpose of `absorb_link`, in place on the table of derivatives."""
    _link(table, size, (value_bit, collector_bit), link[0], link[1] != GATED)


@njit(cache=True)
def _link(table: Floats, size: int, bits: tuple[int, int], strength: float, pull: bool) -> None:
    """Pull on through to off, or push off on to on, where the parent is on."""
    silent = 1.0 - strength
    value, collector = 1 << bits[0], 1 << bits[1]
    low, high = min(value, collector), max(value, collector)
    for start in range(0, size, 2 * high):
        for run in range(start, start + high, 2 * low):
            for i in range(run + value, run + value + low):
                off, on = table[i], table[i + collector]
                if pull:
                    table[i] = silent * off + strength * on
                else:
                    table[i + collector] = on + strength * off
                    table[i] = silent * off


@njit(cache=True)
def absorb_gate(table: Floats, size: int, value_bit: int, collector_bit: int, gate: Floats) -> None:
    """Put the gate on: the collector axis turns from collecting to gated.

    Off and on are mixed by a symmetric matrix, so this is its own transpose.

    gate : (2, 2), [collected, value]
    """
    value, collector = 1 << value_bit, 1 << collector_bit
    low, high = min(value, collector), max(value, collector)
    for v in range(2):
        keep, take = gate[0, v], gate[1, v]
        for start in range(v * value, size, 2 * high):
            for run in range(start, start + high, 2 * low):
                for i in range(run, run + low):
                    off, on = table[i], table[i + collector]
                    table[i] = off * keep + on * take
                    table[i + collector] = (off + on) * take


@njit(cache=True)
def terms_count(kinds: Ints, low: int, high: int) -> int:
    """Return how many products join two tables on some of the axes both have filled."""
    count = 1
    for k in range(low, high):
        count *= 4 if kinds[k] == 2 else 3
    return count


@njit(cache=True)
def write_terms(
    kinds: Ints, axes: tuple[int, int], digit: int, out: tuple[Ints, Ints, Ints]
) -> None:
    """Write the products that join two tables on the axes both have filled.

    Parameters
    ----------
    kinds : of each shared collector axis 0 = both collecting, 1 = the table is
        gated, 2 = the message is gated; its bit in packed tables is its place here
    axes : the first axis, and the one after the last
    digit : what a one on the first axis is worth in the message's index, which is in
        base 3 with digits off, all, on
    out : (terms,) where to read the table, where the message, where to add to
    """
    from_table, from_message, into = out
    from_table[0], from_message[0], into[0] = 0, 0, 0
    old = 1
    for k in range(axes[0], axes[1]):
        many = 4 if kinds[k] == 2 else 3
        for r in range(1, many):  # row 0 is off * off into off
            row = _PRODUCTS[kinds[k], r]
            for i in range(old):
                at = r * old + i
                from_table[at] = from_table[i] + (row[0] << k)
                from_message[at] = from_message[i] + row[1] * digit
                into[at] = into[i] + (row[2] << k)
        old *= many
        digit *= 3
