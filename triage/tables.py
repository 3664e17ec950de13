"""The table operations of exact inference, for many lanes at once.

A table ranges over a few binary axes; entry ``i`` has the axis of bit ``b`` on
when bit ``b`` of ``i`` is set. Innermost are the *lanes*: the same table for
several versions of the evidence, side by side, so that one pass answers many
what-if questions.

On a collector axis a table has one of three roles:

* *empty*: nothing has been collected, all its mass lies on off;
* *collecting*: (off, on) of what has been collected so far. Two such tables are
  joined by logical OR: ``on = on1 * (off2 + on2) + off1 * on2``;
* *gated*: the gate has been put on. What is still to be collected is pulled
  through it: ``off = off_c * off + on_c * on``, ``on = (off_c + on_c) * on``.

Only products and sums of numbers that are not negative: no digit is lost.
`absorb_*` take one link in place, `merge` joins two tables, and the functions
that end in ``_back`` are their transposes for the reverse sweep.
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
    "absorb_gate_back",
    "absorb_link",
    "absorb_link_back",
    "join_terms",
    "offsets",
]

EMPTY, COLLECTING, GATED = 0, 1, 2  # roles of a collector axis


@njit(cache=True)
def offsets(bits: Ints, count: int) -> Ints:
    """Return where each combination of the given bits lies: (2**count,) ints."""
    out = np.zeros(1 << count, np.int64)
    for b in range(count):
        step, half = np.int64(1) << bits[b], 1 << b
        for i in range(half):
            out[half + i] = out[i] + step
    return out


@njit(cache=True)
def absorb_link(
    table: Floats, size: int, value_bit: int, collector_bit: int, link: tuple[float, int]
) -> None:
    """Let the parent on `value_bit` feed the collector, in place.

    `link` is (strength, role of the collector axis). Only entries with the
    parent on change.
    """
    strength, role = link
    silent = 1.0 - strength
    value, collector = 1 << value_bit, 1 << collector_bit
    for i in range(size):
        if (i & value) and not (i & collector):
            off, on = table[i], table[i | collector]
            if role == GATED:
                for b in range(off.shape[0]):
                    off[b] = silent * off[b] + strength * on[b]
            else:
                for b in range(off.shape[0]):
                    on[b] += strength * off[b]
                    off[b] *= silent


@njit(cache=True)
def absorb_link_back(
    table: Floats, size: int, value_bit: int, collector_bit: int, link: tuple[float, int]
) -> None:
    """Transpose of `absorb_link`, in place on the table of derivatives."""
    strength, role = link
    silent = 1.0 - strength
    value, collector = 1 << value_bit, 1 << collector_bit
    for i in range(size):
        if (i & value) and not (i & collector):
            off, on = table[i], table[i | collector]
            if role == GATED:
                for b in range(off.shape[0]):
                    on[b] += strength * off[b]
                    off[b] *= silent
            else:
                for b in range(off.shape[0]):
                    off[b] = silent * off[b] + strength * on[b]


@njit(cache=True)
def absorb_gate(table: Floats, size: int, value_bit: int, collector_bit: int, gate: Floats) -> None:
    """Put the gate on: the collector axis turns from collecting to gated.

    gate : (2, 2, lanes), [collected, value]
    """
    value, collector = 1 << value_bit, 1 << collector_bit
    for i in range(size):
        if not (i & collector):
            off, on = table[i], table[i | collector]
            v = 1 if i & value else 0
            for b in range(off.shape[0]):
                low, high = off[b], on[b]
                off[b] = low * gate[0, v, b] + high * gate[1, v, b]
                on[b] = (low + high) * gate[1, v, b]


@njit(cache=True)
def absorb_gate_back(
    table: Floats, size: int, value_bit: int, collector_bit: int, gate: Floats
) -> None:
    """Transpose of `absorb_gate`."""
    value, collector = 1 << value_bit, 1 << collector_bit
    for i in range(size):
        if not (i & collector):
            off, on = table[i], table[i | collector]
            v = 1 if i & value else 0
            for b in range(off.shape[0]):
                low, high = off[b], on[b]
                off[b] = gate[0, v, b] * low + gate[1, v, b] * high
                on[b] = gate[1, v, b] * (low + high)


@njit(cache=True)
def join_terms(roles: Ints, table_bit: Ints, count: int) -> tuple[Ints, Ints, Ints]:
    """Return the products that join two tables on the axes both have filled.

    Parameters
    ----------
    roles : for each shared collector axis 0 = both collecting, 1 = the table is
        gated, 2 = the message is gated
    table_bit : the bit of each such axis in the table

    Returns
    -------
    from_table, from_message, into : (terms,) int arrays of offsets; the
        message's are in base 3 with digits off, all, on
    """
    from_table = np.zeros(1, np.int64)
    from_message = np.zeros(1, np.int64)
    into = np.zeros(1, np.int64)
    digit = 1
    for k in range(count):
        step = np.int64(1) << table_bit[k]
        if roles[k] == 0:  # OR: off*off; on*all and off*on into on
            rows = np.array([[0, 0, 0], [1, 1, 1], [0, 2, 1]])
        elif roles[k] == 1:  # pull the message through the table's gate
            rows = np.array([[0, 0, 0], [1, 2, 0], [1, 1, 1]])
        else:  # pull the table through the message's gate
            rows = np.array([[0, 0, 0], [1, 2, 0], [0, 2, 1], [1, 2, 1]])
        old, many = from_table.shape[0], rows.shape[0]
        new_table = np.empty(old * many, np.int64)
        new_message = np.empty(old * many, np.int64)
        new_into = np.empty(old * many, np.int64)
        for r in range(many):
            for i in range(old):
                at = r * old + i
                new_table[at] = from_table[i] + rows[r, 0] * step
                new_message[at] = from_message[i] + rows[r, 1] * digit
                new_into[at] = into[i] + rows[r, 2] * step
        from_table, from_message, into = new_table, new_message, new_into
        digit *= 3
    return from_table, from_message, into
