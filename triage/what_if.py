"""If one more node were known: every probability on either side of it.

Two kinds of node can be asked about. One that has an axis in the compiled case
is clamped, one lane for each: the rarer side is computed and the other follows
from it by total probability, a division by at least one half. One that has no
axis - nothing seen depends on it - is never added to the tables; its being *off*
is a product of weights on its parents::

    P(off, rest) = (1 - leak) * sum over rest of prod(1 - strength) * P(rest)

A parent without an axis is taken apart the same way: a root is independent of
all that was seen, and a node with parents of its own is a mixture, "its child's
link stays silent anyway" or "it is off", which again is a product of weights.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triage.arrays import Flags, Floats
from triage.compiling import Compiled

__all__ = ["View", "affordable", "both_sides", "chances", "views"]

_LANES = 8  # lanes in one sweep: what the kernel has a loop of its own for


@dataclass(frozen=True, slots=True)
class View:
    """One node, its chance, and P(on) of every node when it is off and when it is on."""

    probability_on: float
    off: Floats  # (nodes,)
    on: Floats


@dataclass(slots=True)
class _Term:
    """One part of a mixture: a coefficient, and weights (off, on) on nodes."""

    key: str
    coefficient: float
    weights: dict[int, tuple[float, float]]
    on: bool = False

    def weigh(self, row: int, off: float, on: float) -> None:
        """Multiply the weights of one node."""
        low, high = self.weights.get(row, (1.0, 1.0))
        self.weights[row] = (low * off, high * on)

    def copy(self, factor: float) -> _Term:
        """Return a copy with the coefficient multiplied."""
        return _Term(self.key, self.coefficient * factor, dict(self.weights))


def views(
    compiled: Compiled, chance: Floats, log_evidence: float, keys: Sequence[str]
) -> dict[str, View]:
    """Return a view for every node asked about.

    Parameters
    ----------
    compiled : the case
    chance : (nodes,) P(on) of every node now
    log_evidence : of the case
    keys : nodes asked about, none of them observed for certain
    """
    index = compiled.network.arrays.index
    inside = [key for key in keys if compiled.value_axis[index[key]] >= 0]
    outside = [key for key in keys if compiled.value_axis[index[key]] < 0]
    out: dict[str, View] = {}
    for start in range(0, len(inside), _LANES):
        out |= _clamped(compiled, chance, inside[start : start + _LANES])
    if outside:
        out |= _unasked(compiled, chance, log_evidence, outside)
    return out


def chances(
    compiled: Compiled, chance: Floats, log_evidence: float, keys: Sequence[str]
) -> dict[str, float]:
    """Return P(on) of nodes that have no axis, from upward sweeps alone.

    The chances are summed up, never taken from one, so that small ones keep
    their digits.
    """
    terms = [term for key in keys for term in _terms(compiled, key, on=True)]
    out = dict.fromkeys(keys, 0.0)
    for start in range(0, len(terms), _LANES):
        batch = terms[start : start + _LANES]
        unary, gate = compiled.lanes(len(batch))
        free = [_apply(compiled, chance, t, (unary, lane)) for lane, t in enumerate(batch)]
        logs = compiled.log_evidence(unary, gate)[: len(batch)]
        mass = np.exp(logs - log_evidence + np.array(free))
        for term, part in zip(batch, mass.tolist(), strict=True):
            out[term.key] += part
    return {key: min(p, 1.0) for key, p in out.items()}


def both_sides(
    compiled: Compiled, chance: Floats, log_evidence: float, keys: Sequence[str]
) -> dict[str, View]:
    """Return views whose two sides are each computed by themselves.

    Twice the work of `views`, and no digit lost on a side that is rare. A side
    that cannot happen is `nan`.
    """
    arrays = compiled.network.arrays
    terms: list[_Term] = []
    for key in keys:
        row = arrays.index[key]
        for side in (False, True):
            if compiled.value_axis[row] >= 0:
                terms.append(_Term(key, 1.0, {row: (0.0, 1.0) if side else (1.0, 0.0)}))
                many = 1
            else:
                made = _terms(compiled, key, on=side)
                many = len(made)
                terms += made
            for term in terms[len(terms) - many :]:
                term.on = side
    mass, after = _mixtures(compiled, chance, log_evidence, terms)
    owner = np.array([arrays.index[term.key] for term in terms], np.int64)
    is_on = np.array([term.on for term in terms], np.bool_)
    out: dict[str, View] = {}
    for key in keys:
        row = arrays.index[key]
        mine = owner == row
        off = _average(after, mass, mine & ~is_on)
        on = _average(after, mass, mine & is_on)
        p_on, p_off = float(mass[mine & is_on].sum()), float(mass[mine & ~is_on].sum())
        out[key] = View(p_on / (p_on + p_off), off, on)
    return out


def _average(after: Floats, mass: Floats, mine: Flags) -> Floats:
    """Return the mean of some terms, `nan` when they have no mass."""
    total = float(mass[mine].sum())
    if total <= 0.0:
        return np.full(after.shape[0], np.nan)
    live = mine & (mass > 0.0)
    mean: Floats = after[:, live] @ (mass[live] / total)
    return mean


def _clamped(compiled: Compiled, chance: Floats, keys: Sequence[str]) -> dict[str, View]:
    """Look at nodes that have an axis: clamp the rarer side."""
    index = compiled.network.arrays.index
    unary, gate = compiled.lanes(len(keys))
    for lane, key in enumerate(keys):
        rare = 1 if chance[index[key]] <= 0.5 else 0
        unary[compiled.value_axis[index[key]], 1 - rare, lane] = 0.0
    _, after = compiled.evaluate(unary, gate)
    out = {}
    for lane, key in enumerate(keys):
        p = float(chance[index[key]])
        out[key] = _two_sides(chance, p, after[:, lane], index[key], known_on=p <= 0.5)
    return out


def _two_sides(before: Floats, p: float, known: Floats, row: int, *, known_on: bool) -> View:
    """Complete a view from one side by total probability."""
    share = p if known_on else 1.0 - p
    rest = np.clip((before - share * known) / max(1.0 - share, 1e-300), 0.0, 1.0)
    off, on = (rest, known) if known_on else (known, rest)
    off[row], on[row] = 0.0, 1.0
    return View(p, off, on)


def _unasked(
    compiled: Compiled, chance: Floats, log_evidence: float, keys: Sequence[str]
) -> dict[str, View]:
    """Look at nodes without an axis: off from a mixture, on from what is left."""
    arrays = compiled.network.arrays
    terms = [term for key in keys for term in _terms(compiled, key, on=False)]
    mass, after = _mixtures(compiled, chance, log_evidence, terms)
    owner = np.array([arrays.index[term.key] for term in terms], np.int64)
    out: dict[str, View] = {}
    for key in keys:
        row = arrays.index[key]
        p_off = min(float(mass[owner == row].sum()), 1.0)
        off = _average(after, mass, owner == row)
        out[key] = _two_sides(chance, 1.0 - p_off, off, row, known_on=False)
    return out


def _mixtures(
    compiled: Compiled, chance: Floats, log_evidence: float, terms: Sequence[_Term]
) -> tuple[Floats, Floats]:
    """Return the probability of each term, and P(on) of every node in it."""
    mass = np.zeros(len(terms))
    after = np.empty((chance.shape[0], len(terms)))
    for start in range(0, len(terms), _LANES):
        batch = terms[start : start + _LANES]
        unary, gate = compiled.lanes(len(batch))
        free = np.zeros(len(batch))
        for lane, term in enumerate(batch):
            free[lane] = _apply(compiled, chance, term, (unary, lane))
        logs, states = compiled.evaluate(unary, gate)
        mass[start : start + len(batch)] = np.exp(logs[: len(batch)] - log_evidence + free)
        for lane, term in enumerate(batch):
            _alone(compiled, chance, term, states[:, lane])
        after[:, start : start + len(batch)] = states[:, : len(batch)]
    return mass, after


def affordable(compiled: Compiled, keys: Sequence[str], most: int) -> bool:
    """Return whether `views` of these nodes take no more than so many sweeps.

    A node far from all that was seen is taken apart into a mixture whose terms multiply with
    every node on the way: with thin evidence that has no end.
    """
    index = compiled.network.arrays.index
    left = most
    for key in keys:
        if left <= 0:
            return False
        if compiled.value_axis[index[key]] >= 0:
            left -= 1
        else:
            left -= len(_terms(compiled, key, on=False, most=left))
    return left >= 0


def _terms(compiled: Compiled, key: str, *, on: bool, most: int | None = None) -> list[_Term]:
    """Return P(node on, rest), or off, as a mixture of products of weights.

    The latest node in topological order that can still be taken apart goes
    first, so that everything that weighs on it has been gathered by then. With `most` it stops
    as soon as there are more.
    """
    arrays = compiled.network.arrays
    row = arrays.index[key]
    inner = np.diff(arrays.pointer) > 0
    terms: list[_Term] = [_Term(key, 1.0, {row: (0.0, 1.0) if on else (1.0, 0.0)})]
    done: list[_Term] = []
    while terms and (most is None or len(terms) + len(done) <= most):
        term = terms.pop()
        loose = [k for k in term.weights if inner[k] and compiled.value_axis[k] < 0]
        if not loose:
            done.append(term)
            continue
        latest = max(loose)
        low, high = term.weights.pop(latest)
        if min(low, high) > 0.0:
            terms.append(term.copy(min(low, high)))
        if low > high:
            _be_off(compiled, latest, term)
            terms.append(term.copy(low - high))
        elif high > low:
            terms += _be_on(compiled, latest, term.copy(high - low))
    return done + terms


def _be_off(compiled: Compiled, row: int, term: _Term) -> None:
    """Multiply a term by P(node off | its parents), in place."""
    arrays = compiled.network.arrays
    term.coefficient *= 1.0 - float(arrays.base[row])
    for k in range(arrays.pointer[row], arrays.pointer[row + 1]):
        _stay_silent(compiled, k, term)


def _stay_silent(compiled: Compiled, link: int, term: _Term) -> None:
    """Multiply a term by the chance that one link does not switch its node on."""
    arrays = compiled.network.arrays
    parent, silent = int(arrays.parents[link]), 1.0 - float(arrays.strengths[link])
    if compiled.seen[parent] == 1:
        term.coefficient *= silent
    elif compiled.seen[parent] < 0:
        term.weigh(parent, 1.0, silent)


def _be_on(compiled: Compiled, row: int, term: _Term) -> list[_Term]:
    """Return a term times P(node on | its parents): leak, or the first link that acts."""
    arrays = compiled.network.arrays
    base = float(arrays.base[row])
    out = [term.copy(base)]
    silent = term.copy(1.0 - base)
    for k in range(arrays.pointer[row], arrays.pointer[row + 1]):
        parent, strength = int(arrays.parents[k]), float(arrays.strengths[k])
        if compiled.seen[parent] != 0 and strength > 0.0:
            acts = silent.copy(strength)
            if compiled.seen[parent] < 0:
                acts.weigh(parent, 0.0, 1.0)
            out.append(acts)
        _stay_silent(compiled, k, silent)
    return [part for part in out if part.coefficient > 0.0]


def _apply(compiled: Compiled, chance: Floats, term: _Term, place: tuple[Floats, int]) -> float:
    """Put a term's weights on a lane; return the log of what lies outside the tables."""
    unary, lane = place
    free = term.coefficient
    for row, (low, high) in term.weights.items():
        axis = compiled.value_axis[row]
        if axis >= 0:
            unary[axis, 0, lane] *= low
            unary[axis, 1, lane] *= high
        else:
            free *= (1.0 - chance[row]) * low + chance[row] * high
    return float(np.log(free)) if free > 0.0 else float("-inf")


def _alone(compiled: Compiled, chance: Floats, term: _Term, after: Floats) -> None:
    """Write what a term says about roots that have no axis."""
    for row, (low, high) in term.weights.items():
        if compiled.value_axis[row] < 0:
            off, on = (1.0 - chance[row]) * low, chance[row] * high
            after[row] = on / max(off + on, 1e-300)
