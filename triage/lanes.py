"""Running a circuit: once as the case stands, and for many variants side by side.

Forwards every operation is done as written; backwards its transpose gives the
derivative of the evidence's probability by every number, and a weight times its
derivative is the share of the probability that passes through it [1]_. Variants
of the evidence are *lanes*: the same operations over other weights, several lanes
wide, so that finding out what to do is paid for once. A connected part that a
variant doesn't touch stays what it is and is not run again.

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
from triage.circuit import Circuit
from triage.folding import GATE, VALUE

__all__ = ["Stand", "changes", "run", "run_lanes"]

_LANES = 8  # side by side
_SMALLEST = 1e-150  # probability of a part below which digits could be lost
_LEAST = 1e-290  # ... and of a variant


class Stand(NamedTuple):
    """A circuit's numbers as the case stands."""

    log: float  # log evidence; nan where the numbers are too small to be trusted
    marginal: Floats  # (axes,) P(on) of each value axis, nan on others
    inhibited: Floats  # (axes,) of each gate whose node is asked about, see `triage.summing`
    chance: Floats  # (parts,) probability of each part


@njit(cache=True)
def _bare_circuit(c: Circuit) -> Circuit:
    """Return it with bare arrays."""
    return Circuit(
        bare(c.ops),
        bare(c.constants),
        bare(c.initial),
        bare(c.weight),
        bare(c.sort),
        bare(c.sequence),
        bare(c.step),
        bare(c.op),
        bare(c.node),
        bare(c.root),
        bare(c.part),
    )


@njit(cache=True, nogil=True)
def run(circuit: Circuit) -> Stand:
    """Return everything about the case as it stands."""
    c = _bare_circuit(circuit)
    axes, parts = c.sort.shape[0], c.root.shape[0]
    out = Stand(0.0, np.full(axes, np.nan), np.full(axes, np.nan), np.empty(parts))
    number, slope = c.initial.copy(), np.zeros(c.initial.shape[0])
    _forwards(c, bare(number))
    log = 0.0
    for part in range(parts):
        root = c.root[part]
        p = number[root] if root >= 0 else c.constants[-1 - root]
        out.chance[part] = p
        log = np.nan if p < _SMALLEST else log + np.log(p)
        if root >= 0:
            slope[root] = 1.0 / p if p >= _SMALLEST else np.nan
    if np.isnan(log):
        return Stand(np.nan, out.marginal, out.inhibited, out.chance)
    _backwards(c, bare(number), bare(slope))
    for axis in range(axes):
        w = c.weight[axis]
        if c.sort[axis] == VALUE:
            off, on = number[w] * slope[w], number[w + 1] * slope[w + 1]
            out.marginal[axis] = on / (off + on)
        elif c.sort[axis] == GATE:
            out.inhibited[axis] = number[w + 1] * slope[w] + number[w + 3] * slope[w + 2]
    return Stand(log, out.marginal, out.inhibited, out.chance)


@njit(cache=True)
def _forwards(c: Circuit, number: Floats) -> None:
    """Do all operations."""
    for k in range(c.ops.shape[0]):
        into, left, right = c.ops[k, 0], c.ops[k, 1], c.ops[k, 2]
        factor = number[right] if right >= 0 else c.constants[-1 - right]
        if into < 0:
            number[~into] = number[left] * factor
        else:
            number[into] += number[left] * factor


@njit(cache=True)
def _backwards(c: Circuit, number: Floats, slope: Floats) -> None:
    """Hand the derivatives back through all operations."""
    for k in range(c.ops.shape[0] - 1, -1, -1):
        into, left, right = c.ops[k, 0], c.ops[k, 1], c.ops[k, 2]
        above = slope[~into if into < 0 else into]
        if right >= 0:
            slope[left] += above * number[right]
            slope[right] += above * number[left]
        else:
            slope[left] += above * c.constants[-1 - right]


