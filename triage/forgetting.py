"""Taking one piece of evidence back in the tables that were made with it.

Evidence is a weight or a gate. Where it can be divided out again, or a gate be
opened, the case without it is a lane of the case with it.
"""

from __future__ import annotations

import numpy as np

from triage.arrays import Flags, Floats, Ints
from triage.compiling import Compiled
from triage.model import NetworkArrays

__all__ = ["forget"]


def forget(
    compiled: Compiled,
    weights: tuple[Floats, Floats],
    lane: int,
    node: int,
    value: bool | float,
) -> bool:
    """Take one piece of evidence on a node back, in one lane.

    Returns
    -------
    bool
        False when that cannot be done in these tables: the node was
        observed and something kept depends on it.
    """
    unary, gate = weights
    if compiled.seen[node] < 0:
        axis, collector = compiled.value_axis[node], compiled.collector_axis[node]
        if collector >= 0:
            gate[collector, :, 1, lane] /= value
        elif axis >= 0:
            unary[axis, 1, lane] /= value
        return True
    if not isinstance(value, bool):
        return True  # a ratio on a node seen for certain says nothing
    if _feeds(compiled)[node]:
        return False
    if compiled.collector_axis[node] >= 0:
        gate[compiled.collector_axis[node], :, :, lane] = 1.0
        return True
    return _unfold(compiled, unary[:, :, lane], node)


def _unfold(compiled: Compiled, unary: Floats, node: int) -> bool:
    """Take the weights of an observed node without a collector off its parents."""
    arrays = compiled.network.arrays
    links = slice(arrays.pointer[node], arrays.pointer[node + 1])
    strengths, axes = arrays.strengths[links], compiled.value_axis[arrays.parents[links]]
    live = (axes >= 0) & (strengths > 0.0)
    on = _seen_on(arrays, compiled.seen, node)
    if compiled.seen[node] == 0:
        weights = np.stack([np.ones(int(live.sum())), 1.0 - strengths[live]])
    else:
        weights = np.stack([np.full(int(live.sum()), on), on + (1.0 - on) * strengths[live]])
    if np.any(weights <= 0.0):
        return False
    np.divide.at(unary[:, 0], axes[live], weights[0])
    np.divide.at(unary[:, 1], axes[live], weights[1])
    return True


def _feeds(compiled: Compiled) -> Flags:
    """Which nodes something kept depends on."""
    arrays = compiled.network.arrays
    kept = (compiled.value_axis >= 0) | (compiled.seen >= 0)
    child = np.repeat(np.arange(kept.size), np.diff(arrays.pointer))
    out = np.zeros(kept.size, np.bool_)
    out[arrays.parents[kept[child] & (arrays.strengths > 0.0)]] = True
    return out


def _seen_on(arrays: NetworkArrays, seen: Ints, node: int) -> float:
    """Return P(node is on) from its leak and its parents seen present."""
    on = float(arrays.base[node])
    for k in range(arrays.pointer[node], arrays.pointer[node + 1]):
        if seen[arrays.parents[k]] == 1:
            on += (1.0 - on) * float(arrays.strengths[k])
    return on
