"""Causes that nothing seen depends on: worked out from their parents, outside the tables.

Such a cause is the noisy-OR of its parents, whatever was seen. Where the parents are
independent of each other - each in a part of the case of its own, or touched by
nothing - its chance is a product, and costs nothing. Where two of them hang together
the tables, or sweeps of their own (`triage.what_if`), have to say how.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from triage.arrays import Floats
from triage.compiling import Compiled

__all__ = ["chances_apart", "loose_causes"]


def loose_causes(compiled: Compiled) -> list[int]:
    """Return the rows of the causes with parents that are not in the tables, ascending."""
    arrays = compiled.network.arrays
    inner = arrays.causes[np.isnan(arrays.alone[arrays.causes])]
    return [int(row) for row in inner[~np.isin(inner, compiled.local.nodes)]] if inner.size else []


def chances_apart(
    compiled: Compiled, rows: Sequence[int], chance: Floats | None = None
) -> dict[int, float]:
    """Return P(on) of those of some causes whose parents are independent of each other.

    Parameters
    ----------
    rows : causes that are not in the tables
    chance : (nodes,) P(on) of every node that has one; without it the numbers mean
        nothing, and only which causes they are counts
    """
    walk = _Walk(compiled, chance)
    return {row: walk.on[row] for row in rows if walk.of(row) is not None}


class _Walk:
    """What each node rests on, going up from the causes asked about."""

    def __init__(self, compiled: Compiled, chance: Floats | None) -> None:
        self.compiled = compiled
        self.on: dict[int, float] = {}
        self._chance = np.zeros(compiled.seen.size) if chance is None else chance
        self._rests: dict[int, frozenset[int] | None] = {}
        sequence, start = compiled.order[0], compiled.order[1]
        last = np.diff(start) == 0  # the last step of a part leaves nothing
        self._part = np.empty(sequence.size, np.int64)
        self._part[sequence] = np.cumsum(last) - last

    def of(self, row: int) -> frozenset[int] | None:
        """Return what a node rests on: parts of the case, or nodes that nothing touches.

        None where it has parents that hang together: then its chance is not a product.
        """
        if row not in self._rests:
            self._rests[row] = self._look(row)
        return self._rests[row]

    def _look(self, row: int) -> frozenset[int] | None:
        """Work one node out."""
        compiled, arrays = self.compiled, self.compiled.network.arrays
        if compiled.seen[row] >= 0:
            self.on[row] = float(compiled.seen[row])
            return frozenset()
        axis = int(compiled.value_axis[row])
        if axis >= 0 or not np.isnan(arrays.alone[row]):
            self.on[row] = float(self._chance[row])
            return frozenset([int(self._part[axis]) if axis >= 0 else -1 - row])
        on, off = float(arrays.base[row]), 1.0 - float(arrays.base[row])
        rests: frozenset[int] = frozenset()
        for k in range(arrays.pointer[row], arrays.pointer[row + 1]):
            if arrays.strengths[k] == 0.0:
                continue
            parent = int(arrays.parents[k])
            more = self.of(parent)
            if more is None or rests & more:
                return None
            rests |= more
            acts = self.on[parent] * float(arrays.strengths[k])
            on, off = on + off * acts, off * (1.0 - acts)  # built up: nothing is taken from one
        self.on[row] = on
        return rests
