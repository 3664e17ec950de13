"""One sweep up and one sweep down a plan give every posterior.

Upwards, each step joins its children's messages, takes in its links and gate,
sums its own axis out and passes the rest on; at the roots stands the evidence's
probability. Downwards the same operations run transposed: what comes out at a
step is the derivative of that probability, and the derivative times the table,
split by the step's own axis, is the marginal of that axis. Since every table
operation is linear in each operand this is exact, and since nothing is negative
nothing cancels [1]_.

Where they are few, tables are kept on the way up. Else the downward sweep builds each
one again from the messages, which is cheaper than the room they would take.

References
----------
.. [1] Darwiche, A. (2003). A differential approach to inference in Bayesian
       networks. Journal of the ACM 50(3), 280-305. (From memory.)
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints
from triage.bare import bare
from triage.joining import join, join_back
from triage.meeting import Meetings
from triage.packing import Scratch
from triage.planning import Plan
from triage.singles import combine_singles, combine_singles_back
from triage.summing import Work, sum_out, sum_out_back
from triage.tables import absorb_link, absorb_link_back

__all__ = [
    "INHIBITED",
    "MARGINALS",
    "UP",
    "ahead_of",
    "bare_plan",
    "begin",
    "build",
    "go_up",
    "make_work",
    "meeting_of",
    "room_for",
    "sweep",
    "tables_of",
]

UP, MARGINALS, INHIBITED = 0, 1, 2  # extent of a sweep
_GROWN, _INTS = 1 << 13, 1 << 13  # numbers that most joins get by with
_ROOM = 1 << 23  # numbers of a room that is used again: 64 MB
_TABLES = 1 << 22  # numbers of tables that are kept on the way up; more are built again


@njit(cache=True)
def _room_needed(plan: Plan, keep: bool) -> int:
    """Return how many numbers a sweep needs room for."""
    widest, entries = _largest(plan, keep)
    singles = 2 * plan.meetings.ahead_start[-1]
    return plan.message_start[-1] + entries + (6 << widest) + singles + _GROWN


@njit(cache=True)
def _largest(plan: Plan, keep: bool) -> tuple[int, int]:
    """Return the axes of the largest table, and the entries of all tables that are held."""
    widest, entries, where = 1, 1, plan.meetings.table_start
    for step in range(plan.sequence.shape[0]):
        widest = max(widest, plan.start[step + 1] - plan.start[step] + 1)
        entries = max(entries, where[step + 1] - where[step])
    return widest, where[-1] if keep else entries


@njit(cache=True)
def make_work(
    plan: Plan, weights: tuple[Floats, Floats], room: tuple[Floats, Ints], keep: bool
) -> Work:
    """Cut the room into what a sweep works on; nothing is counted."""
    widest, entries = _largest(plan, keep)
    floats, size, singles = bare(room[0]), np.int64(1) << widest, plan.meetings.ahead_start[-1]
    messages = floats[: plan.message_start[-1]]
    at = messages.shape[0]
    stack = floats[at : at + entries]
    at += entries
    slope, tables = floats[at : at + 2 * size], floats[at + 2 * size : at + 5 * size]
    held = floats[at + 5 * size : at + 6 * size]
    at += 6 * size
    ahead = floats[at : at + 2 * singles].reshape((singles, 2))
    at += 2 * singles
    scratch = Scratch(tables, floats[at : at + _GROWN], bare(room[1]))
    return Work(
        bare(weights[0]), bare(weights[1]), messages, stack, slope, held, scratch, ahead, keep
    )


@njit(cache=True)
def bare_plan(p: Plan) -> Plan:
    """Return the plan with bare arrays."""
    return Plan(
        bare(p.sequence),
        bare(p.start),
        bare(p.scope),
        bare(p.role),
        bare(p.partner),
        bare(p.sort),
        bare(p.position),
        bare(p.child_start),
        bare(p.child),
        bare(p.link_start),
        bare(p.link_value),
        bare(p.link_collector),
        bare(p.link_strength),
        bare(p.link_order),
        bare(p.message_start),
        _bare_meetings(p.meetings),
        p.cost,
    )


@njit(cache=True)
def _bare_meetings(m: Meetings) -> Meetings:
    """Return the meetings with bare arrays."""
    return Meetings(
        bare(m.single),
        bare(m.collectors),
        bare(m.own_role),
        bare(m.partner_bit),
        bare(m.link_bits),
        bare(m.link_role),
        bare(m.join_start),
        bare(m.row_start),
        bare(m.rows),
        bare(m.counts),
        bare(m.table_start),
        bare(m.ahead_start),
    )


@njit(cache=True)
def tables_of(plan: Plan, step: int, work: Work) -> Floats:
    """Return the step's tables: of (joins + 1) times its size."""
    where = plan.meetings.table_start
    at = where[step] if work.kept else 0
    return work.stack[at : at + where[step + 1] - where[step]]