@njit(cache=True, nogil=True)
def run_lanes(
    circuit: Circuit, stand: Stand, changed: tuple[Ints, Ints, Floats], whole: bool
) -> tuple[Floats, Floats]:
    """Return what variants of the evidence would say.

    Parameters
    ----------
    circuit, stand : the case and how it stands
    changed : (lanes + 1,) where each lane's changes start, the places of the
        weights that are changed, and what they become
    whole : whether the parts that a lane doesn't touch are filled in too

    Returns
    -------
    log_ratio : (lanes,) log of P(variant) / P(evidence), -inf where it is impossible,
        nan where the numbers are too small to be trusted
    marginal : (lanes, axes) P(on) of each value axis, `nan` on others and in the
        parts of an impossible variant; anything in parts that are not filled in
    """
    c = _bare_circuit(circuit)
    start, place, _ = changed
    lanes, axes = start.shape[0] - 1, c.sort.shape[0]
    log_ratio, marginal = np.zeros(lanes), np.empty((lanes, axes))
    if whole:
        for lane in range(lanes):
            marginal[lane] = stand.marginal
    first, many = _by_part(c, start, place)
    widest = 0
    for part in range(c.root.shape[0]):
        if first[part + 1] > first[part]:
            widest = max(widest, c.node[part + 1] - c.node[part])
    number, slope = np.empty((widest, _LANES)), np.empty((widest, _LANES))
    rooms = (bare(number), bare(slope))
    for part in range(c.root.shape[0]):
        for at in range(first[part], first[part + 1], _LANES):
            some = many[at : min(at + _LANES, first[part + 1])]
            _run_block(c, part, rooms, (some, changed), (log_ratio, marginal, stand.chance))
    if number.shape[0] + slope.shape[0] != 2 * widest:  # never; keeps both alive till here
        raise AssertionError
    return log_ratio, marginal


@njit(cache=True)
def _by_part(c: Circuit, start: Ints, place: Ints) -> tuple[Ints, Ints]:
    """Return the lanes that touch each part, as starts and a list."""
    parts, lanes = c.root.shape[0], start.shape[0] - 1
    first, last = np.zeros(parts + 1, np.int64), np.full(parts, -1)
    for lane in range(lanes):
        for k in range(start[lane], start[lane + 1]):
            part = np.searchsorted(c.node, place[k], side="right") - 1
            if last[part] != lane:
                first[part + 1] += 1
                last[part] = lane
    for part in range(parts):
        first[part + 1] += first[part]
    many, fill = np.empty(first[parts], np.int64), first[:-1].copy()
    last[:] = -1
    for lane in range(lanes):
        for k in range(start[lane], start[lane + 1]):
            part = np.searchsorted(c.node, place[k], side="right") - 1
            if last[part] != lane:
                many[fill[part]] = lane
                fill[part] += 1
                last[part] = lane
    return first, many


@njit(cache=True)
def _run_block(
    c: Circuit,
    part: int,
    rooms: tuple[Floats, Floats],
    asked: tuple[Ints, tuple[Ints, Ints, Floats]],
    outs: tuple[Floats, Floats, Floats],
) -> None:
    """Run one part for up to `_LANES` lanes."""
    number, slope = rooms
    lanes = asked[0]
    log_ratio, marginal, chance = outs
    base = c.node[part]
    _load(c, part, number, asked)
    _forwards_wide((c.ops, c.constants), (c.op[part], c.op[part + 1]), base, number)
    slope[: c.node[part + 1] - base] = 0.0
    root = c.root[part]
    for k in range(lanes.shape[0]):
        if root >= 0:
            p = number[root - base, k]
            slope[root - base, k] = 1.0 / chance[part]
            if p >= _LEAST:
                log_ratio[lanes[k]] += np.log(p / chance[part])
            else:
                log_ratio[lanes[k]] += np.nan if p > 0.0 else -np.inf
    _backwards_wide((c.ops, c.constants), (c.op[part], c.op[part + 1]), base, (number, slope))
    for step in range(c.step[part], c.step[part + 1]):
        axis = c.sequence[step]
        if c.sort[axis] != VALUE:
            continue
        w = c.weight[axis] - base
        for k in range(lanes.shape[0]):
            off, on = number[w, k] * slope[w, k], number[w + 1, k] * slope[w + 1, k]
            marginal[lanes[k], axis] = on / (off + on) if off + on > 0.0 else np.nan


