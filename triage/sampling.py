"""Whole cars drawn from the exact posterior: every node's state at once.

Posteriors say how likely each cause is by itself; "does replacing this one end
the complaint?" asks about all of them together. The upward sweep already holds
what is needed: walked back from the roots, each step draws its own axis given
what has been drawn above it [1]_. A value axis is drawn from its column of the
table. On a collector axis the state drawn is *what a subtree has collected*, so
that on the way down each join is split again: an OR that is on came from the one
side, the other, or both, in proportion to the products the join added up. The
draws are independent and exact; there is no burn-in and no weight.

References
----------
.. [1] Dawid, A. P. (1992). Applications of a general propagation algorithm for
       probabilistic expert systems. Statistics and Computing 2, 25-36.
       (From memory.)
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Flags, Floats, Ints
from triage.compiling import Compiled
from triage.folding import GATE, VALUE
from triage.joining import join
from triage.planning import Plan
from triage.singles import combine_singles
from triage.splitting import Stream, pick, split_join, split_links
from triage.summing import Work
from triage.sweeping import (
    ahead_of,
    bare_plan,
    begin,
    build,
    go_up,
    make_work,
    meeting_of,
    room_for,
    tables_of,
)
from triage.tables import GATED

__all__ = ["draw_states"]


def draw_states(
    compiled: Compiled, count: int, *, given: int | None = None, seed: int = 1
) -> Flags:
    """Return whole cars drawn from the posterior: (count, nodes), True is on.

    Parameters
    ----------
    compiled : the case; its evidence must be possible
    count : how many cars, each independent of the others
    given : row of a node that has an axis, to be on in every car; None draws freely
    seed : of the fixed random numbers; the same seed gives the same cars

    Returns
    -------
    (count, nodes) array of bool, nodes in the network's order. Nodes that
    nothing seen depends on are left off: they have no part in the complaint.

    Notes
    -----
    About twice the work of one upward sweep, and little for each car.
    """
    out = np.zeros((count, compiled.seen.size), np.bool_)
    out[:, compiled.seen == 1] = True
    inside = compiled.value_axis >= 0
    if compiled.plan.sequence.size:
        state = np.arange(1, count + 1, dtype=np.uint64) * np.uint64(0x632BE59BD9B4E019)
        state += np.uint64(seed)
        unary, gate = compiled.unary.copy(), compiled.gate
        if given is not None:
            unary[compiled.value_axis[given], 0] = 0.0
        with room_for(compiled.plan) as room:
            drawn = _draw_all(compiled.plan, (unary, gate), state, room)
        out[:, inside] = drawn[compiled.value_axis[inside]].T == 1
    return out


@njit(cache=True, nogil=True)
def _draw_all(
    plan: Plan, weights: tuple[Floats, Floats], state: Stream, room: tuple[Floats, Ints]
) -> Ints:
    """Return the state of every value axis, (axes, draws); `state` is spent."""
    steps, count = plan.sequence.shape[0], state.shape[0]
    lean, work = bare_plan(plan), make_work(plan, weights, room, False)
    go_up(lean, work)
    wanted = np.zeros((steps, count), np.int64)  # of each message: the entry that was drawn
    value = np.zeros((steps, count), np.int64)
    for step in range(steps - 1, -1, -1):
        _draw_step(lean, step, work, (wanted, value), state)
    return value


@njit(cache=True)
def _draw_step(plan: Plan, step: int, work: Work, outs: tuple[Ints, Ints], state: Stream) -> None:
    """Draw the step's axis in every car, and the entry of each child's message."""
    wanted, value = outs
    level = build(plan, step, work)
    size = 2 << (plan.start[step + 1] - plan.start[step])
    stack = tables_of(plan, step, work)
    table = stack[level * size : (level + 1) * size]
    has_links = plan.link_start[step + 1] > plan.link_start[step]
    before = _before_links(plan, step, level, work) if has_links else table
    room = np.zeros(max(size, 4))
    axis = plan.sequence[step]
    for k in range(state.shape[0]):
        if plan.sort[axis] == VALUE:
            at = _draw_value(plan, step, (table, work, room), wanted[step, k], state[k : k + 1])
            value[axis, k] = at >> (plan.start[step + 1] - plan.start[step])
        else:
            at = _draw_collector(plan, step, (table, work, room), wanted[step, k], state[k : k + 1])
        if has_links:
            at = split_links(plan, step, (before, room), at, state[k : k + 1])
        for c in range(level - 1, -1, -1):
            child = plan.child[plan.child_start[step] + c]
            message = work.messages[plan.message_start[child] : plan.message_start[child + 1]]
            tables = (stack[c * size : (c + 1) * size], message, room)
            meeting = meeting_of(plan, plan.meetings.join_start[step] + c)
            at, wanted[child, k] = split_join(tables, meeting, at, state[k : k + 1])
        own = at >> (plan.start[step + 1] - plan.start[step])
        _draw_singles(plan, step, (work, room), (own, k), (wanted, state))


@njit(cache=True)
def _before_links(plan: Plan, step: int, level: int, work: Work) -> Floats:
    """Return the step's table as it was before its links were taken in."""
    size = 2 << (plan.start[step + 1] - plan.start[step])
    out = work.slope[:size]
    if level == 0:
        ahead = ahead_of(plan, step, work)
        first = plan.meetings.single[step]
        whole = combine_singles(plan, step, work.messages, first, ahead)
        begin(plan, step, ahead[whole], out)
        return out
    child = plan.child[plan.child_start[step] + level - 1]
    message = work.messages[plan.message_start[child] : plan.message_start[child + 1]]
    before = tables_of(plan, step, work)[(level - 1) * size : level * size]
    meeting = meeting_of(plan, plan.meetings.join_start[step + 1] - 1)
    join(before, message, out, meeting, work.scratch)
    return out


