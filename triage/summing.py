"""Summing a step's own axis out of its table, forwards and transposed.

A value axis is weighed and added up; a collector axis meets its gate. On the way
back the own axis' marginal falls out, and for a node with parents also how often
it would be on by its own parents while everything below it sees it off
(`triage.responsibility` needs that).
"""

from __future__ import annotations

from typing import NamedTuple

from numba import njit

from triage.arrays import Floats, Ints
from triage.folding import GATE, VALUE
from triage.planning import Plan
from triage.tables import GATED, absorb_gate, absorb_gate_back

__all__ = ["Work", "sum_out", "sum_out_back"]


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
def sum_out(plan: Plan, step: int, table: Floats, work: Work) -> None:
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
def sum_out_back(
    plan: Plan,
    step: int,
    tables: tuple[Floats, Floats, Floats],
    work: Work,
    outs: tuple[Floats, Floats],
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
    """Write the same where the collector goes before its value axis."""
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
