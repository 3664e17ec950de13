"""Exact posteriors on a noisy-OR network of any depth.

`posterior` answers "how likely is each cause, given what was seen". Evidence may
lie on any node: present (True), absent (False), or a likelihood ratio
``P(observed | on) / P(observed | off)``. What the evidence does not touch is left
out of the tables; a cause among it that has parents is worked out from them
afterwards (`triage.what_if`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from triage.arrays import Floats, Ints
from triage.compiling import WIDTH_BUDGET, WORK_BUDGET, Compiled, is_possible, prepare_case
from triage.conflict import smallest_conflict
from triage.errors import ImpossibleEvidenceError, InferenceTooLargeError
from triage.loose import chances_apart, loose_causes
from triage.model import Network
from triage.reading import Evidence
from triage.what_if import affordable, chances

__all__ = ["Posterior", "Standing", "as_if_independent", "posterior", "stand"]


#: Causes that nothing seen depends on are kept in the tables when that is cheap, or not much
#: dearer than without them, or than the sweeps upwards that each takes by itself afterwards.
_CHEAP, _DEARER = 1e7, 3.0
_UPWARDS = 0.35  # what a sweep upwards takes of a whole one
_ROOMY = 20  # they may not make tables wider than this


@dataclass(frozen=True, slots=True)
class Posterior:
    """What the evidence says about every cause.

    Attributes
    ----------
    causes : cause id -> probability in [0, 1]
    exact : whether the numbers are exact up to rounding
    width : largest number of axes a message ranged over
    log_evidence : natural log of P(evidence); a likelihood ratio weighs the
        states in which its node is on by the ratio, and all others by one
    """

    causes: Mapping[str, float]
    exact: bool
    width: int
    log_evidence: float


@dataclass(frozen=True)
class Standing:
    """A case as it stands: compiled, with the chance of every node that has one.

    Attributes
    ----------
    compiled : the case
    loose : chances of causes with parents that nothing seen depends on, by row
    log_evidence : natural log of P(evidence)
    """

    compiled: Compiled
    loose: Mapping[int, float]
    log_evidence: float

    @property
    def rows(self) -> Ints:
        """(causes,) node rows of the causes."""
        return self.compiled.network.arrays.causes

    @cached_property
    def chance(self) -> Floats:
        """(nodes,) P(on | evidence); `nan` for states and findings that nothing seen depends on."""
        chance = self.compiled.as_it_stands[1].copy()
        chance[list(self.loose)] = list(self.loose.values())
        return chance

    @cached_property
    def q(self) -> Floats:
        """(causes,) posterior of each cause."""
        arrays, local = self.compiled.network.arrays, self.compiled.local
        q: Floats = arrays.alone[arrays.causes]
        column = arrays.column[local.nodes]
        q[column[column >= 0]] = self.compiled.now[1][column >= 0]
        for row, p in self.loose.items():
            q[arrays.column[row]] = p
        return q


class _Causes(Mapping[str, float]):
    """Posterior of each cause, made into a mapping when somebody looks."""

    __slots__ = ("_state", "_values")

    def __init__(self, state: Standing) -> None:
        self._state = state
        self._values: dict[str, float] | None = None

    def _all(self) -> dict[str, float]:
        """Return all of them."""
        if self._values is None:
            keys = self._state.compiled.network.causes
            self._values = dict(zip(keys, self._state.q.tolist(), strict=True))
        return self._values

    def __getitem__(self, key: str) -> float:
        """Return one."""
        return self._all()[key]

    def __iter__(self) -> Iterator[str]:
        """Go through the ids, in topological order."""
        return iter(self._state.compiled.network.causes)

    def __len__(self) -> int:
        """Return how many causes there are."""
        return len(self._state.compiled.network.causes)

    def __repr__(self) -> str:
        """Return it as a dict shows itself."""
        return repr(self._all())


def posterior(network: Network, evidence: Evidence, *, budget: int = WIDTH_BUDGET) -> Posterior:
    """Return the exact posterior probability of every cause.

    Parameters
    ----------
    network : Network
    evidence : node id -> True, False or likelihood ratio in (0, inf)
        Nodes left out are unknown; unknown is no evidence.
    budget : largest number of axes a message may have

    Raises
    ------
    UnknownTermError, ParameterError
        If the evidence cannot be read.
    ImpossibleEvidenceError
        If the evidence has probability zero; carries the smallest conflict.
    InferenceTooLargeError
        If an exact answer would need larger tables than the budget allows.

    Examples
    --------
    >>> from triage.model import Node, Parent
    >>> network = Network([
    ...     Node("play", "cause", 0.1),
    ...     Node("hum", "finding", 0.0, (Parent("play", 0.5),)),
    ... ])
    >>> round(posterior(network, {"hum": False}).causes["play"], 4)
    0.0526
    """
    state = stand(network, evidence, budget=budget)
    return Posterior(_Causes(state), True, state.compiled.width, state.log_evidence)


def stand(  # noqa: PLR0913 - each is one plain thing that a caller states
    network: Network,
    evidence: Evidence,
    *,
    all_causes: bool = False,
    rough: bool = False,
    budget: int = WIDTH_BUDGET,
    work: float = WORK_BUDGET,
) -> Standing:
    """Compile and evaluate a case as it is.

    Parameters
    ----------
    network, evidence, all_causes, budget : as in `compile_case`
    rough : work out the causes that nothing seen depends on as if their parents
        were independent: cheap, and good enough where only their size counts
    work : products that one evaluation may take

    Raises
    ------
    As `posterior` does.
    """
    compiled = prepare_case(network, evidence, all_causes=all_causes)
    loose = loose_causes(compiled)
    tied = [] if rough else sorted(set(loose) - set(chances_apart(compiled, loose)))
    if tied:
        whole = prepare_case(network, evidence, keep=tied)
        if _cheaper(whole, compiled, tied) and whole.fits(min(budget, _ROOMY), work):
            compiled = whole
    if not compiled.fits(budget, work):
        raise InferenceTooLargeError(compiled.width, budget)
    log = compiled.now[0]
    if not math.isfinite(log):
        raise ImpossibleEvidenceError(smallest_conflict(network, evidence, is_possible))
    loose = loose_causes(compiled)
    if not loose:
        return Standing(compiled, {}, log)
    now = compiled.as_it_stands[1].copy()
    if rough:
        for row in loose:  # in topological order: parents that are causes come first
            now[row] = as_if_independent(network, now, row)
        return Standing(compiled, {row: float(now[row]) for row in loose}, log)
    out = chances_apart(compiled, loose, now)
    keys = list(network.nodes)
    # What was kept in the tables can tie the parents of others, which stood apart before.
    tied = sorted(set(loose) - set(out))
    exact = chances(compiled, now, log, [keys[row] for row in tied])
    out |= {network.arrays.index[key]: p for key, p in exact.items()}
    return Standing(compiled, out, log)


def _cheaper(whole: Compiled, compiled: Compiled, tied: Sequence[int]) -> bool:
    """Return whether to keep the causes in the tables, by first orders of both."""
    more, less = whole.order[4], max(compiled.order[4], 1.0)
    keys = list(compiled.network.nodes)
    return more <= max(_CHEAP, _DEARER * less) or not affordable(
        compiled, [keys[row] for row in tied], int(more / less / _UPWARDS)
    )


def as_if_independent(network: Network, chance: Floats, row: int) -> float:
    """Return the noisy-OR of the parents' chances; an unknown parent by the same rule."""
    arrays = network.arrays
    off = 1.0 - float(arrays.base[row])
    for k in range(arrays.pointer[row], arrays.pointer[row + 1]):
        parent = int(arrays.parents[k])
        p = float(chance[parent])
        if np.isnan(p):
            p = as_if_independent(network, chance, parent)
        off *= 1.0 - p * float(arrays.strengths[k])
    return 1.0 - off