@njit(cache=True)
def meeting_of(plan: Plan, join: int) -> tuple[Ints, Ints]:
    """Return how one child's message meets its step's table."""
    m = plan.meetings
    low, high = m.row_start[join], m.row_start[join + 1]
    return m.rows[low:high].reshape((7, (high - low) // 7)), m.counts[join]


@njit(cache=True)
def ahead_of(plan: Plan, step: int, work: Work) -> Floats:
    """Return the combinations of the step's single-axis messages."""
    where = plan.meetings.ahead_start
    return work.ahead[where[step] : where[step + 1]]


@njit(cache=True)
def begin(plan: Plan, step: int, whole: Floats, table: Floats) -> None:
    """Write a step's first table: its single-axis children, and nothing collected elsewhere."""
    half, collectors = table.shape[0] // 2, plan.meetings.collectors[step]
    if collectors:
        table[:] = 0.0
    for i in range(half):
        if not i & collectors:
            table[i], table[half + i] = whole[0], whole[1]


@njit(cache=True)
def build(plan: Plan, step: int, work: Work) -> int:
    """Fill the step's tables; return how many children were joined by tables.

    Table ``k`` is the join of the first ``k`` of them; the last one has also taken
    in the step's links.
    """
    m, stack = plan.meetings, tables_of(plan, step, work)
    size = 2 << (plan.start[step + 1] - plan.start[step])
    ahead = ahead_of(plan, step, work)
    whole = combine_singles(plan, step, work.messages, m.single[step], ahead)
    begin(plan, step, ahead[whole], stack[:size])
    first, level = m.join_start[step], 0
    for join_at in range(first, m.join_start[step + 1]):
        child = plan.child[plan.child_start[step] + level]
        message = work.messages[plan.message_start[child] : plan.message_start[child + 1]]
        at = level * size
        tables = (stack[at : at + size], stack[at + size : at + 2 * size])
        join(tables[0], message, tables[1], meeting_of(plan, join_at), work.scratch)
        level += 1
    table = stack[level * size : (level + 1) * size]
    for k in range(plan.link_start[step], plan.link_start[step + 1]):
        link = (plan.link_strength[k], m.link_role[k])
        absorb_link(table, size, m.link_bits[k, 0], m.link_bits[k, 1], link)
    return level


@njit(cache=True)
def _rescale(numbers: Floats) -> float:
    """Divide by the largest entry, unless all are zero; return it."""
    top = 0.0
    for i in range(numbers.shape[0]):
        top = max(top, numbers[i])
    if top > 0.0:
        factor = 1.0 / top
        for i in range(numbers.shape[0]):
            numbers[i] *= factor
    return top


@njit(cache=True)
def _down_step(plan: Plan, step: int, work: Work, outs: tuple[Floats, Floats]) -> None:
    """Take one step of the downward sweep: children's messages become derivatives."""
    m = plan.meetings
    level = m.join_start[step + 1] - m.join_start[step]
    if not work.kept:
        build(plan, step, work)
    size = 2 << (plan.start[step + 1] - plan.start[step])
    above = work.messages[plan.message_start[step] : plan.message_start[step + 1]]
    if plan.start[step + 1] == plan.start[step]:
        above[:] = 1.0
    slope, spare = work.slope[:size], work.slope[size : 2 * size]
    stack = tables_of(plan, step, work)
    sum_out_back(plan, step, (stack[level * size :], above, slope), work, outs)
    for k in range(plan.link_start[step + 1] - 1, plan.link_start[step] - 1, -1):
        link = (plan.link_strength[k], m.link_role[k])
        absorb_link_back(slope, size, m.link_bits[k, 0], m.link_bits[k, 1], link)
    for c in range(level - 1, -1, -1):
        child = plan.child[plan.child_start[step] + c]
        low, high = plan.message_start[child], plan.message_start[child + 1]
        message, back = work.held[: high - low], work.messages[low:high]
        message[:] = back
        slopes = (slope, spare, back)
        meeting = meeting_of(plan, m.join_start[step] + c)
        join_back(stack[c * size : (c + 1) * size], message, slopes, meeting, work.scratch)
        _rescale(back)
        slope, spare = spare, slope
    if m.single[step] < plan.child_start[step + 1]:
        _singles_down(plan, step, work, slope)


@njit(cache=True)
def _singles_down(plan: Plan, step: int, work: Work, slope: Floats) -> None:
    """Give the single-axis children their derivatives."""
    half, collectors = slope.shape[0] // 2, plan.meetings.collectors[step]
    total = np.zeros(2)
    for i in range(half):
        if not i & collectors:
            total[0] += slope[i]
            total[1] += slope[half + i]
    _rescale(total)
    first, ahead = plan.meetings.single[step], ahead_of(plan, step, work)
    combine_singles_back(plan, step, work.messages, first, (ahead, total))
    for c in range(first, plan.child_start[step + 1]):
        low = plan.message_start[plan.child[c]]
        _rescale(work.messages[low : low + 2])


Room = tuple[Floats, Ints]
#: Rooms that nobody is in, used again: fresh memory costs more than small sums.
_EMPTY: list[Room] = []


@contextmanager
def room_for(plan: Plan, *, keep: bool = False) -> Iterator[Room]:
    """Lend room for one sweep, with whatever was in it.

    Parameters
    ----------
    plan : Plan
    keep : whether the tables of all steps are to be kept at once
    """
    need = _room_needed(plan, keep)
    try:
        room = _EMPTY.pop()
    except IndexError:
        room = (np.empty(0), np.empty(_INTS, np.int64))
    if need > room[0].size:
        room = (np.empty(need), room[1])
    yield room
    if room[0].size <= _ROOM:
        _EMPTY.append(room)


def sweep(plan: Plan, unary: Floats, gate: Floats, extent: int) -> tuple[float, Floats, Floats]:
    """Return the log evidence and, if asked, every marginal.

    Parameters
    ----------
    plan : Plan
    unary : (axes, 2) weights of the value axes
    gate : (axes, 2, 2) gates of the collector axes, [collected, value]
    extent : UP, MARGINALS or INHIBITED: what to work out, each with what comes before

    Returns
    -------
    log_evidence : natural log, -inf where the evidence is impossible
    marginal : (axes,) P(on) of each value axis; nan on other axes, where the
        evidence is impossible and when not asked for
    inhibited : (axes,) of each gate: P(its node is on by its own parents
        while all below it sees it off) / P(evidence); `nan` elsewhere; empty when
        not asked for
    """
    keep = extent > UP and bool(plan.meetings.table_start[-1] <= _TABLES)
    with room_for(plan, keep=keep) as room:
        return _sweep(plan, (unary, gate), extent, room, keep)


@njit(cache=True, nogil=True)
def _sweep(
    plan: Plan, weights: tuple[Floats, Floats], extent: int, room: tuple[Floats, Ints], keep: bool
) -> tuple[float, Floats, Floats]:
    """Sweep in the room given."""
    steps = plan.sequence.shape[0]
    marginal = np.full(steps, np.nan)
    inhibited = np.full(steps if extent == INHIBITED else 0, np.nan)
    if steps == 0:
        return 0.0, marginal, inhibited
    lean, work = bare_plan(plan), make_work(plan, weights, room, keep)
    log_total = go_up(lean, work)
    if extent > UP:
        for step in range(steps - 1, -1, -1):
            _down_step(lean, step, work, (marginal, inhibited))
    return log_total, marginal, inhibited


@njit(cache=True)
def go_up(plan: Plan, work: Work) -> float:
    """Sweep up, leaving every message; return the log evidence."""
    log_total = 0.0
    for step in range(plan.sequence.shape[0]):
        level = build(plan, step, work)
        size = 2 << (plan.start[step + 1] - plan.start[step])
        table = tables_of(plan, step, work)[level * size :]
        message = work.messages[plan.message_start[step] : plan.message_start[step + 1]]
        sum_out(plan, step, (table, message), work)
        log_total += np.log(_rescale(message))
    return log_total
