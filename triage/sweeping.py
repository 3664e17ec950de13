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

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints
from triage.bare import bare
from triage.folding import GATE, VALUE
from triage.joining import join, join_back, split
from triage.planning import Plan
from triage.singles import combine_singles, combine_singles_back
from triage.tables import (
    EMPTY,
    GATED,
    absorb_gate,
    absorb_gate_back,
    absorb_link,
    absorb_link_back,
)

__all__ = ["sweep"]


class Work(NamedTuple):
    """Room for the numbers of a sweep, used again at every step."""

    unary: Floats  # (axes, 2, lanes)
    gate: Floats  # (axes, 2, 2, lanes)
    messages: Floats  # (entries, lanes), by the plan's message_start
    stack: Floats  # (entries, lanes), the tables of one step one after the other
    slope: Floats  # (2 * largest table, lanes)
    ahead: Floats  # (most singles + 2, 2, lanes)
    bit: Ints  # of each axis: its bit in the table at hand
    role: Ints  # of each axis: its role there
    rows: Ints  # (most joins, 7, widest + 1) how each child met the table
    counts: Ints  # (most joins, 3)


@njit(cache=True)
def _make_work(plan: Plan, unary: Floats, gate: Floats) -> Work:
    """Return room for a sweep with as many lanes as the weights have."""
    steps, lanes = plan.sequence.shape[0], unary.shape[2]
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
        np.empty((plan.message_start[steps], lanes)),
        np.empty((entries, lanes)),
        np.empty((2 << widest, lanes)),
        np.empty((singles + 2, 2, lanes)),
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
    half, lanes = size // 2, whole.shape[1]
    for i in range(half):
        live = 0.0 if i & collectors else 1.0
        for b in range(lanes):
            work.stack[i, b] = live * whole[0, b]
            work.stack[half + i, b] = live * whole[1, b]
    level = 0
    for c in range(plan.child_start[step], first):
        child = plan.child[c]
        meeting = (work.rows[level], work.counts[level])
        split(plan, step, child, (bit, role), meeting)
        message = work.messages[plan.message_start[child] : plan.message_start[child + 1]]
        at = level * size
        join(work.stack[at : at + size], message, work.stack[at + size : at + 2 * size], meeting)
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
def _sum_out(plan: Plan, step: int, table: Floats, work: Work) -> None:
    """Sum the step's own axis out, leaving the message in the table's lower half."""
    axis = plan.sequence[step]
    half, lanes = table.shape[0] // 2, table.shape[1]
    bit, unary, gate = work.bit, work.unary, work.gate
    if plan.sort[axis] == VALUE:
        other = plan.partner[axis]
        if other >= 0 and plan.position[other] > step:
            absorb_gate(table, table.shape[0], bit[axis], bit[other], gate[other])
        for i in range(half):
            for b in range(lanes):
                table[i, b] = table[i, b] * unary[axis, 0, b] + (
                    table[half + i, b] * unary[axis, 1, b]
                )
        return
    if work.role[axis] == GATED:
        return
    value = 0
    if plan.sort[axis] == GATE:
        value = 1 << bit[plan.partner[axis]]
    for i in range(half):
        v = 1 if i & value else 0
        for b in range(lanes):
            table[i, b] = table[i, b] * gate[axis, 0, v, b] + (
                table[half + i, b] * gate[axis, 1, v, b]
            )


@njit(cache=True, error_model="numpy")
def _sum_out_back(
    plan: Plan, step: int, tables: tuple[Floats, Floats, Floats], work: Work, outs: tuple[Floats, Floats]
) -> None:
    """Spread the message's derivative over the table; note the own axis' marginal."""
    table, above, slope = tables
    marginal, inhibited = outs
    axis = plan.sequence[step]
    half, lanes = table.shape[0] // 2, table.shape[1]
    bit, unary, gate = work.bit, work.unary, work.gate
    if plan.sort[axis] == VALUE:
        other = plan.partner[axis]
        gates_here = other >= 0 and plan.position[other] > step
        if gates_here:
            _inhibit_at_value(
                (table, above), (bit[other], half), (unary[axis], gate[other]), inhibited[other]
            )
            absorb_gate(table, table.shape[0], bit[axis], bit[other], gate[other])
        for b in range(lanes):
            total_off, total_on = 0.0, 0.0
            for i in range(half):
                low, high = above[i, b] * unary[axis, 0, b], above[i, b] * unary[axis, 1, b]
                slope[i, b], slope[half + i, b] = low, high
                total_off += low * table[i, b]
                total_on += high * table[half + i, b]
            marginal[axis, b] = total_on / (total_off + total_on)
        if gates_here:
            absorb_gate_back(slope, table.shape[0], bit[axis], bit[other], gate[other])
        return
    if work.role[axis] == GATED:
        slope[:half] = above
        slope[half:] = 0.0
        return
    value = 0
    if plan.sort[axis] == GATE:
        value = 1 << bit[plan.partner[axis]]
        _inhibit_at_collector((table, above), (value, half), gate[axis], inhibited[axis])
    for i in range(half):
        v = 1 if i & value else 0
        for b in range(lanes):
            slope[i, b] = above[i, b] * gate[axis, 0, v, b]
            slope[half + i, b] = above[i, b] * gate[axis, 1, v, b]