@njit(cache=True)
def _load(
    c: Circuit, part: int, number: Floats, asked: tuple[Ints, tuple[Ints, Ints, Floats]]
) -> None:
    """Fill in the weights of one part, changed as the lanes have it."""
    lanes, (start, place, weight) = asked
    base, top = c.node[part], c.node[part + 1]
    number[0] = 1.0
    for step in range(c.step[part], c.step[part + 1]):
        axis = c.sequence[step]
        w = c.weight[axis]
        for i in range(w, w + (2 if c.sort[axis] == VALUE else 4)):
            number[i - base] = c.initial[i]
    for k in range(lanes.shape[0]):
        for j in range(start[lanes[k]], start[lanes[k] + 1]):
            if base <= place[j] < top:
                number[place[j] - base, k] = weight[j]


@njit(cache=True)
def _forwards_wide(
    code: tuple[Ints, Floats], span: tuple[int, int], base: int, number: Floats
) -> None:
    """Do one part's operations in all lanes."""
    ops, constants = code
    for k in range(span[0], span[1]):
        into, left, right = ops[k, 0], ops[k, 1] - base, ops[k, 2]
        to = (~into if into < 0 else into) - base
        if right < 0:
            factor = constants[-1 - right]
            if into < 0:
                for lane in range(_LANES):
                    number[to, lane] = number[left, lane] * factor
            else:
                for lane in range(_LANES):
                    number[to, lane] += number[left, lane] * factor
        elif into < 0:
            for lane in range(_LANES):
                number[to, lane] = number[left, lane] * number[right - base, lane]
        else:
            for lane in range(_LANES):
                number[to, lane] += number[left, lane] * number[right - base, lane]


@njit(cache=True)
def _backwards_wide(
    code: tuple[Ints, Floats], span: tuple[int, int], base: int, rooms: tuple[Floats, Floats]
) -> None:
    """Hand the derivatives back in all lanes."""
    ops, constants = code
    number, slope = rooms
    for k in range(span[1] - 1, span[0] - 1, -1):
        into, left, right = ops[k, 0], ops[k, 1] - base, ops[k, 2]
        to = (~into if into < 0 else into) - base
        if right < 0:
            factor = constants[-1 - right]
            for lane in range(_LANES):
                slope[left, lane] += slope[to, lane] * factor
        else:
            other = right - base
            for lane in range(_LANES):
                slope[left, lane] += slope[to, lane] * number[other, lane]
            for lane in range(_LANES):
                slope[other, lane] += slope[to, lane] * number[left, lane]


@njit(cache=True, nogil=True)
def changes(
    circuit: Circuit, unary: Floats, gate: Floats
) -> tuple[bool, tuple[Ints, Ints, Floats]]:
    """Return which weights lanes have that the case has not, as `run_lanes` takes them.

    Before them stands whether that is all: a node that is off although something switched
    it on is impossible by structure, and a circuit has no place for a weight on it.

    Parameters
    ----------
    unary : (axes, 2, lanes)
    gate : (axes, 2, 2, lanes)
    """
    lanes, axes = unary.shape[2], circuit.sort.shape[0]
    start, used, all_ = np.zeros(lanes + 1, np.int64), 0, True
    place, weight = np.empty(64, np.int64), np.empty(64)
    for lane in range(lanes):
        for axis in range(axes):
            value = circuit.sort[axis] == VALUE
            first = circuit.weight[axis]
            for i in range(2 if value else 4):
                new = unary[axis, i, lane] if value else gate[axis, i // 2, i % 2, lane]
                if new == circuit.initial[first + i]:
                    continue
                all_ = all_ and not (i == 2 and circuit.sort[axis] == GATE)
                if used == place.shape[0]:
                    place = np.concatenate((place, place))
                    weight = np.concatenate((weight, weight))
                place[used], weight[used] = first + i, new
                used += 1
        start[lane + 1] = used
    return all_, (start, place[:used], weight[:used])
