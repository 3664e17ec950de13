"""Past the budget: an interval that holds the exact answer, and says that it is one.

A finding seen present ties all its parents together; a few such findings with many
parents make the tables too wide. Each of them can be replaced by weights on its
parents, one by one, that are never below, or never above, what it says of them
together [1]_. With ``x = theta0 + sum of theta_j d_j``, ``theta = -log(1 - strength)``
and ``f(x) = log(1 - exp(-x))``, which is concave:

* above: ``f(x) <= f(z) + f'(z) (x - z)``, the tangent at any z > 0;
* below: ``f(x) >= sum_j q_j f(theta0 + theta_j d_j / q_j)`` for any distribution q,
  by Jensen's inequality.

Both are sums over the parents, so the finding needs no axis any more. As many are
replaced as it takes to come under the budget, those with the most parents first; what
is left is computed exactly, once with weights from above and once from below::

    low  = L(cause, e) / (L(cause, e) + U(no cause, e))
    high = U(cause, e) / (U(cause, e) + L(no cause, e))

z and q are fitted in a few rounds; every round's bounds hold, and the best of each is
kept.

References
----------
.. [1] Jaakkola, T. S. and Jordan, M. I. (1999). Variational probabilistic inference
       and the QMR-DT network. Journal of Artificial Intelligence Research 10, 291-322.
       (From memory.)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats, Ints
from triage.compiling import WIDTH_BUDGET, WORK_BUDGET, Compiled, compile_case
from triage.errors import ImpossibleEvidenceError, InferenceTooLargeError
from triage.model import Network
from triage.reading import Evidence
from triage.sweeping import MARGINALS, sweep

__all__ = ["Bounds", "bounds"]

_UNBOUNDED = 64
_ROUNDS = 4
_STEEPEST = 500.0  # largest log weight: what a double can hold on both sides
_ROUNDING = 1e-9  # relative room for rounding, given to either side
_LOST = 1e-12  # what is lost when a chance is taken from one


@dataclass(frozen=True, slots=True)
class Bounds:
    """An interval for every cause.

    Attributes
    ----------
    low, high : cause id -> end of the interval that holds its exact posterior
    log_evidence : the ends for the natural log of P(evidence)
    relaxed : findings that were replaced by weights; none where the answer is exact
    width : largest number of axes a message ranged over
    """

    low: Mapping[str, float]
    high: Mapping[str, float]
    log_evidence: tuple[float, float]
    relaxed: tuple[str, ...]
    width: int


@dataclass(frozen=True, slots=True)
class _Finding:
    """One finding seen present, with its parents that are open."""

    rows: Ints  # (parents,)
    theta: Floats  # (parents,)
    theta0: float


def bounds(
    network: Network, evidence: Evidence, *, budget: int = WIDTH_BUDGET, work: float = WORK_BUDGET
) -> Bounds:
    """Return an interval for the posterior of every cause.

    Parameters
    ----------
    network, evidence : as in `triage.exact.posterior`
    budget : largest number of axes a message may have
    work : largest predicted work of one sweep, in products

    Raises
    ------
    UnknownTermError, ParameterError
        If the evidence cannot be read.
    ImpossibleEvidenceError
        If what is left after the replacement is impossible already.
    InferenceTooLargeError
        If it is still too large when everything is replaced that can be.
    """
    relaxed: list[str] = []
    compiled, open_ = _compile(network, evidence, relaxed), _candidates(network, evidence)
    while compiled.width > budget or compiled.plan.cost > work:
        if not open_:
            raise InferenceTooLargeError(compiled.width, budget)
        relaxed.append(open_.pop())
        compiled = _compile(network, evidence, relaxed)
    findings = [_finding(network, compiled, key) for key in relaxed]
    ends = _ends(compiled, findings)
    if ends is None:
        raise ImpossibleEvidenceError(sorted(evidence))
    above, below, logs = ends
    rows = np.flatnonzero(network.arrays.is_cause == 1)
    with np.errstate(over="ignore", invalid="ignore"):
        low = 1.0 / (1.0 + np.exp(above[0][rows] - below[1][rows]))
        high = 1.0 / (1.0 + np.exp(below[0][rows] - above[1][rows]))
    low, high = np.nan_to_num(low, nan=0.0), np.nan_to_num(high, nan=1.0)
    low, high = low * (1.0 - _ROUNDING), np.minimum(high * (1.0 + _ROUNDING), 1.0)
    return Bounds(
        dict(zip(network.causes, low.tolist(), strict=True)),
        dict(zip(network.causes, high.tolist(), strict=True)),
        logs,
        tuple(relaxed),
        compiled.width,
    )


def _compile(network: Network, evidence: Evidence, relaxed: Sequence[str]) -> Compiled:
    """Return the case without some findings, their parents kept in the tables."""
    arrays = network.arrays
    rest = {key: value for key, value in evidence.items() if key not in relaxed}
    keep = [
        int(arrays.parents[k])
        for key in relaxed
        for k in range(arrays.pointer[arrays.index[key]], arrays.pointer[arrays.index[key] + 1])
    ]
    return compile_case(network, rest, all_causes=True, keep=keep, budget=_UNBOUNDED)


def _candidates(network: Network, evidence: Evidence) -> list[str]:
    """Return the findings that can be replaced, the one with the most open parents last.

    One that others depend on stays, and one that a parent switches on for certain.
    """
    arrays, feeding = network.arrays, set(network.arrays.parents.tolist())
    seen = {arrays.index[key] for key, value in evidence.items() if isinstance(value, bool)}
    out = []
    for key, value in evidence.items():
        row = arrays.index[key]
        links = slice(arrays.pointer[row], arrays.pointer[row + 1])
        open_ = [int(p) for p in arrays.parents[links] if int(p) not in seen]
        certain = bool(np.any(arrays.strengths[links] >= 1.0)) or arrays.base[row] >= 1.0
        if value is True and row not in feeding and len(open_) > 1 and not certain:
            out.append((len(open_), key))
    return [key for _, key in sorted(out)]


def _finding(network: Network, compiled: Compiled, key: str) -> _Finding:
    """Return what a replaced finding says about its open parents."""
    arrays = network.arrays
    row = arrays.index[key]
    links = slice(arrays.pointer[row], arrays.pointer[row + 1])
    parents, theta = arrays.parents[links], -np.log1p(-arrays.strengths[links])
    state = compiled.seen[parents]
    theta0 = -float(np.log1p(-arrays.base[row])) + float(theta[state == 1].sum())
    live = (state < 0) & (theta > 0.0)
    return _Finding(parents[live], theta[live], theta0)


def _ends(
    compiled: Compiled, findings: Sequence[_Finding]
) -> tuple[Floats, Floats, tuple[float, float]] | None:
    """Return (2, nodes) log bounds of P(node off, e) and P(node on, e) from above and below."""
    above = np.full((2, compiled.seen.size), np.inf)
    below = np.full((2, compiled.seen.size), -np.inf)
    top, bottom = np.inf, -np.inf
    chances = [_answer(compiled, [], [])] * 2
    if not np.isfinite(chances[0][0]):
        return None
    for _ in range(_ROUNDS if findings else 1):
        weights = [_tangent(finding, chances[0][1]) for finding in findings]
        log, chance = _answer(compiled, findings, weights)
        above, top = np.minimum(above, _split(log, chance, _LOST)), min(top, log)
        lower = [_jensen(finding, chances[1][1]) for finding in findings]
        log_low, chance_low = _answer(compiled, findings, lower)
        if np.isfinite(log_low):
            below = np.maximum(below, _split(log_low, chance_low, -_LOST))
            bottom = max(bottom, log_low)
            chances = [(log, chance), (log_low, chance_low)]
        else:
            chances = [(log, chance), (log, chance)]
    return above, below, (bottom, top)


def _split(log: float, chance: Floats, lost: float) -> Floats:
    """Return (2, nodes): logs of P(off, e) and P(on, e); `lost` is what 1 - chance may lack."""
    off = np.clip(1.0 - chance + lost, 0.0, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return log + np.log(np.stack([off, chance]))


def _answer(
    compiled: Compiled, findings: Sequence[_Finding], weights: Sequence[Floats]
) -> tuple[float, Floats]:
    """Return log evidence and P(on) of every node with log weights (parents + 1, 2) put on.

    The last row of a finding's weights is its constant.
    """
    logs = np.zeros_like(compiled.unary)
    constant = compiled.log_constant
    for finding, weight in zip(findings, weights, strict=True):
        np.add.at(logs, compiled.value_axis[finding.rows], weight[:-1])
        constant += float(weight[-1, 0])
    most = logs.max(axis=1)
    unary = compiled.unary * np.exp(logs - most[:, None])
    log, marginal, _ = sweep(compiled.plan, unary, compiled.gate, MARGINALS)
    chance: Floats = np.where(compiled.seen >= 0, compiled.seen, compiled.network.arrays.base)
    chance = chance.astype(np.float64)
    inside = compiled.value_axis >= 0
    chance[inside] = marginal[compiled.value_axis[inside]]
    return float(log + most.sum() + constant), chance


def _f(x: Floats | float) -> Floats:
    """Return log(1 - exp(-x)), minus infinity at 0."""
    with np.errstate(divide="ignore"):
        out: Floats = np.log(-np.expm1(-np.asarray(x, np.float64)))
    return out


def _tangent(finding: _Finding, chance: Floats) -> Floats:
    """Return log weights that are nowhere below the finding, close to it where it matters."""
    z = finding.theta0 + float(finding.theta @ np.nan_to_num(chance[finding.rows]))
    z = max(z, float(finding.theta.max(initial=0.0)) / _STEEPEST, 1e-12)
    slope = 1.0 / np.expm1(z)
    out = np.zeros((finding.rows.size + 1, 2))
    out[:-1, 1] = slope * finding.theta
    out[-1] = float(_f(z)) + slope * (finding.theta0 - z)
    return out


def _jensen(finding: _Finding, chance: Floats) -> Floats:
    """Return log weights that are nowhere above the finding, close to it where it matters."""
    p, theta, theta0 = np.nan_to_num(chance[finding.rows]), finding.theta, finding.theta0
    out = np.zeros((finding.rows.size + 1, 2))
    if theta0 <= 0.0:  # only a parent can have switched it on: count on the likeliest
        best = int(np.argmax(p * -np.expm1(-theta)))
        out[best] = (-np.inf, float(_f(theta[best])))
        return out
    q = p * theta + 1e-12
    q /= q.sum()
    for _ in range(60):  # concave: multiplicative steps uphill
        x = theta0 + theta / q
        uphill = p * (_f(x) - (theta / q) / np.expm1(np.minimum(x, 700.0))) + (1.0 - p) * _f(theta0)
        q = q * np.exp(np.clip(uphill - uphill.max(), -50.0, 0.0)) + 1e-15
        q /= q.sum()
    out[:-1, 0] = q * _f(theta0)
    out[:-1, 1] = q * _f(theta0 + theta / q)
    return out