@njit(cache=True, error_model="numpy")
def _inhibit_at_value(
    tables: tuple[Floats, Floats],
    where: tuple[int, int],
    weights: tuple[Floats, Floats],
    out: Floats,
) -> None:
    """Write P(node is on by its own parents, but nothing below it knows) / P(evidence).

    The evidence's probability is linear in the gate. Moving the gate's weight
    on "value on" to "value off" leaves the node on towards its parents and off
    towards its children, which is what a cause with all its links inhibited is.
    """
    table, above = tables
    collector, half = where
    unary, gate = weights
    mask = 1 << collector
    for b in range(table.shape[1]):
        whole, moved = 0.0, 0.0
        for i in range(half):
            if i & mask:
                continue
            for v in range(2):
                at = i + v * half
                low, high = table[at, b], table[at | mask, b]
                a_off, a_on = above[i, b] * unary[v, b], above[i | mask, b] * unary[v, b]
                for g in range(2):
                    part = (
                        low * gate[0, g, b] * a_off
                        + high * gate[1, g, b] * a_off
                        + (low + high) * gate[1, g, b] * a_on
                    )
                    if g == v:
                        whole += part
                    elif v == 0:
                        moved += part
        out[b] = moved / whole


@njit(cache=True, error_model="numpy")
def _inhibit_at_collector(
    tables: tuple[Floats, Floats], where: tuple[int, int], gate: Floats, out: Floats
) -> None:
    """The same where the collector goes before its value axis."""
    table, above = tables
    value, half = where
    for b in range(table.shape[1]):
        whole, moved = 0.0, 0.0
        for i in range(half):
            v = 1 if i & value else 0
            for g in range(2):
                part = above[i, b] * (
                    table[i, b] * gate[0, g, b] + table[half + i, b] * gate[1, g, b]
                )
                if g == v:
                    whole += part
                elif v == 0:
                    moved += part
        out[b] = moved / whole


@njit(cache=True)
def _normalise(message: Floats, log_total: Floats) -> None:
    """Scale each lane of a message to a largest entry of one; keep the logs."""
    for b in range(message.shape[1]):
        top = 0.0
        for i in range(message.shape[0]):
            top = max(top, message[i, b])
        log_total[b] += np.log(top)
        if top > 0.0:
            for i in range(message.shape[0]):
                message[i, b] /= top


@njit(cache=True, error_model="numpy")
def _rescale(slope: Floats) -> None:
    """Scale each lane of a derivative to a largest entry of one: only ratios count."""
    for b in range(slope.shape[1]):
        top = 0.0
        for i in range(slope.shape[0]):
            top = max(top, slope[i, b])
        if top > 0.0:
            for i in range(slope.shape[0]):
                slope[i, b] /= top


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
    _sum_out_back(plan, step, (table, above, slope), work, outs)
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
        join_back(before, message, (slope, spare, back), (work.rows[c], work.counts[c]))
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
    total = np.zeros((2, slope.shape[1]))
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


@njit(cache=True)
def sweep(
    plan: Plan, unary: Floats, gate: Floats, down: bool
) -> tuple[Floats, Floats, Floats]:
    """Return the log evidence of every lane and, if asked, every marginal.

    Parameters
    ----------
    plan : Plan
    unary : (axes, 2, lanes) weights of the value axes
    gate : (axes, 2, 2, lanes) gates of the collector axes, [collected, value]
    down : whether the marginals are wanted

    Returns
    -------
    log_evidence : (lanes,) natural logs, -inf where the lane is impossible
    marginal : (axes, lanes) P(on) of each value axis; nan on other axes, on
        impossible lanes and when not asked for
    inhibited : (axes, lanes) of each gate: P(its node is on by its own parents
        while all below it sees it off) / P(evidence); `nan` elsewhere
    """
    steps, lanes = plan.sequence.shape[0], unary.shape[2]
    log_total = np.zeros(lanes)
    marginal = np.full((steps, lanes), np.nan)
    inhibited = np.full((steps, lanes), np.nan)
    if steps == 0:
        return log_total, marginal, inhibited
    room = _make_work(plan, unary, gate)
    _run(_bare_plan(plan), _bare_work(room), log_total, (marginal, inhibited), down)
    if room.bit.shape[0] != steps:  # never; it keeps the room alive until here
        raise AssertionError
    return log_total, marginal, inhibited


@njit(cache=True)
def _run(
    plan: Plan, work: Work, log_total: Floats, outs: tuple[Floats, Floats], down: bool
) -> None:
    """Sweep up, and down if asked."""
    steps = plan.sequence.shape[0]
    for step in range(steps):
        level = _build(plan, step, work)
        size = 2 << (plan.start[step + 1] - plan.start[step])
        table = work.stack[level * size : (level + 1) * size]
        _sum_out(plan, step, table, work)
        message = work.messages[plan.message_start[step] : plan.message_start[step + 1]]
        message[:] = table[: size // 2]
        _normalise(message, log_total)
    if down:
        for step in range(steps - 1, -1, -1):
            _down_step(plan, step, work, outs)
