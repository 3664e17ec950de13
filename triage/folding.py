"""From a network and its evidence to the axes and factors that must be summed.

Three things make a large network small before any table is built:

* only ancestors of the evidence matter (and of what is asked for besides);
* a finding seen *absent* needs no axis: it multiplies each of its parents by
  the chance that the link stayed silent, ``(1, 1 - strength)``;
* a noisy-OR node needs *one* axis however many parents it has. On that axis
  lies "is anything switching it on yet?" (off, on). Parents are absorbed into
  it one at a time, and two partial answers are joined by logical OR.

So there are two sorts of axis. A *value* axis holds the value of an unobserved
node. A *collector* axis gathers what switches a node on; at its end waits a
2 x 2 *gate*: ``gate[collected, value]``, which holds leak and soft evidence, and
for a node seen present is the vector (leak, 1). All numbers are probabilities or
likelihood ratios: nothing is ever subtracted, so nothing can cancel.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Flags, Floats, Ints

__all__ = ["GATE", "PRESENT", "VALUE", "fold", "keep_ancestors", "neighbours"]

VALUE, GATE, PRESENT = 0, 1, 2  # sorts of axis


@njit(cache=True)
def keep_ancestors(pointer: Ints, parents: Ints, strengths: Floats, wanted: Flags) -> Flags:
    """Return the wanted nodes and all from which they can be reached.

    Nodes are in topological order. Links of strength zero lead nowhere.
    """
    keep = wanted.copy()
    for node in range(wanted.shape[0] - 1, -1, -1):
        if keep[node]:
            for k in range(pointer[node], pointer[node + 1]):
                if strengths[k] > 0.0:
                    keep[parents[k]] = True
    return keep


@njit(cache=True)
def _own_chance(
    node: int, base: Floats, pointer: Ints, parents: Ints, strengths: Floats, seen: Ints
) -> float:
    """Return P(node stays off) from its leak and its parents seen present."""
    off = 1.0 - base[node]
    for k in range(pointer[node], pointer[node + 1]):
        if seen[parents[k]] == 1:
            off *= 1.0 - strengths[k]
    return off


@njit(cache=True)
def _on_chance(
    node: int, base: Floats, pointer: Ints, parents: Ints, strengths: Floats, seen: Ints
) -> float:
    """Return P(node is on) likewise, without subtracting from one."""
    on = base[node]
    for k in range(pointer[node], pointer[node + 1]):
        if seen[parents[k]] == 1:
            on = on + (1.0 - on) * strengths[k]
    return on


@njit(cache=True)
def _open_parents(
    node: int, pointer: Ints, parents: Ints, strengths: Floats, seen: Ints
) -> tuple[int, int]:
    """Return how many parents are unobserved, and the link index of the last."""
    count, last = 0, -1
    for k in range(pointer[node], pointer[node + 1]):
        if seen[parents[k]] < 0 and strengths[k] > 0.0:
            count += 1
            last = k
    return count, last


@njit(cache=True)
def fold(
    base: Floats,
    pointer: Ints,
    parents: Ints,
    strengths: Floats,
    keep: Flags,
    seen: Ints,
    ratio: Floats,
) -> tuple[Ints, Ints, Ints, Ints, Floats, Floats, Ints, Ints, Floats, float]:
    """Return the axes and factors of one case.

    Parameters
    ----------
    base, pointer, parents, strengths : the network, nodes in topological order;
        links of node ``i`` are ``pointer[i]:pointer[i + 1]``
    keep : nodes to look at
    seen : 1 present, 0 absent, -1 not observed
    ratio : likelihood ratio of soft evidence, 1 where there is none

    Returns
    -------
    value_axis, collector_axis : axis of each node, -1 for none
    axis_node, axis_sort : node and sort (VALUE, GATE, PRESENT) of each axis
    unary : (axes, 2) weights of the value axes
    gate : (axes, 2, 2) gates of the collector axes, [collected, value]
    link_value, link_collector, link_strength : the links that remain
    log_constant : natural log of what no axis is needed for
    """
    total = base.shape[0]
    value_axis = np.full(total, -1, np.int64)
    collector_axis = np.full(total, -1, np.int64)
    axis_node = np.empty(2 * total, np.int64)
    axis_sort = np.empty(2 * total, np.int64)
    unary = np.ones((2 * total, 2))
    gate = np.ones((2 * total, 2, 2))
    link_value = np.empty(parents.shape[0], np.int64)
    link_collector = np.empty(parents.shape[0], np.int64)
    link_strength = np.empty(parents.shape[0])
    axes, links, log_constant = 0, 0, 0.0
    for node in range(total):
        if not keep[node]:
            continue
        off = _own_chance(node, base, pointer, parents, strengths, seen)
        on = _on_chance(node, base, pointer, parents, strengths, seen)
        count, last = _open_parents(node, pointer, parents, strengths, seen)
        if seen[node] == 0:
            log_constant += np.log(off)
            for k in range(pointer[node], pointer[node + 1]):
                if seen[parents[k]] < 0 and strengths[k] > 0.0:
                    unary[value_axis[parents[k]], 1] *= 1.0 - strengths[k]
            continue
        if seen[node] == 1:
            if count == 0:
                log_constant += np.log(on * ratio[node])
                continue
            log_constant += np.log(ratio[node])
            if count == 1:
                axis = value_axis[parents[last]]
                unary[axis, 0] *= on
                unary[axis, 1] *= on + off * strengths[last]
                continue
        else:
            value_axis[node] = axes
            axis_node[axes], axis_sort[axes] = node, VALUE
            if count == 0:
                unary[axes, 0] = off
                unary[axes, 1] = on * ratio[node]
            axes += 1
            if count == 0:
                continue
        collector_axis[node] = axes
        axis_node[axes] = node
        if seen[node] == 1:
            axis_sort[axes] = PRESENT
            gate[axes, 0, 0], gate[axes, 1, 0] = on, 1.0
        else:
            axis_sort[axes] = GATE
            gate[axes, 0, 0], gate[axes, 0, 1] = off, on * ratio[node]
            gate[axes, 1, 0], gate[axes, 1, 1] = 0.0, ratio[node]
        for k in range(pointer[node], pointer[node + 1]):
            if seen[parents[k]] < 0 and strengths[k] > 0.0:
                link_value[links] = value_axis[parents[k]]
                link_collector[links] = axes
                link_strength[links] = strengths[k]
                links += 1
        axes += 1
    return (
        value_axis,
        collector_axis,
        axis_node[:axes],
        axis_sort[:axes],
        unary[:axes],
        gate[:axes],
        link_value[:links],
        link_collector[:links],
        link_strength[:links],
        log_constant,
    )


@njit(cache=True)
def neighbours(
    axis_node: Ints, axis_sort: Ints, value_axis: Ints, link_value: Ints, link_collector: Ints
) -> tuple[Ints, Ints]:
    """Return the interaction graph of the axes: neighbours of each, as starts and a list."""
    total = axis_node.shape[0]
    start = np.zeros(total + 1, np.int64)
    for k in range(link_value.shape[0]):
        start[link_value[k] + 1] += 1
        start[link_collector[k] + 1] += 1
    for b in range(total):
        if axis_sort[b] == GATE:
            start[b + 1] += 1
            start[value_axis[axis_node[b]] + 1] += 1
    for axis in range(total):
        start[axis + 1] += start[axis]
    fill = start[:-1].copy()
    around = np.empty(start[total], np.int64)
    for k in range(link_value.shape[0]):
        a, b = link_value[k], link_collector[k]
        around[fill[a]], around[fill[b]] = b, a
        fill[a] += 1
        fill[b] += 1
    for b in range(total):
        if axis_sort[b] == GATE:
            a = value_axis[axis_node[b]]
            around[fill[a]], around[fill[b]] = b, a
            fill[a] += 1
            fill[b] += 1
    return start, around