@njit(cache=True)
def _draw_value(
    plan: Plan, step: int, tables: tuple[Floats, Work, Floats], entry: int, state: Stream
) -> int:
    """Draw a value axis, and what its collector has collected if the gate is here."""
    table, work, weight = tables
    axis, top = plan.sequence[step], plan.start[step + 1] - plan.start[step]
    other = plan.partner[axis]
    unary = work.unary[axis]
    if not (other >= 0 and plan.position[other] > step):
        for v in range(2):
            weight[v] = unary[v] * table[entry | (v << top)]
        return entry | (pick(weight, 2, state) << top)
    bit = plan.meetings.partner_bit[step]
    rest = (entry >> bit) & 1  # what everything outside this subtree has collected
    base = entry & ~(1 << bit)
    for x in range(2):
        for v in range(2):
            weight[2 * x + v] = (
                unary[v] * table[base | (x << bit) | (v << top)] * work.gate[other, x | rest, v]
            )
    drawn = pick(weight, 4, state)
    return base | ((drawn >> 1) << bit) | ((drawn & 1) << top)


@njit(cache=True)
def _draw_collector(
    plan: Plan, step: int, tables: tuple[Floats, Work, Floats], entry: int, state: Stream
) -> int:
    """Draw what a collector axis has collected at the step that sums it out."""
    table, work, weight = tables
    axis, top = plan.sequence[step], plan.start[step + 1] - plan.start[step]
    if plan.meetings.own_role[step] == GATED:
        return entry  # nothing is collected elsewhere any more
    v = 0
    if plan.sort[axis] == GATE:
        v = (entry >> plan.meetings.partner_bit[step]) & 1
    for x in range(2):
        weight[x] = table[entry | (x << top)] * work.gate[axis, x, v]
    return entry | (pick(weight, 2, state) << top)


@njit(cache=True)
def _draw_singles(
    plan: Plan,
    step: int,
    rooms: tuple[Work, Floats],
    here: tuple[int, int],
    outs: tuple[Ints, Stream],
) -> None:
    """Give each single-axis child its entry, given the combination of all of them."""
    own, k = here
    work, weight = rooms
    wanted, state = outs
    first, last = plan.meetings.single[step], plan.child_start[step + 1]
    if plan.sort[plan.sequence[step]] == VALUE:
        for c in range(first, last):
            wanted[plan.child[c], k] = own
        return
    own, gated = _draw_gated(plan, step, rooms, (own, k), outs)
    count = last - first - (1 if gated >= 0 else 0)
    ahead = ahead_of(plan, step, work)
    for c in range(last - 1, first - 1, -1):
        child = plan.child[c]
        if child == gated:
            continue
        count -= 1
        at, mine = plan.message_start[child], 0
        if own == 1:
            off, on = work.messages[at], work.messages[at + 1]
            weight[0] = 0.0
            weight[1], weight[2] = ahead[count, 0] * on, ahead[count, 1] * off
            weight[3] = ahead[count, 1] * on
            drawn = pick(weight, 4, state[k : k + 1])
            own, mine = drawn >> 1, drawn & 1
        wanted[child, k] = mine


@njit(cache=True)
def _draw_gated(
    plan: Plan,
    step: int,
    rooms: tuple[Work, Floats],
    here: tuple[int, int],
    outs: tuple[Ints, Stream],
) -> tuple[int, int]:
    """Draw what the other singles collected, if one of them is gated; return it and that one."""
    own, k = here
    work, weight = rooms
    wanted, state = outs
    first, last = plan.meetings.single[step], plan.child_start[step + 1]
    ahead = ahead_of(plan, step, work)
    for c in range(first, last):
        child = plan.child[c]
        if plan.role[plan.start[child]] == GATED:
            at, count = plan.message_start[child], last - first - 1
            for x in range(2):
                weight[x] = ahead[count, x] * work.messages[at + (x | own)]
            drawn = pick(weight, 2, state[k : k + 1])
            wanted[child, k] = drawn | own
            return drawn, child
    return own, -1
