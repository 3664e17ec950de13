"""Either side of a node that a check asks about: the causes if it is off, and if it is on.

Two ways to the same numbers:

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
from triage.exact import Standing, as_if_independent
from triage.responsibility import responsibility
from triage.what_if import views

__all__ = ["Now", "Sides", "by_cause", "exactly"]

_LANES = 8  # what the kernel has a loop of its own for


@dataclass(frozen=True, slots=True)
class Now:
    """The case as it stands, with what responsibility needs."""

    state: Standing
    rho: Floats
    r: Floats


@dataclass(frozen=True, slots=True)
class Sides:
    """One node: its chance, and q and r of the causes when it is off and on."""

    chance: float
    q: Floats  # (2, causes)
    r: Floats


def exactly(now: Now, keys: Sequence[str]) -> dict[str, Sides]:
    """Return the sides of every node, each from a lane of its own."""
    state = now.state
    index = state.compiled.network.arrays.index
    open_ = [key for key in keys if state.compiled.seen[index[key]] < 0]
    looked = views(state.compiled, state.chance, state.log_evidence, open_)
    out = {}
    for key in keys:
        row = index[key]
        if key in looked:
            view = looked[key]
            q = np.stack([view.off[state.rows], view.on[state.rows]])
            q = np.where(np.isnan(q), state.q, q)  # causes that nothing seen depends on
            out[key] = _sides(now, row, view.probability_on, q)
        else:
            out[key] = _sides(now, row, float(state.chance[row]), np.stack([state.q] * 2))
    return out


def by_cause(now: Now, keys: Sequence[str], lanes: int) -> dict[str, Sides]:
    """Return the sides of every node from lanes of the causes with the largest part.

    Parameters
    ----------
    now : the case
    keys : nodes asked about
    lanes : how many causes get a lane
    """
    state = now.state
    index = state.compiled.network.arrays.index
    inside = state.compiled.value_axis[state.rows] >= 0
    order = np.argsort(-now.r, kind="stable")
    top = np.array([k for k in order if inside[k] and now.r[k] > 0.0][:lanes], np.int64)
    given = _given(now, top)
    out = {}
    for key in keys:
        row = index[key]
        p = _chance_of(now, state.chance, row)
        q = np.stack([state.q, state.q])
        if 0.0 < p < 1.0:
            part = state.q[top] * np.array([_chance_of(now, lane, row) for lane in given.T])
            q[1, top] = np.clip(part / p, 0.0, 1.0)
            q[0, top] = np.clip((state.q[top] - part) / (1.0 - p), 0.0, 1.0)
        out[key] = _sides(now, row, p, q)
    return out


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


def _chance_of(now: Now, chance: Floats, row: int) -> float:
    """Return P(on) of a node; without an axis, from its parents as if independent."""
    p = float(chance[row])
    return as_if_independent(now.state.compiled.network, chance, row) if np.isnan(p) else p


def _sides(now: Now, row: int, chance: float, q: Floats) -> Sides:
    """Return the sides with responsibility, and the node itself settled."""
    r = responsibility(q, now.rho)
    own = np.flatnonzero(now.state.rows == row)
    q[0, own], q[1, own] = 0.0, 1.0
    r[0, own] = 0.0
    r[1, own] = now.r[own] / max(chance, 1e-300)
    return Sides(chance, q, r)
