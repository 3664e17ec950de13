"""One case, compiled once: ready to be evaluated for any variant of its evidence.

Four steps, one module each: `triage.folding` keeps what the evidence touches,
`triage.ordering` chooses the order of elimination, `triage.planning` lays the
tables out, `triage.sweeping` computes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, cached_property
from typing import TypeVar

import numpy as np
from numba import config

from triage.arrays import Flags, Floats, Ints
from triage.courtesy import let_go_first
from triage.errors import InferenceTooLargeError, ParameterError
from triage.folding import Links, fold, keep_ancestors
from triage.model import Network, NetworkArrays
from triage.planning import Plan, make_plan
from triage.sweeping import INHIBITED, MARGINALS, UP, sweep

__all__ = [
    "WIDTH_BUDGET",
    "WORK_BUDGET",
    "Compiled",
    "Evidence",
    "compile_case",
    "is_possible",
    "links_of",
    "read_evidence",
]

#: Evidence by node id: present, absent, or P(observed | on) / P(observed | off).
Evidence = Mapping[str, bool | float]

#: Largest table that is built, as the number of its axes: 2**24 numbers, 128 MB.
WIDTH_BUDGET = 23
#: Largest predicted work, in products: about half a minute.
WORK_BUDGET = 5e9
#: Products of a sweep from which several sweeps are shared out among the cores ...
_WORTH_A_THREAD = 3e5
_WIDE = 19  # ... unless each needs much room
_UNBOUNDED = 64  # a budget that is none: nothing is built, only planned


Job = TypeVar("Job")
Done = TypeVar("Done")


@cache
def _threads() -> ThreadPoolExecutor:
    """Return the threads that sweeps are shared out to; the kernel lets go of the lock."""
    return ThreadPoolExecutor(min(config.NUMBA_NUM_THREADS, 8), "sweep")


@dataclass(frozen=True)
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

    def log_evidence(self, unary: Floats, gate: Floats) -> Floats:
        """Return log evidence (lanes,), from the upward sweep alone."""
        logs = [one[0] for one in self._sweeps(unary, gate, UP)]
        return np.array(logs) + self.log_constant

    def _sweeps(
        self, unary: Floats, gate: Floats, extent: int
    ) -> list[tuple[float, Floats, Floats]]:
        """Return one sweep for each lane."""
        units = np.ascontiguousarray(np.moveaxis(unary, 2, 0))
        gates = np.ascontiguousarray(np.moveaxis(gate, 3, 0))

        def one(lane: int) -> tuple[float, Floats, Floats]:
            return sweep(self.plan, units[lane], gates[lane], extent)

        return self.side_by_side(one, range(len(units)))

    def side_by_side(self, do: Callable[[Job], Done], jobs: Sequence[Job]) -> list[Done]:
        """Return what is done for every job, shared out among the cores where that pays.

        `do` must spend its time in sweeps of about this case's size. In the background
        (`triage.courtesy`) it is done one after the other.
        """
        ask = let_go_first()
        if ask is not None:
            return [_after(ask, do, job) for job in jobs]
        worth = len(jobs) > 1 and self.plan.cost > _WORTH_A_THREAD and self.width <= _WIDE
        return list(_threads().map(do, jobs) if worth else map(do, jobs))

    @cached_property
    def as_it_stands(self) -> tuple[float, Floats, Floats]:
        """Log evidence, P(on) of every node, and how far each is a cause by itself.

        The last is, for each node with parents and an axis, P(on by its own parents
        while everything below sees it off) / P(evidence); `nan` for all others.
        """
        log, marginal, free = sweep(self.plan, self.unary, self.gate, INHIBITED)
        chance, inhibited = self._untouched(), np.full(self.seen.size, np.nan)
        inside = self.value_axis >= 0
        chance[inside] = marginal[self.value_axis[inside]]
        inside &= self.collector_axis >= 0
        inhibited[inside] = free[self.collector_axis[inside]]
        return log + self.log_constant, chance, inhibited

    def evaluate(self, unary: Floats, gate: Floats) -> tuple[Floats, Floats]:
        """Return log evidence (lanes,) and P(on) of every node (nodes, lanes).

        A node that was not kept, because nothing asked for depends on it, has
        its own base where it has no parents and `nan` where it has some.
        """
        parts = self._sweeps(unary, gate, MARGINALS)
        logs = np.array([part[0] for part in parts])
        marginal = np.stack([part[1] for part in parts], axis=1)
        lanes = unary.shape[2]
        out = np.repeat(self._untouched()[:, None], lanes, axis=1)
        inside = self.value_axis >= 0
        out[inside] = marginal[self.value_axis[inside]]
        return logs + self.log_constant, out

    def forget(
        self, weights: tuple[Floats, Floats], lane: int, node: int, value: bool | float
    ) -> bool:
        """Take one piece of evidence on a node back, in one lane.

        Returns
        -------
        bool
            False when that cannot be done in these tables: the node was
            observed and something kept depends on it.
        """
        unary, gate = weights
        if self.seen[node] < 0:
            axis, collector = self.value_axis[node], self.collector_axis[node]
            if collector >= 0:
                gate[collector, :, 1, lane] /= value
            elif axis >= 0:
                unary[axis, 1, lane] /= value
            return True
        if not isinstance(value, bool):
            return True  # a ratio on a node seen for certain says nothing
        if self.feeds[node]:
            return False
        if self.collector_axis[node] >= 0:
            gate[self.collector_axis[node], :, :, lane] = 1.0
            return True
        return self._unfold(unary[:, :, lane], node)

    def _unfold(self, unary: Floats, node: int) -> bool:
        """Take the weights of an observed node without a collector off its parents."""
        arrays = self.network.arrays
        links = slice(arrays.pointer[node], arrays.pointer[node + 1])
        strengths, axes = arrays.strengths[links], self.value_axis[arrays.parents[links]]
        live = (axes >= 0) & (strengths > 0.0)
        on = _seen_on(arrays, self.seen, node)
        if self.seen[node] == 0:
            weights = np.stack([np.ones(int(live.sum())), 1.0 - strengths[live]])
        else:
            weights = np.stack([np.full(int(live.sum()), on), on + (1.0 - on) * strengths[live]])
        if np.any(weights <= 0.0):
            return False
        np.divide.at(unary[:, 0], axes[live], weights[0])
        np.divide.at(unary[:, 1], axes[live], weights[1])
        return True

    @cached_property
    def feeds(self) -> Flags:
        """Which nodes something kept depends on."""
        arrays = self.network.arrays
        kept = (self.value_axis >= 0) | (self.seen >= 0)
        child = np.repeat(np.arange(kept.size), np.diff(arrays.pointer))
        out = np.zeros(kept.size, np.bool_)
        out[arrays.parents[kept[child] & (arrays.strengths > 0.0)]] = True
        return out

    def perturbed(self, base: Floats, strengths: Floats) -> Floats:
        """Return P(on) of every node with other numbers on the same links.

        Parameters
        ----------
        base : (nodes,) priors and leaks
        strengths : (links,) strengths, zero where they were zero
        """
        arrays = self.network.arrays
        keep = (self.value_axis >= 0) | (self.seen >= 0)
        links = Links(base, arrays.pointer, arrays.parents, strengths)
        folded = fold(links, keep, self.seen, self.ratio)
        plan = self.plan._replace(link_strength=folded.link_strength[self.plan.link_order])
        _, marginal, _ = sweep(plan, folded.unary, folded.gate, MARGINALS)
        out = np.where(np.diff(arrays.pointer) == 0, base, np.nan)
        inside = self.value_axis >= 0
        out[inside] = marginal[self.value_axis[inside]]
        return out

    def _untouched(self) -> Floats:
        """P(on) of the nodes that have no axis."""
        arrays = self.network.arrays
        alone = np.where(np.diff(arrays.pointer) == 0, arrays.base, np.nan)
        return np.where(self.seen >= 0, self.seen.astype(np.float64), alone)


def _after(ask: Callable[[], None], do: Callable[[Job], Done], job: Job) -> Done:
    """Ask, then do a job."""
    ask()
    return do(job)


def _seen_on(arrays: NetworkArrays, seen: Ints, node: int) -> float:
    """Return P(node is on) from its leak and its parents seen present."""
    on = float(arrays.base[node])
    for k in range(arrays.pointer[node], arrays.pointer[node + 1]):
        if seen[arrays.parents[k]] == 1:
            on += (1.0 - on) * float(arrays.strengths[k])
    return on


def links_of(network: Network) -> Links:
    """Return the network as the kernel takes it."""
    arrays = network.arrays
    return Links(arrays.base, arrays.pointer, arrays.parents, arrays.strengths)


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
    all_causes: bool = False,
    keep: Sequence[int] = (),
    budget: int = WIDTH_BUDGET,
) -> Compiled:
    """Fold and plan one case; no table is built yet.

    Parameters
    ----------
    network : Network
    evidence : node id -> True, False or likelihood ratio
    all_causes : keep every cause in the tables, also those that have parents
        and that nothing seen depends on
    keep : rows of further nodes to keep in the tables
    budget : largest width allowed

    Raises
    ------
    InferenceTooLargeError
        If a table would have more than ``budget + 1`` axes.
    """
    arrays = network.arrays
    seen, ratio = read_evidence(network, evidence)
    links = links_of(network)
    wanted = (seen >= 0) | (ratio != 1.0)
    if all_causes:
        wanted |= (arrays.is_cause == 1) & (np.diff(arrays.pointer) > 0)
    wanted[list(keep)] = True
    folded = fold(links, keep_ancestors(links, wanted), seen, ratio)
    compiled = Compiled(
        network,
        seen,
        ratio,
        folded.value_axis,
        folded.collector_axis,
        folded.unary,
        folded.gate,
        make_plan(folded),
        float(folded.constant[0]),
    )
    if compiled.width > budget or (budget < _UNBOUNDED and compiled.plan.cost > WORK_BUDGET):
        raise InferenceTooLargeError(compiled.width, budget)
    return compiled


def is_possible(network: Network, evidence: Evidence) -> bool:
    """Return whether the evidence has a probability above zero."""
    compiled = compile_case(network, evidence)
    return bool(np.isfinite(compiled.log_evidence(*compiled.lanes(1))[0]))
