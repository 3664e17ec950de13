"""The plan of a sweep: which tables meet where, known before any number is.

Eliminating the axes in order makes a tree. Each step has a table over its own
axis (the top bit) and its *scope*, the axes that are left around it; summing
the own axis out leaves the step's *message*, which goes to the step that
eliminates the first axis of that scope. Links and gates are taken in by the
step that eliminates the first of their two axes.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints
from triage.folding import GATE, Folded
from triage.lining_up import line_up
from triage.meeting import Meetings, Tree, meet
from triage.ordering import Order
from triage.tables import COLLECTING, GATED

__all__ = ["Plan", "make_plan"]


class Plan(NamedTuple):
    """Everything about a sweep but the numbers on its gates and unary weights."""

    sequence: Ints  # axis eliminated at each step
    start: Ints  # (steps + 1,) where each step's scope starts
    scope: Ints  # axes of all scopes, latest eliminated first
    role: Ints  # role of each scope entry in the step's message; -1 on value axes
    partner: Ints  # of each axis: the other axis of its gate, -1 for none
    sort: Ints  # of each axis: VALUE, GATE or PRESENT
    position: Ints  # step of each axis
    child_start: Ints
    child: Ints  # steps whose messages a step takes in, in the order of the joins
    link_start: Ints
    link_value: Ints  # links by step
    link_collector: Ints
    link_strength: Floats
    link_order: Ints  # which of the folded links each of them is
    message_start: Ints  # (steps + 1,) where each message starts, in entries
    meetings: Meetings  # how each step takes in its children and links
    cost: float  # predicted work, in products


@njit(cache=True)
def _grouped(owner: Ints, groups: int) -> tuple[Ints, Ints]:
    """Return members of each group, as starts and a list; owner -1 is left out."""
    start = np.zeros(groups + 1, np.int64)
    for k in range(owner.shape[0]):
        if owner[k] >= 0:
            start[owner[k] + 1] += 1
    for g in range(groups):
        start[g + 1] += start[g]
    fill = start[:-1].copy()
    member = np.empty(start[groups], np.int64)
    for k in range(owner.shape[0]):
        if owner[k] >= 0:
            member[fill[owner[k]]] = k
            fill[owner[k]] += 1
    return start, member


@njit(cache=True)
def _roles(tree: tuple[Ints, Ints], children: tuple[Ints, Ints], gated: Ints, sort: Ints) -> Ints:
    """Return the role of every scope entry; `gated` is the collector gated at each step."""
    start, scope = tree
    child_start, child = children
    role = np.full(scope.shape[0], -1, np.int64)
    for step in range(start.shape[0] - 1):
        for i in range(start[step], start[step + 1]):
            axis = scope[i]
            if sort[axis] == 0:
                continue
            role[i] = GATED if gated[step] == axis else COLLECTING
            for c in range(child_start[step], child_start[step + 1]):
                for j in range(start[child[c]], start[child[c] + 1]):
                    if scope[j] == axis and role[j] == GATED:
                        role[i] = GATED
    return role


@njit(cache=True, nogil=True)
def make_plan(folded: Folded, order: Order) -> Plan:
    """Return the plan for the axes and links of a folded case, in the order given."""
    sort = folded.axis_sort
    sequence, start, scope, position, cost = order
    steps = sequence.shape[0]
    partner = np.full(steps, -1, np.int64)
    for axis in range(steps):
        if sort[axis] == GATE:
            other = folded.value_axis[folded.axis_node[axis]]
            partner[axis], partner[other] = other, axis
    parent = np.full(steps, -1, np.int64)
    gated = np.full(steps, -1, np.int64)
    for step in range(steps):
        if start[step + 1] > start[step]:
            parent[step] = position[scope[start[step + 1] - 1]]
        axis = sequence[step]
        if sort[axis] == 0 and partner[axis] >= 0 and position[partner[axis]] > step:
            gated[step] = partner[axis]
    child_start, child = _grouped(parent, steps)
    role = _roles((start, scope), (child_start, child), gated, sort)
    line_up((start, scope, sequence), (child_start, child), role, sort)
    owner = np.minimum(position[folded.link_value], position[folded.link_collector])
    link_start, by_step = _grouped(owner, steps)
    message_start = np.zeros(steps + 1, np.int64)
    for step in range(steps):
        message_start[step + 1] = message_start[step] + (1 << (start[step + 1] - start[step]))
    value, collector = folded.link_value[by_step], folded.link_collector[by_step]
    tree = Tree(
        sequence,
        start,
        scope,
        role,
        partner,
        sort,
        child_start,
        child,
        link_start,
        value,
        collector,
    )
    return Plan(
        sequence,
        start,
        scope,
        role,
        partner,
        sort,
        position,
        child_start,
        child,
        link_start,
        value,
        collector,
        folded.link_strength[by_step],
        by_step,
        message_start,
        meet(tree),
        cost,
    )
