"""Either side of a node that a check asks about: the causes if it is off, and if it is on.

Three ways to the same numbers:

* `at_once`: a narrow case is a circuit (`triage.circuit`), and a lane of it for each node
  asked about costs next to nothing. Only the rarer side is run, and only in the
  part of the case that the node is in.
* `exactly`: a lane for each node asked about (`triage.what_if`). Its cost grows
  with the number of checks.
* `by_cause`: a lane for each of the causes that matter, clamped on. One lane
  tells how likely *every* node is given that cause, and Bayes' rule turns it
  round: ``P(c | x) = P(x | c) P(c) / P(x)``. Exact for those causes on every node
  that has an axis; a node without one is taken as the noisy-OR of its parents'
  chances, as if they were independent. Causes without a lane keep their chance,
  except for what a check says about the cause itself. Its cost does not depend
  on the number of checks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats, Ints
from triage.exact import Standing
from triage.falling import Sides
from triage.what_if import views

__all__ = ["Now", "at_once", "by_cause", "exactly"]

_LANES = 8  # what the kernel has a loop of its own for


@dataclass(frozen=True, slots=True)
class Now:
    """The case as it stands, with what responsibility needs."""

    state: Standing
    rho: Floats
    r: Floats


def _rows(now: Now, keys: Sequence[str]) -> Ints:
    """Return the nodes' rows."""
    index = now.state.compiled.network.arrays.index
    return np.array([index[key] for key in keys], np.int64)


def _about(now: Now, told: Ints) -> tuple[Ints, Floats, Floats, Floats]:
    """Return the first fields of `Sides`: the causes told of, and what is known of them now."""
    return told, now.state.q[told], now.r[told], now.rho[told]


def _own(now: Now, rows: Ints, told: Ints) -> Ints:
    """Return where each node is itself among the causes told of, -1 for nowhere."""
    arrays = now.state.compiled.network.arrays
    place = np.full(arrays.causes.size + 1, -1)
    place[told] = np.arange(told.size)
    out: Ints = place[arrays.column[rows]]  # a node that is no cause has column -1: the last
    return out


def at_once(now: Now, keys: Sequence[str]) -> Sides | None:
    """Return the sides of every node from one run of the case's circuit.

    None where the case is too wide for a circuit, or where a node asked about has
    parents and is not in the tables.
    """
    compiled = now.state.compiled
    if compiled.circuit is None:
        return None
    arrays, local, folded = compiled.network.arrays, compiled.local, compiled.folded
    rows = _rows(now, keys)
    at = np.minimum(np.searchsorted(local.nodes, rows), max(local.nodes.size - 1, 0))
    here = local.nodes[at] == rows if local.nodes.size else np.zeros(rows.size, np.bool_)
    if np.any(~here & np.isnan(arrays.alone[rows])):
        return None
    axis = np.full(rows.size, -1)
    axis[here] = folded.value_axis[at[here]]
    inside = axis >= 0
    chance = arrays.alone[rows].copy()
    chance[here] = compiled.now[1][at[here]]
    weight = compiled.circuit.weight[axis[inside]] + (chance[inside] > 0.5)
    start = np.concatenate(([0], np.cumsum(inside)))
    done = compiled.run_changed((start, weight, np.zeros(weight.size)), whole=False)
    if done is None:
        return None
    causes = np.flatnonzero((arrays.column[local.nodes] >= 0) & (folded.value_axis >= 0))
    part = compiled.circuit.part[folded.value_axis[causes]]
    causes = causes[np.argsort(part, kind="stable")]
    part = compiled.circuit.part[folded.value_axis[causes]]
    loose = arrays.column[rows[~here]]
    told = np.concatenate((arrays.column[local.nodes[causes]], np.unique(loose[loose >= 0])))
    low, high = np.zeros(rows.size, np.int64), np.zeros(rows.size, np.int64)
    mine = compiled.circuit.part[axis[inside]]
    low[inside] = np.searchsorted(part, mine)
    high[inside] = np.searchsorted(part, mine, side="right")
    place = np.full(told.size, -1)
    place[: causes.size] = folded.value_axis[causes]
    return Sides(
        *_about(now, told), chance, _own(now, rows, told), low, high, done[1][:, None, :], place
    )


