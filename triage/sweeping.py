"""One sweep up and one sweep down a plan give every posterior.

Upwards, each step joins its children's messages, takes in its links and gate,
sums its own axis out and passes the rest on; at the roots stands the evidence's
probability. Downwards the same operations run transposed: what comes out at a
step is the derivative of that probability, and the derivative times the table,
split by the step's own axis, is the marginal of that axis. Since every table
operation is linear in each operand this is exact, and since nothing is negative
nothing cancels [1]_.

Tables are not kept: the downward sweep builds each one again from the messages,
which is cheaper than the room they would take.

References
----------
.. [1] Darwiche, A. (2003). A differential approach to inference in Bayesian
       networks. Journal of the ACM 50(3), 280-305. (From memory.)
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Floats
from triage.bare import bare
from triage.folding import VALUE
from triage.joining import join, join_back, split
from triage.planning import Plan
from triage.singles import combine_singles, combine_singles_back
from triage.summing import Work, sum_out, sum_out_back
from triage.tables import (
    EMPTY,
    GATED,
    absorb_link,
    absorb_link_back,
)

__all__ = ["INHIBITED", "MARGINALS", "UP", "sweep"]

UP, MARGINALS, INHIBITED = 0, 1, 2  # extent of a sweep


@njit(cache=True)
def _make_work(plan: Plan, unary: Floats, gate: Floats) -> Work:
    """Return room for a sweep."""
    steps = plan.sequence.shape[0]
    entries, widest, joins, singles = 1, 1, 1, 1
    for step in range(steps):
        width = plan.start[step + 1] - plan.start[step] + 1
        first = _first_single(plan, step)
        many = first - plan.child_start[step]
        entries = max(entries, (many + 1) << width)
        widest, joins = max(widest, width), max(joins, many)
        singles = max(singles, plan.child_start[step + 1] - first)
    return Work(
        unary,
        gate,
        np.empty(plan.message_start[steps]),
        np.empty(entries),
        np.empty(2 << widest),
        np.empty(3 << widest),
        np.empty((singles + 2, 2)),
        np.zeros(steps, np.int64),
        np.zeros(steps, np.int64),
        np.empty((joins, 7, widest), np.int64),
        np.empty((joins, 3), np.int64),
    )


@njit(cache=True)
def _bare_plan(p: Plan) -> Plan:
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
        p.cost,
    )


@njit(cache=True)
def _bare_work(w: Work) -> Work:
    """Return the room with bare arrays."""
    return Work(
        bare(w.unary),
        bare(w.gate),
        bare(w.messages),
        bare(w.stack),
        bare(w.slope),
        bare(w.room),
        bare(w.ahead),
        bare(w.bit),
        bare(w.role),
        bare(w.rows),
        bare(w.counts),
    )


@njit(cache=True)
def _first_single(plan: Plan, step: int) -> int:
    """Return where the single-axis children start; children come largest first."""
    c = plan.child_start[step + 1]
    while c > plan.child_start[step]:
        child = plan.child[c - 1]
        if plan.start[child + 1] - plan.start[child] > 1:
            break
        c -= 1
    return c


@njit(cache=True)
def _build(plan: Plan, step: int, work: Work) -> int:
    """Fill the step's tables; return how many children were joined by tables.

    Table ``k`` of the stack is the join of the first ``k`` of them; the last
    one has also taken in the step's links.
    """
    low, high = plan.start[step], plan.start[step + 1]
    axis, size = plan.sequence[step], 2 << (high - low)
    bit, role = work.bit, work.role
    collectors = 0
    for i in range(low, high):
        bit[plan.scope[i]], role[plan.scope[i]] = i - low, EMPTY
        if plan.sort[plan.scope[i]] != VALUE:
            collectors |= 1 << (i - low)
    bit[axis] = high - low
    first = _first_single(plan, step)
    role[axis] = combine_singles(plan, step, work.messages, first, work.ahead)
    whole = work.ahead[_whole(plan, step, first, role[axis] == GATED)]
    half = size // 2
    if collectors:
        work.stack[:size] = 0.0
    for i in range(half):
        if not i & collectors:
            work.stack[i], work.stack[half + i] = whole[0], whole[1]
    level = 0
    for c in range(plan.child_start[step], first):
        child = plan.child[c]
        meeting = (work.rows[level], work.counts[level])
        split(plan, step, child, (bit, role), meeting)
        message = work.messages[plan.message_start[child] : plan.message_start[child + 1]]
        at = level * size
        after = work.stack[at + size : at + 2 * size]
        join(work.stack[at : at + size], message, after, meeting, work.room)
        level += 1
    table = work.stack[level * size : (level + 1) * size]
    for k in range(plan.link_start[step], plan.link_start[step + 1]):
        collector = plan.link_collector[k]
        link = (plan.link_strength[k], role[collector])
        absorb_link(table, size, bit[plan.link_value[k]], bit[collector], link)
    return level


@njit(cache=True)
def _whole(plan: Plan, step: int, first: int, gated: bool) -> int:
    """Return which entry of `ahead` holds the combination of all singles."""
    many = plan.child_start[step + 1] - first
    return many if gated else many + 1


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
    level = _build(plan, step, work)
    size = 2 << (plan.start[step + 1] - plan.start[step])
    above = work.messages[plan.message_start[step] : plan.message_start[step + 1]]
    if plan.start[step + 1] == plan.start[step]:
        above[:] = 1.0
    slope, spare = work.slope[:size], work.slope[size : 2 * size]
    table = work.stack[level * size : (level + 1) * size]
    sum_out_back(plan, step, (table, above, slope), work, outs)
    for k in range(plan.link_start[step + 1] - 1, plan.link_start[step] - 1, -1):
        collector = plan.link_collector[k]
        link = (plan.link_strength[k], work.role[collector])
        absorb_link_back(slope, size, work.bit[plan.link_value[k]], work.bit[collector], link)
    for c in range(level - 1, -1, -1):
        child = plan.child[plan.child_start[step] + c]
        low, high = plan.message_start[child], plan.message_start[child + 1]
        message = work.messages[low:high].copy()
        before = work.stack[c * size : (c + 1) * size]
        back = work.messages[low:high]
        meeting = (work.rows[c], work.counts[c])
        join_back(before, message, (slope, spare, back), meeting, work.room)
        _rescale(back)
        slope, spare = spare, slope
    first = plan.child_start[step] + level
    if first < plan.child_start[step + 1]:
        _singles_down(plan, step, work, slope)


@njit(cache=True)
def _singles_down(plan: Plan, step: int, work: Work, slope: Floats) -> None:
    """Give the single-axis children their derivatives."""
    half = slope.shape[0] // 2
    collectors = 0
    for i in range(plan.start[step], plan.start[step + 1]):
        if plan.sort[plan.scope[i]] != VALUE:
            collectors |= 1 << (i - plan.start[step])
    total = np.zeros(2)
    for i in range(half):
        if not i & collectors:
            total[0] += slope[i]
            total[1] += slope[half + i]
    _rescale(total)
    first = _first_single(plan, step)
    combine_singles_back(plan, step, work.messages, first, (work.ahead, total))
    for c in range(first, plan.child_start[step + 1]):
        low = plan.message_start[plan.child[c]]
        _rescale(work.messages[low : low + 2])


@njit(cache=True, nogil=True)
def sweep(plan: Plan, unary: Floats, gate: Floats, extent: int) -> tuple[float, Floats, Floats]:
    """Return the log evidence and, if asked, every marginal.

    Parameters
    ----------
    plan : Plan
    unary : (axes, 2) weights of the value axes
    gate : (axes, 2, 2) gates of the collector axes, [collected, value]
    extent : UP, MARGINALS or INHIBITED: what to work out, each with what comes before
    down : whether the marginals are wanted

    Returns
    -------
    log_evidence : natural log, -inf where the evidence is impossible
    marginal : (axes,) P(on) of each value axis; nan on other axes, where the
        evidence is impossible and when not asked for
    inhibited : (axes,) of each gate: P(its node is on by its own parents
        while all below it sees it off) / P(evidence); `nan` elsewhere; empty when
        not asked for
    """
    steps = plan.sequence.shape[0]
    marginal = np.full(steps, np.nan)
    inhibited = np.full(steps if extent == INHIBITED else 0, np.nan)
    if steps == 0:
        return 0.0, marginal, inhibited
    room = _make_work(plan, unary, gate)
    log_total = _run(_bare_plan(plan), _bare_work(room), (marginal, inhibited), extent)
    if room.bit.shape[0] != steps:  # never; it keeps the room alive until here
        raise AssertionError
    return log_total, marginal, inhibited


@njit(cache=True)
def _run(plan: Plan, work: Work, outs: tuple[Floats, Floats], extent: int) -> float:
    """Sweep up, and down if asked; return the log evidence."""
    steps = plan.sequence.shape[0]
    log_total = 0.0
    for step in range(steps):
        level = _build(plan, step, work)
        size = 2 << (plan.start[step + 1] - plan.start[step])
        table = work.stack[level * size : (level + 1) * size]
        sum_out(plan, step, table, work)
        message = work.messages[plan.message_start[step] : plan.message_start[step + 1]]
        message[:] = table[: size // 2]
        log_total += np.log(_rescale(message))
    if extent > UP:
        for step in range(steps - 1, -1, -1):
            _down_step(plan, step, work, outs)
    return log_total
