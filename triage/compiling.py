"""One case, compiled once: ready to be evaluated for any variant of its evidence.

`triage.local` keeps what the evidence touches, `triage.folding` makes it axes and
factors, `triage.ordering` chooses the order of elimination. Then there are two ways to the
same numbers. A narrow case is written out as a circuit (`triage.writing`) and run
(`triage.lanes`); for a wide one `triage.planning` lays tables out and
`triage.sweeping` computes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, cached_property
from typing import TypeVar

import numpy as np
from numba import config

from triage.arrays import Floats, Ints
from triage.circuit import Circuit
from triage.courtesy import let_go_first
from triage.errors import InferenceTooLargeError
from triage.folding import Folded, fold
from triage.lanes import Stand, changes, run, run_lanes
from triage.local import Local, gather
from triage.model import Network
from triage.ordering import Order, put_in_order
from triage.planning import Plan, make_plan
from triage.reading import Evidence, links_of, read_evidence
from triage.sweeping import INHIBITED, MARGINALS, UP, sweep
from triage.writing import write_circuit

__all__ = [
    "NARROW",
    "WIDTH_BUDGET",
    "WORK_BUDGET",
    "Compiled",
    "compile_case",
    "is_possible",
    "prepare_case",
]

#: Largest table that is built, as the number of its axes: 2**24 numbers, 128 MB.
WIDTH_BUDGET = 23
#: Largest predicted work, in products: about half a minute.
WORK_BUDGET = 5e9
#: Products of a sweep from which several sweeps are shared out among the cores ...
_WORTH_A_THREAD = 3e5
_WIDE = 19  # ... unless each needs much room
_UNBOUNDED = 64  # a budget that is none: nothing is built, only planned
#: Predicted work up to which a case is written out as a circuit, and operations for each product.
NARROW, _OPERATIONS = 2e5, 4.0


Job = TypeVar("Job")
Done = TypeVar("Done")
Array = TypeVar("Array", Ints, Floats)


@cache
def _threads() -> ThreadPoolExecutor:
    """Return the threads that sweeps are shared out to; the kernel lets go of the lock."""
    return ThreadPoolExecutor(min(config.NUMBA_NUM_THREADS, 8), "sweep")


@dataclass(frozen=True)
class Compiled:
    """One case, folded and put in order: ready to be evaluated for many variants.

    What the case touches is a network of its own, `local`; the axes of `folded` are numbered by
    it. Arrays over all nodes of the network are made when they are asked for.
    """

    network: Network
    local: Local
    folded: Folded
    order: Order  # a first order of elimination; `plan` has the one that took more trying

    @property
    def unary(self) -> Floats:
        """(axes, 2) weights of the value axes."""
        return self.folded.unary

    @property
    def gate(self) -> Floats:
        """(axes, 2, 2) gates of the collector axes."""
        return self.folded.gate

    @property
    def log_constant(self) -> float:
        """Natural log of what no axis is needed for."""
        return float(self.folded.constant[0])

    @cached_property
    def seen(self) -> Ints:
        """Per node of the network: 1 present, 0 absent, -1 not observed."""
        return self._spread(self.local.seen, np.full(self.network.arrays.base.size, -1))

    @cached_property
    def ratio(self) -> Floats:
        """Per node of the network: likelihood ratio of soft evidence, else 1."""
        return self._spread(self.local.ratio, np.ones(self.network.arrays.base.size))

    @cached_property
    def value_axis(self) -> Ints:
        """Per node of the network: its value axis, -1 for none."""
        axis = self.folded.value_axis
        return self._spread(axis, np.full(self.network.arrays.base.size, -1))

    @cached_property
    def collector_axis(self) -> Ints:
        """Per node of the network: its collector axis, -1 for none."""
        axis = self.folded.collector_axis
        return self._spread(axis, np.full(self.network.arrays.base.size, -1))

    def _spread(self, part: Array, whole: Array) -> Array:
        """Write what is known of the nodes touched into an array over all nodes."""
        whole[self.local.nodes] = part
        return whole

    @cached_property
    def circuit(self) -> Circuit | None:
        """The case as a circuit, None where it is too wide for that."""
        if self.order[4] > NARROW:
            return None
        return self._circuit_of(self.folded)

    def _circuit_of(self, folded: Folded) -> Circuit | None:
        """Return the circuit of these factors, in this case's order."""
        room = max(int(_OPERATIONS * self.order[4]) + 8 * folded.link_value.size + 64, 1)
        causes = self.network.arrays.is_cause[self.local.nodes] == 1
        fits, circuit = write_circuit(folded, self.order, causes, room)
        return circuit if fits else None

    @cached_property
    def _narrow(self) -> tuple[Circuit, Stand] | None:
        """The circuit and what it says as the case stands, None where it is not trusted."""
        if self.circuit is None:
            return None
        now = Stand(*run(self.circuit))
        return None if math.isnan(now.log) else (self.circuit, now)

    @cached_property
    def plan(self) -> Plan:
        """The plan of a sweep."""
        return make_plan(self.folded, put_in_order(self.folded, thorough=True))

    @property
    def width(self) -> int:
        """Largest number of axes that a message ranges over."""
        start = self.order[1] if self.order[4] <= NARROW else self.plan.start
        return int(np.max(np.diff(start), initial=0))

    @property
    def cost(self) -> float:
        """Predicted work of one evaluation, in products."""
        return float(self.order[4]) if self.order[4] <= NARROW else self.plan.cost

    def fits(self, budget: int, work: float = WORK_BUDGET) -> bool:
        """Return whether no table has more than ``budget + 1`` axes, and the work is bearable."""
        if self.width > budget:
            return False
        return budget >= _UNBOUNDED or self.cost <= work

    def lanes(self, count: int) -> tuple[Floats, Floats]:
        """Return `count` copies of the weights, lanes last, to be varied."""
        unary = np.repeat(self.unary[:, :, None], count, axis=2)
        return unary, np.repeat(self.gate[:, :, :, None], count, axis=3)

    def log_evidence(self, unary: Floats, gate: Floats) -> Floats:
        """Return log evidence (lanes,), from the upward sweep alone."""
        narrow = self._narrow_lanes(unary, gate)
        if narrow is not None:
            return narrow[0]
        logs = [one[0] for one in self._sweeps(unary, gate, UP)]
        return np.array(logs) + self.log_constant

    def _narrow_lanes(self, unary: Floats, gate: Floats) -> tuple[Floats, Floats] | None:
        """Return log evidence (lanes,) and marginals (axes, lanes) where a circuit has them."""
        if self._narrow is None:
            return None
        circuit, now = self._narrow
        fits, changed = changes(circuit, unary, gate)
        done = self.run_changed(changed) if fits else None
        if done is None:
            return None
        return done[0] + (now.log + self.log_constant), done[1].T

    def run_changed(
        self, changed: tuple[Ints, Ints, Floats], *, whole: bool = True
    ) -> tuple[Floats, Floats] | None:
        """Return what `triage.lanes.run_lanes` says of changed weights.

        None where the case is too wide for a circuit, or numbers get too small for it.
        """
        if self._narrow is None:
            return None
        logs, marginal = run_lanes(*self._narrow, changed, whole)
        return None if np.isnan(logs).any() else (logs, marginal)

    def _sweeps(
        self, unary: Floats, gate: Floats, extent: int
    ) -> list[tuple[float, Floats, Floats]]:
        """Return one sweep for each lane."""
        units = np.ascontiguousarray(np.moveaxis(unary, 2, 0))
        gates = np.ascontiguousarray(np.moveaxis(gate, 3, 0))
        plan = self.plan

        def one(lane: int) -> tuple[float, Floats, Floats]:
            return sweep(plan, units[lane], gates[lane], extent)

        return self.side_by_side(one, range(len(units)))

    def side_by_side(self, do: Callable[[Job], Done], jobs: Sequence[Job]) -> list[Done]:
        """Return what is done for every job, shared out among the cores where that pays.

        `do` must spend its time in sweeps of about this case's size. In the background
        (`triage.courtesy`) it is done one after the other.
        """
        ask = let_go_first()
        if ask is not None:
            return [_after(ask, do, job) for job in jobs]
        worth = len(jobs) > 1 and self.cost > _WORTH_A_THREAD and self.width <= _WIDE
        return list(_threads().map(do, jobs) if worth else map(do, jobs))

    @cached_property
    def now(self) -> tuple[float, Floats, Floats]:
        """Log evidence, P(on) of the nodes touched, and how far each is a cause by itself.

        The last is, for each cause with parents and an axis, P(on by its own parents
        while everything below sees it off) / P(evidence); `nan` for all others.
        """
        if self._narrow is not None:
            log, marginal, free, _ = self._narrow[1]
        else:
            log, marginal, free = sweep(self.plan, self.unary, self.gate, INHIBITED)
        local, folded = self.local, self.folded
        chance, inhibited = local.seen.astype(np.float64), np.full(local.nodes.size, np.nan)
        inside = folded.value_axis >= 0
        chance[inside] = marginal[folded.value_axis[inside]]
        inside &= folded.collector_axis >= 0
        inside &= self.network.arrays.is_cause[local.nodes] == 1
        inhibited[inside] = free[folded.collector_axis[inside]]
        return log + self.log_constant, chance, inhibited

    @cached_property
    def as_it_stands(self) -> tuple[float, Floats, Floats]:
        """The same over all nodes of the network.

        A node that nothing seen depends on has its own base where it has no parents, else `nan`.
        """
        log, chance, inhibited = self.now
        alone = self.network.arrays.alone
        return log, self._spread(chance, alone.copy()), self._spread(inhibited, alone * np.nan)

    def evaluate(self, unary: Floats, gate: Floats) -> tuple[Floats, Floats]:
        """Return log evidence (lanes,) and P(on) of every node (nodes, lanes).

        A node that was not kept, because nothing asked for depends on it, has
        its own base where it has no parents and `nan` where it has some.
        """
        narrow = self._narrow_lanes(unary, gate)
        if narrow is not None:
            logs, marginal = narrow
        else:
            parts = self._sweeps(unary, gate, MARGINALS)
            logs = np.array([part[0] for part in parts]) + self.log_constant
            marginal = np.stack([part[1] for part in parts], axis=1)
        return logs, self._everywhere(marginal)

    def _everywhere(self, marginal: Floats) -> Floats:
        """Return P(on) of every node (nodes, lanes) from that of the axes (axes, lanes)."""
        axis = self.folded.value_axis
        touched = np.repeat(self.local.seen.astype(np.float64)[:, None], marginal.shape[1], axis=1)
        touched[axis >= 0] = marginal[axis[axis >= 0]]
        whole = np.repeat(self.network.arrays.alone[:, None], marginal.shape[1], axis=1)
        return self._spread(touched, whole)

    def perturbed(self, base: Floats, strengths: Floats) -> Floats:
        """Return P(on) of every node with other numbers on the same links.

        Parameters
        ----------
        base : (nodes,) priors and leaks
        strengths : (links,) strengths, zero where they were zero
        """
        arrays, local = self.network.arrays, self.local
        links = local.links._replace(base=base[local.nodes], strengths=strengths[local.link_rows])
        folded = fold(links, local.seen, local.ratio)
        out = np.where(np.isnan(arrays.alone), np.nan, base)
        inside = folded.value_axis >= 0
        out[local.nodes[inside]] = self._marginal_of(folded)[folded.value_axis[inside]]
        return out

    def _marginal_of(self, folded: Folded) -> Floats:
        """Return the marginals of other factors on the same axes and links."""
        circuit = self._circuit_of(folded) if self._narrow is not None else None
        now = None if circuit is None else Stand(*run(circuit))
        if now is not None and not math.isnan(now.log):
            return now.marginal
        plan = self.plan._replace(link_strength=folded.link_strength[self.plan.link_order])
        marginal: Floats = sweep(plan, folded.unary, folded.gate, MARGINALS)[1]
        return marginal


