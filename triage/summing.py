"""Summing a step's own axis out of its table, forwards and transposed.

A value axis is weighed and added up; a collector axis meets its gate. On the way
back the own axis' marginal falls out, and for a node with parents also how often
it would be on by its own parents while everything below it sees it off
(`triage.responsibility` needs that).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Floats
from triage.folding import GATE, VALUE
from triage.packing import Scratch
from triage.planning import Plan
from triage.tables import GATED, absorb_gate

__all__ = ["Work", "sum_out", "sum_out_back"]


class Work(NamedTuple):
    """Room for the numbers of a sweep, used again at every step."""

    unary: Floats  # (axes, 2)
    gate: Floats  # (axes, 2, 2)
    messages: Floats  # (entries,), by the plan's message_start
    stack: Floats  # (entries,), the tables of one step, or of all, one after the other
    slope: Floats  # (2 * largest table,)
    held: Floats  # (largest table,), a message while its derivative is made
    scratch: Scratch  # for one join
    ahead: Floats  # (singles + 2 for each step, 2)
    kept: bool  # whether the tables of every step are kept


@njit(cache=True)
def sum_out(plan: Plan, step: int, tables: tuple[Floats, Floats], work: Work) -> None:
    """Write the step's message: its table with the own axis summed out.

    `tables` are the table, which stays as it is, and the message.
    """
    table, message = tables
    axis = plan.sequence[step]
    half = table.shape[0] // 2
    unary, gate = work.unary, work.gate
    if plan.sort[axis] == VALUE:
        other = plan.partner[axis]
        if other >= 0 and plan.position[other] > step:
            bit = plan.meetings.partner_bit[step]
            _sum_out_gated(table, message, (unary[axis], gate[other]), np.int64(1) << bit)
            return
        off, on = unary[axis, 0], unary[axis, 1]
        for i in range(half):
            message[i] = table[i] * off + table[half + i] * on
        return
    if plan.meetings.own_role[step] == GATED:
        message[:] = table[:half]
        return
    many, value = 1, half
    if plan.sort[axis] == GATE:
        many, value = 2, 1 << plan.meetings.partner_bit[step]
    for v in range(many):
        keep, take = gate[axis, 0, v], gate[axis, 1, v]
        for run in range(v * value, half, 2 * value):
            for i in range(run, run + value):
                message[i] = table[i] * keep + table[half + i] * take


@njit(cache=True)
def _sum_out_gated(
    table: Floats, message: Floats, weights: tuple[Floats, Floats], collector: int
) -> None:
    """Put the gate on the collector and sum the value axis, the top one, out."""
    unary, gate = weights
    half = table.shape[0] // 2
    keep_off, keep_on = gate[0, 0] * unary[0], gate[0, 1] * unary[1]
    take_off, take_on = gate[1, 0] * unary[0], gate[1, 1] * unary[1]
    for start in range(0, half, 2 * collector):
        for i in range(start, start + collector):
            a, b = table[i], table[i + collector]
            c, d = table[half + i], table[half + i + collector]
            message[i] = (a * keep_off + b * take_off) + (c * keep_on + d * take_on)
            message[i + collector] = (a + b) * take_off + (c + d) * take_on


@njit(cache=True)
def sum_out_back(
    plan: Plan,
    step: int,
    tables: tuple[Floats, Floats, Floats],
    work: Work,
    outs: tuple[Floats, Floats],
) -> None:
    """Spread the message's derivative over the table; note the own axis' marginal.

    `outs` are the marginals and, unless it is empty, how far gates are inhibited.
    """
    table, above, slope = tables
    marginal, inhibited = outs
    axis = plan.sequence[step]
    half = table.shape[0] // 2
    if plan.sort[axis] == VALUE:
        marginal[axis] = _value_back(plan, step, tables, work, inhibited)
        return
    if plan.meetings.own_role[step] == GATED:
        slope[:half] = above
        slope[half:] = 0.0
        return
    many, value = 1, half
    gate = work.gate[axis]
    if plan.sort[axis] == GATE:
        many, value = 2, 1 << plan.meetings.partner_bit[step]
        if inhibited.shape[0] > 0:
            inhibited[axis] = _inhibit_at_collector((table, above), (value, half), gate)
    for v in range(many):
        for run in range(v * value, half, 2 * value):
            for i in range(run, run + value):
                slope[i] = above[i] * gate[0, v]
                slope[half + i] = above[i] * gate[1, v]


@njit(cache=True, error_model="numpy", fastmath={"contract", "reassoc"})
def _value_back(
    plan: Plan,
    step: int,
    tables: tuple[Floats, Floats, Floats],
    work: Work,
    inhibited: Floats,
) -> float:
    """Do so for a value axis; return its marginal."""
    table, above, slope = tables
    axis = plan.sequence[step]
    other, unary = plan.partner[axis], work.unary[axis]
    bit = plan.meetings.partner_bit[step]
    half = table.shape[0] // 2
    gates_here = other >= 0 and plan.position[other] > step
    top = plan.start[step + 1] - plan.start[step]
    if gates_here:
        gate = work.gate[other]
        if inhibited.shape[0] > 0:
            where = (bit, half)
            inhibited[other] = _inhibit_at_value((table, above), where, (unary, gate))
        absorb_gate(table, table.shape[0], top, bit, gate)
    off, on = unary[0], unary[1]
    total_off, total_on = 0.0, 0.0
    for i in range(half):
        low, high = above[i] * off, above[i] * on
        slope[i], slope[half + i] = low, high
        total_off += low * table[i]
        total_on += high * table[half + i]
    if gates_here:
        absorb_gate(slope, table.shape[0], top, bit, work.gate[other])
    return total_on / (total_off + total_on)


@njit(cache=True, error_model="numpy")
def _inhibit_at_value(
    tables: tuple[Floats, Floats],
    where: tuple[int, int],
    weights: tuple[Floats, Floats],
) -> float:
    """Return P(node is on by its own parents, but nothing below it knows) / P(evidence).

    The evidence's probability is linear in the gate. Moving the gate's weight
    on "value on" to "value off" leaves the node on towards its parents and off
    towards its children, which is what a cause with all its links inhibited is.
    """
    table, above = tables
    collector, half = where
    unary, gate = weights
    mask = 1 << collector
    whole, moved = 0.0, 0.0
    for i in range(half):
        if i & mask:
            continue
        for v in range(2):
            at = i + v * half
            low, high = table[at], table[at | mask]
            a_off, a_on = above[i] * unary[v], above[i | mask] * unary[v]
            for g in range(2):
                part = (
                    low * gate[0, g] * a_off
                    + high * gate[1, g] * a_off
                    + (low + high) * gate[1, g] * a_on
                )
                if g == v:
                    whole += part
                elif v == 0:
                    moved += part
    return moved / whole


@njit(cache=True, error_model="numpy")
def _inhibit_at_collector(
    tables: tuple[Floats, Floats], where: tuple[int, int], gate: Floats
) -> float:
    """Return the same where the collector goes before its value axis."""
    table, above = tables
    value, half = where
    whole, moved = 0.0, 0.0
    for i in range(half):
        v = 1 if i & value else 0
        for g in range(2):
            part = above[i] * (table[i] * gate[0, g] + table[half + i] * gate[1, g])
            if g == v:
                whole += part
            elif v == 0:
                moved += part
    return moved / whole
