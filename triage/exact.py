"""Exact posteriors on a noisy-OR network of any depth.

`posterior` answers "how likely is each cause, given what was seen". Evidence may
lie on any node: present (True), absent (False), or a likelihood ratio
``P(observed | on) / P(observed | off)``.

The work is done in four steps, one module each: `triage.folding` keeps what the
evidence touches, `triage.ordering` chooses the order of elimination,
`triage.planning` lays the tables out, `triage.sweeping` computes. A case is
compiled once (`compile_case`) and then evaluated for any number of variants of
its evidence side by side (`Compiled.evaluate`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats, Ints
from triage.conflict import smallest_conflict
from triage.errors import ImpossibleEvidenceError, InferenceTooLargeError, ParameterError
from triage.folding import fold, keep_ancestors, neighbours
from triage.model import Network
from triage.planning import Plan, make_plan
from triage.sweeping import sweep

__all__ = [
    "WIDTH_BUDGET",
    "Compiled",
    "Evidence",
    "Posterior",
    "compile_case",
    "posterior",
    "read_evidence",
]

Evidence = Mapping[str, bool | float]

#: Largest table that is built, as the number of its axes: 2**24 numbers, 128 MB.
WIDTH_BUDGET = 23


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


@dataclass(frozen=True, slots=True)
class Compiled:
    """One case, folded and planned: ready to be evaluated for many variants."""

    network: Network
    seen: Ints  # per node: 1 present, 0 absent, -1 not observed
    ratio: Floats  # per node: likelihood ratio
    value_axis: Ints  # per node: its value axis, -1 for none
    collector_axis: Ints
    unary: Floats  # (axes, 2)
    gate: Floats  # (axes, 2, 2)
    plan: Plan
    log_constant: float

    @property
    def width(self) -> int:
        """Largest number of axes that a message ranges over."""
        return int(np.max(np.diff(self.plan.start), initial=0))

    def lanes(self, count: int) -> tuple[Floats, Floats]:
        """Return `count` copies of the weights, lanes last, to be varied."""
        unary = np.repeat(self.unary[:, :, None], count, axis=2)
        return unary, np.repeat(self.gate[:, :, :, None], count, axis=3)

    def evaluate(self, unary: Floats, gate: Floats) -> tuple[Floats, Floats]:
        """Return log evidence (lanes,) and P(on) of every node (nodes, lanes).

        A node that was not kept, because nothing asked for depends on it, has
        its own base where it has no parents and `nan` where it has some.
        """
        logs, marginal = sweep(self.plan, unary, gate, True)
        lanes = unary.shape[2]
        out = np.repeat(self._untouched()[:, None], lanes, axis=1)
        inside = self.value_axis >= 0
        out[inside] = marginal[self.value_axis[inside]]
        return logs + self.log_constant, out

    def _untouched(self) -> Floats:
        """P(on) of the nodes that have no axis."""
        arrays = self.network.arrays
        alone = np.where(np.diff(arrays.pointer) == 0, arrays.base, np.nan)
        return np.where(self.seen >= 0, self.seen.astype(np.float64), alone)


def read_evidence(network: Network, evidence: Evidence) -> tuple[Ints, Floats]:
    """Return evidence as arrays: observed states and likelihood ratios.

    Raises
    ------
    UnknownTermError
        If an id is not a node of the network.
    ParameterError
        If a likelihood ratio is not a finite number above zero.
    """
    index = network.arrays.index
    seen = np.full(len(index), -1, np.int64)
    ratio = np.ones(len(index))
    for key, value in evidence.items():
        network.require(key)
        if isinstance(value, (bool, np.bool_)):
            seen[index[key]] = int(value)
        elif math.isfinite(value) and value > 0.0:
            ratio[index[key]] = float(value)
        else:
            raise ParameterError(
                "likelihood ratio",
                value,
                allowed="(0, inf)",
                where=repr(key),
                remedy="use True or False for what is certain",
            )
    return seen, ratio


def compile_case(
    network: Network,
    evidence: Evidence,
    *,
    budget: int = WIDTH_BUDGET,
) -> Compiled:
    """Fold and plan one case; no table is built yet.

    Parameters
    ----------
    network : Network
    evidence : node id -> True, False or likelihood ratio
    budget : largest width allowed

    Raises
    ------
    InferenceTooLargeError
        If a table would have more than ``budget + 1`` axes.
    """
    arrays = network.arrays
    seen, ratio = read_evidence(network, evidence)
    links = (arrays.pointer, arrays.parents, arrays.strengths)
    wanted = (seen >= 0) | (ratio != 1.0)
    wanted |= (arrays.is_cause == 1) & (np.diff(arrays.pointer) > 0)
    keep = keep_ancestors(*links, wanted)
    folded = fold(arrays.base, *links, keep, seen, ratio)
    value_axis, collector_axis, axis_node, axis_sort, unary, gate, *rest = folded
    link_value, link_collector, link_strength, log_constant = rest
    graph = neighbours(axis_node, axis_sort, value_axis, link_value, link_collector)
    plan = make_plan(
        graph, axis_node, axis_sort, value_axis, (link_value, link_collector, link_strength)
    )
    compiled = Compiled(
        network, seen, ratio, value_axis, collector_axis, unary, gate, plan, log_constant
    )
    if compiled.width > budget:
        raise InferenceTooLargeError(compiled.width, budget)
    return compiled


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
    compiled = compile_case(network, evidence, budget=budget)
    logs, chance = compiled.evaluate(*compiled.lanes(1))
    if not np.isfinite(logs[0]):
        raise ImpossibleEvidenceError(smallest_conflict(network, evidence, is_possible))
    index = network.arrays.index
    causes = {key: float(chance[index[key], 0]) for key in network.causes}
    return Posterior(causes, True, compiled.width, float(logs[0]))


def is_possible(network: Network, evidence: Evidence) -> bool:
    """Return whether the evidence has a probability above zero."""
    compiled = compile_case(network, evidence)
    unary, gate = compiled.lanes(1)
    logs, _ = sweep(compiled.plan, unary, gate, False)
    return bool(np.isfinite(logs[0] + compiled.log_constant))