def _after(ask: Callable[[], None], do: Callable[[Job], Done], job: Job) -> Done:
    """Ask, then do a job."""
    ask()
    return do(job)


def compile_case(
    network: Network,
    evidence: Evidence,
    *,
    all_causes: bool = False,
    keep: Sequence[int] = (),
    budget: int = WIDTH_BUDGET,
) -> Compiled:
    """Fold one case and put it in order; no table is built yet.

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
    compiled = prepare_case(network, evidence, all_causes=all_causes, keep=keep)
    if not compiled.fits(budget):
        raise InferenceTooLargeError(compiled.width, budget)
    return compiled


def prepare_case(
    network: Network, evidence: Evidence, *, all_causes: bool = False, keep: Sequence[int] = ()
) -> Compiled:
    """Fold one case and put it in a first order, as `compile_case` does, however wide it is."""
    arrays = network.arrays
    extra = np.array(keep, np.int64)
    if all_causes:
        extra = np.concatenate((extra, arrays.causes[np.isnan(arrays.alone[arrays.causes])]))
    local = Local(*gather(links_of(network), read_evidence(network, evidence), extra))
    folded = Folded(*fold(local.links, local.seen, local.ratio))
    return Compiled(network, local, folded, put_in_order(folded, thorough=False))


def is_possible(network: Network, evidence: Evidence) -> bool:
    """Return whether the evidence has a probability above zero."""
    return bool(np.isfinite(compile_case(network, evidence).now[0]))
