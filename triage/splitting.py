"""Splitting a drawn entry of a joined table back into what it was joined from.

The counterpart of `triage.joining` for drawing instead of adding up: one entry
of the result is given; which entries of the two operands made it? Each pair that
can have made it is drawn in proportion to its product. Only collector axes leave
a choice; on value axes both operands agree with the result.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from numba import njit

from triage.arrays import Floats, Ints
from triage.meeting import (
    PLAIN_M,
    PLAIN_READ,
    PLAIN_T,
    SHARED_KIND,
    SHARED_M,
    SHARED_T,
)
from triage.planning import Plan
from triage.tables import EMPTY, GATED

__all__ = ["Stream", "draw", "pick", "split_join", "split_links"]

#: State of a stream of random numbers: one unsigned number, moved on by each draw.
Stream = npt.NDArray[np.uint64]


@njit(cache=True)
def draw(state: Stream) -> float:
    """Return the next uniform number in [0, 1) of a counter-based stream.

    The stream is that of Steele, Lea and Flood (2014), Fast splittable
    pseudorandom number generators, OOPSLA (from memory).
    """
    state[0] += np.uint64(0x9E3779B97F4A7C15)
    z = state[0]
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return float(z >> np.uint64(11)) / 9007199254740992.0


@njit(cache=True)
def pick(weight: Floats, count: int, state: Stream) -> int:
    """Return an index below `count` drawn in proportion to the weights."""
    total = 0.0
    for i in range(count):
        total += weight[i]
    left, last = draw(state) * total, 0
    for i in range(count):
        if weight[i] > 0.0:
            last = i
            left -= weight[i]
            if left < 0.0:
                break
    return last


@njit(cache=True)
def split_links(
    plan: Plan, step: int, tables: tuple[Floats, Floats], entry: int, state: Stream
) -> int:
    """Return the entry before the step's links, given the one after them.

    A collector that is on after them was on before, or was switched on by a
    link; one that is gated and saw nothing may have been switched by a link as
    well (see `triage.tables.absorb_link`).
    """
    before, weight = tables
    widest = plan.start[step + 1] - plan.start[step] + 1
    bits, acts = np.zeros(widest, np.int64), np.zeros(widest)
    entry, count = _gather(plan, step, entry, (bits, acts))
    if count == 0:
        return entry
    base = entry
    for slot in range(count):
        base &= ~(1 << bits[slot])
    for choice in range(1 << count):
        factor = 1.0
        for slot in range(count):
            on, result = (choice >> slot) & 1, (entry >> bits[slot]) & 1
            if on == 0:  # a result of on needs a link, one of off needs all silent
                factor *= acts[slot] if result else 1.0 - acts[slot]
            elif result == 0:  # gated: a link pulled it through
                factor *= acts[slot]
        weight[choice] = factor * before[base | _spread(choice, bits, count)]
    return base | _spread(pick(weight, 1 << count, state), bits, count)


@njit(cache=True)
def _gather(plan: Plan, step: int, entry: int, outs: tuple[Ints, Floats]) -> tuple[int, int]:
    """Write the collectors whose state before the links is open, and P(a link acts).

    Returns the entry, with those taken off that nothing but a link can have
    filled, and how many collectors were written.
    """
    bits, acts = outs
    start, count = entry, 0
    for link in range(plan.link_start[step], plan.link_start[step + 1]):
        role, bit = plan.meetings.link_role[link], plan.meetings.link_bits[link, 1]
        parent_on = (start >> plan.meetings.link_bits[link, 0]) & 1 == 1
        if not parent_on or ((start >> bit) & 1 == 1) == (role == GATED):
            continue  # it was the same before
        if role == EMPTY:
            entry &= ~(1 << bit)
            continue
        slot = 0
        while slot < count and bits[slot] != bit:
            slot += 1
        if slot == count:
            bits[slot], acts[slot] = bit, 0.0
            count += 1
        acts[slot] += (1.0 - acts[slot]) * plan.link_strength[link]
    return entry, count


@njit(cache=True)
def split_join(
    tables: tuple[Floats, Floats, Floats], meeting: tuple[Ints, Ints], entry: int, state: Stream
) -> tuple[int, int]:
    """Return the entries of table and message that made an entry of their join."""
    table, message, room = tables
    rows, counts = meeting
    shared, at, told = counts[0], entry, 0
    for p in range(counts[1]):
        bit = rows[PLAIN_T, p]
        told |= ((entry >> bit) & 1) << rows[PLAIN_M, p]
        if rows[PLAIN_READ, p] == 0:
            at &= ~(1 << bit)
    for s in range(shared):
        at &= ~(1 << rows[SHARED_T, s])
    if shared == 0:
        return at, told
    many = 1 << shared
    seen = room[:many]  # of the message, as each choice for the table sees it
    for i in range(many):
        seen[i] = message[told | _spread(i, rows[SHARED_M], shared)]
    for s in range(shared):
        _see(seen, s, rows[SHARED_KIND, s], (entry >> rows[SHARED_T, s]) & 1)
    for i in range(many):
        seen[i] *= table[at | _spread(i, rows[SHARED_T], shared)]
    mine = pick(seen, many, state)
    at |= _spread(mine, rows[SHARED_T], shared)
    for i in range(many):
        seen[i] = 0.0
        if _fits(i, mine, (rows, shared), entry):
            seen[i] = message[told | _spread(i, rows[SHARED_M], shared)]
    return at, told | _spread(pick(seen, many, state), rows[SHARED_M], shared)


@njit(cache=True)
def _spread(index: int, bits: Ints, count: int) -> int:
    """Return the bits of an index moved to where they lie in a table."""
    out = 0
    for b in range(count):
        out |= ((index >> b) & 1) << bits[b]
    return out


@njit(cache=True)
def _see(seen: Floats, s: int, kind: int, result: int) -> None:
    """Turn one axis from the message's state to the table's, in place.

    Afterwards an entry is the sum over the message's states that give `result`
    with that state of the table.
    """
    for i in range(seen.shape[0]):
        if (i >> s) & 1:
            continue
        off, on = seen[i], seen[i | (1 << s)]
        if kind == 0:
            low, high = (on, off + on) if result else (off, 0.0)
        elif kind == 1:
            low, high = (0.0, off + on) if result else (off, on)
        else:
            low, high = (on, on) if result else (off, on)
        seen[i], seen[i | (1 << s)] = low, high


@njit(cache=True)
def _fits(i: int, mine: int, shared: tuple[Ints, int], entry: int) -> bool:
    """Return whether these states of message and table can have given the entry."""
    rows, count = shared
    for s in range(count):
        told, own = (i >> s) & 1, (mine >> s) & 1
        kind, result = rows[SHARED_KIND, s], (entry >> rows[SHARED_T, s]) & 1
        if kind == 0:
            fits = (told | own) == result
        elif result:
            fits = own == 1 if kind == 1 else told == 1
        else:
            fits = told == own
        if not fits:
            return False
    return True