def exactly(now: Now, keys: Sequence[str]) -> Sides:
    """Return the sides of every node, each from a lane of its own."""
    state, rows = now.state, _rows(now, keys)
    seen = state.compiled.seen[rows]
    open_ = [key for key, told in zip(keys, seen, strict=True) if told < 0]
    looked = views(state.compiled, state.chance, state.log_evidence, open_)
    told = np.arange(state.rows.size)
    known = np.repeat(np.repeat(state.q[None, None, :], 2, axis=1), rows.size, axis=0)
    chance = state.chance[rows].copy()
    for k, key in enumerate(keys):
        if key in looked:
            view = looked[key]
            chance[k] = view.probability_on
            both = np.stack([view.off[state.rows], view.on[state.rows]])
            known[k] = np.where(np.isnan(both), state.q, both)  # causes that nothing depends on
    return _tell(now, rows, chance, (told, known))


def _tell(now: Now, rows: Ints, chance: Floats, what: tuple[Ints, Floats]) -> Sides:
    """Return sides where every node tells of the same causes."""
    told, known = what
    low, high = np.zeros(rows.size, np.int64), np.full(rows.size, told.size)
    high[now.state.compiled.seen[rows] >= 0] = 0
    own, place = _own(now, rows, told), np.arange(told.size)
    return Sides(*_about(now, told), chance, own, low, high, known, place)


def by_cause(now: Now, keys: Sequence[str], lanes: int) -> Sides:
    """Return the sides of every node from lanes of the causes with the largest part.

    Parameters
    ----------
    now : the case
    keys : nodes asked about
    lanes : how many causes get a lane
    """
    state, rows = now.state, _rows(now, keys)
    inside = state.compiled.value_axis[state.rows] >= 0
    order = np.argsort(-now.r, kind="stable")
    top = order[inside[order] & (now.r[order] > 0.0)][:lanes]
    given = np.concatenate((_given(now, top), state.chance[:, None]), axis=1)
    there = np.stack([_chances_of(now, given, int(row)) for row in rows]).reshape(rows.size, -1)
    chance = there[:, -1].copy()
    column = state.compiled.network.arrays.column[rows]
    told = np.concatenate((top, np.setdiff1d(column[column >= 0], top)))
    known = np.repeat(np.repeat(state.q[told][None, None, :], 2, axis=1), rows.size, axis=0)
    part = state.q[top] * there[:, :-1]
    p = np.where((chance > 0.0) & (chance < 1.0), chance, np.nan)[:, None]
    for side, numbers in ((1, part / p), (0, (state.q[top] - part) / (1.0 - p))):
        live = ~np.isnan(numbers)
        known[:, side, : top.size][live] = np.clip(numbers, 0.0, 1.0)[live]
    return _tell(now, rows, chance, (told, known))


def _given(now: Now, top: Ints) -> Floats:
    """Return (nodes, causes): P(on) of every node when each cause is on."""
    compiled = now.state.compiled
    out = np.empty((now.state.chance.size, top.size))
    for start in range(0, top.size, _LANES):
        batch = top[start : start + _LANES]
        unary, gate = compiled.lanes(batch.size)
        for lane, k in enumerate(batch):
            unary[compiled.value_axis[now.state.rows[k]], 0, lane] = 0.0
        out[:, start : start + batch.size] = compiled.evaluate(unary, gate)[1][:, : batch.size]
    return out


def _chances_of(now: Now, given: Floats, row: int) -> Floats:
    """Return (lanes,) P(on) of a node; without an axis as if its parents were independent."""
    if np.isnan(given[row]).any():
        arrays = now.state.compiled.network.arrays
        off = np.full(given.shape[1], 1.0 - float(arrays.base[row]))
        for k in range(arrays.pointer[row], arrays.pointer[row + 1]):
            p = _chances_of(now, given, int(arrays.parents[k]))
            off *= 1.0 - p * float(arrays.strengths[k])
        missing = np.isnan(given[row])
        given[row][missing] = (1.0 - off)[missing]
    out: Floats = given[row]
    return out
