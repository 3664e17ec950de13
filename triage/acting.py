"""Which links acted in a drawn car, and so which causes have a part in the complaint.

Given every node's state (`triage.sampling`), the links into one node are
independent of those into any other. A node that is off had every link from a
parent that is on stay silent. A node that is on had at least one of leak and
links act: each is drawn in turn, given that one of those not yet drawn must act
if none has.

A cause then has a *part* in the complaint when a chain of links that acted leads
from it to one of the complaint's findings, not through another cause: a cause
that was brought about by this one stays when this one is repaired. This is
tighter than `triage.responsibility`, which asks for the first link only.
What a leak explains is put down to no cause.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numba import njit

from triage.arrays import Flags, Floats, Ints
from triage.compiling import Compiled
from triage.splitting import Stream, draw

__all__ = ["draw_links", "leading"]


def draw_links(compiled: Compiled, states: Flags, *, seed: int = 1) -> Flags:
    """Return which links acted in each car: (cars, links), True is acted.

    Parameters
    ----------
    compiled : the case
    states : (cars, nodes) from `triage.sampling.draw_states`
    seed : of the fixed random numbers
    """
    arrays = compiled.network.arrays
    kept = (compiled.value_axis >= 0) | (compiled.seen >= 0)
    out = np.zeros((states.shape[0], arrays.parents.size), np.bool_)
    state = np.array([seed], np.uint64) * np.uint64(0xD1342543DE82EF95)
    links = (arrays.pointer, arrays.parents, arrays.strengths)
    _draw(arrays.base, links, (states, kept), out, state)
    return out


@njit(cache=True)
def _draw(
    base: Floats,
    links: tuple[Ints, Ints, Floats],
    cars: tuple[Flags, Flags],
    out: Flags,
    state: Stream,
) -> None:
    """Draw the links into every kept node that is on, in every car."""
    pointer, parents, strengths = links
    states, kept = cars
    widest = 0
    for node in range(base.shape[0]):
        widest = max(widest, pointer[node + 1] - pointer[node])
    some = np.zeros(widest + 1)  # P(at least one of the links from here on acts)
    for node in range(base.shape[0]):
        first, last = pointer[node], pointer[node + 1]
        if not kept[node] or first == last:
            continue
        for car in range(states.shape[0]):
            if not states[car, node]:
                continue
            some[last - first] = 0.0
            for k in range(last - 1, first - 1, -1):
                acts = strengths[k] if states[car, parents[k]] else 0.0
                some[k - first] = acts + (1.0 - acts) * some[k - first + 1]
            whole = base[node] + (1.0 - base[node]) * some[0]
            done = draw(state) * whole < base[node]  # the leak acted
            for k in range(first, last):
                if not states[car, parents[k]]:
                    continue
                chance = strengths[k] if done else strengths[k] / some[k - first]
                if draw(state) < chance:
                    out[car, k], done = True, True


def leading(compiled: Compiled, acted: Flags, states: Flags, ends: Iterable[int]) -> Flags:
    """Return from which nodes a chain of links that acted leads to any end.

    Parameters
    ----------
    acted, states : (cars, links) and (cars, nodes)
    ends : node rows; one that is off in a car counts for nothing there

    Returns
    -------
    (cars, nodes) bool; a chain does not go through a cause, but starts at one
    """
    arrays = compiled.network.arrays
    out = np.zeros_like(states)
    rows = np.array(sorted(ends), np.int64)
    out[:, rows] = states[:, rows]
    _lead_back(arrays.pointer, arrays.parents, arrays.is_cause, acted, out)
    return out


@njit(cache=True)
def _lead_back(pointer: Ints, parents: Ints, is_cause: Ints, acted: Flags, out: Flags) -> None:
    """Hand "leads to an end" back along the links that acted."""
    for node in range(pointer.shape[0] - 2, -1, -1):
        for k in range(pointer[node], pointer[node + 1]):
            if is_cause[node] == 1:
                continue
            for car in range(out.shape[0]):
                if acted[car, k] and out[car, node]:
                    out[car, parents[k]] = True
