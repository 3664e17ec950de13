"""The cheapest order of checks, exactly, when set-ups cost time.

Every check brings a value and takes minutes; going from one set-up to another
takes minutes too. The order wanted makes the area under the remaining loss
smallest, which is total weighted completion time with sequence-dependent
family set-ups::

    area = sum over checks of value * (minutes until it is done)

Checks that share a set-up and every predecessor and successor form a *chain*.
Within a chain the best order is by value for minutes: of two such checks with
others between them, the worse one can wait for the better, or the better come
forward to the worse, and one of the two moves never costs anything [1]_ (as long
as a detour through a third set-up is never shorter; `closed_travel` sees to it).
So it is enough to know how far each chain has been worked off, and where the car
stands [1]_ [2]_::

    cost(done, here) = min over chains of  minutes * value still open
                                           + cost(done with that check, its set-up)

One thing more has to be remembered: whether a wheel has been off since the car
last moved, because then the way onto the road leads past the torque wrench.

References
----------
.. [1] Monma, C. L. and Potts, C. N. (1989). On the complexity of scheduling with
       batch setup times. Operations Research 37(5), 798-804. (From memory.)
.. [2] Ghosh, J. B. (1994). Batch scheduling to minimize total completion time.
       Operations Research Letters 16(5), 271-275. (From memory.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from triage.arrays import Flags, Floats, Ints

__all__ = ["Chain", "Ground", "best_sequence", "closed_travel", "count_states"]

Choices = npt.NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class Chain:
    """Checks of one set-up that are worked off in one order.

    Attributes
    ----------
    setup : index of the set-up
    jobs : names (any numbers) of the checks, best value for minutes first
    weight, time : of each check; value >= 0, minutes >= 0
    needs : positions of the chains that must be done before this one starts
    clears : doing a check of it counts as tightening the wheels
    """

    setup: int
    jobs: tuple[int, ...]
    weight: tuple[float, ...]
    time: tuple[float, ...]
    needs: frozenset[int] = frozenset()
    clears: bool = False


@dataclass(frozen=True, slots=True)
class Ground:
    """Set-ups and the ways between them.

    Attributes
    ----------
    travel : (set-ups, set-ups) minutes
    start : index of the set-up in which the car stands
    off : index of the set-up in which a wheel is off, or -1
    road : index of the set-up in which the car is driven, or -1
    tightened : (set-ups,) minutes onto the road when a wheel was off: travel
        with the torque wrench on the way; only read when `off` >= 0
    loose : whether a wheel has been off since the car last moved
    """

    travel: Floats
    start: int
    off: int = -1
    road: int = -1
    tightened: Floats | None = None
    loose: bool = False


class _Table(NamedTuple):
    """Everything the kernel reads."""

    size: Ints  # (chains,)
    stride: Ints  # (chains,) of the state code
    setup: Ints  # (chains,)
    clears: Flags  # (chains,)
    needs: Flags  # (chains, chains)
    first: Ints  # (chains + 1,) into `time` and `left`
    time: Floats
    left: Floats  # value still open in a chain after k of its checks; size + 1 each
    travel: Floats  # (2, set-ups, set-ups), second for a car with a loose wheel
    off: int
    road: int


def closed_travel(travel: Floats, stops: Flags) -> Floats:
    """Return the minutes between set-ups by the shortest way.

    Parameters
    ----------
    travel : (set-ups, set-ups) minutes of the direct change-overs, >= 0
    stops : (set-ups,) whether the car may pass through without a check there

    Examples
    --------
    >>> direct = np.array([[0.0, 1.0, 9.0], [1.0, 0.0, 2.0], [9.0, 2.0, 0.0]])
    >>> float(closed_travel(direct, np.array([True, True, True]))[0, 2])
    3.0
    """
    out = travel.copy()
    for via in np.flatnonzero(stops):
        out = np.minimum(out, out[:, via, None] + out[None, via, :])
    return out


def count_states(chains: Sequence[Chain]) -> int:
    """Return in how many ways the chains can have been worked off."""
    total = 1
    for chain in chains:
        total *= len(chain.jobs) + 1
    return total


def best_sequence(chains: Sequence[Chain], ground: Ground) -> tuple[float, list[int]]:
    """Return the smallest area and the checks in the order that has it.

    Parameters
    ----------
    chains : which checks there are, and what must come before what
    ground : the set-ups

    Returns
    -------
    area, jobs
        The area is infinite and the list empty when the chains wait for one
        another in a circle.

    Notes
    -----
    O(states * set-ups * chains), states being `count_states`.
    """
    table = _table(chains, ground)
    states = count_states(chains)
    shape = (states, ground.travel.shape[0], 2)
    cost, choice = np.empty(shape), np.full(shape, -1, np.int8)
    _fill(table, cost, choice, (ground.start, ground.loose))
    here, loose, code = ground.start, int(ground.loose), 0
    area = float(cost[0, here, loose])
    done = [0] * len(chains)
    jobs: list[int] = []
    while np.isfinite(area) and code < states - 1:
        c = int(choice[code, here, loose])
        jobs.append(chains[c].jobs[done[c]])
        done[c] += 1
        code += int(table.stride[c])
        here = chains[c].setup
        loose = int(_loose_after(loose == 1, c, table))
    return area, jobs


def _table(chains: Sequence[Chain], ground: Ground) -> _Table:
    """Return the chains as arrays."""
    size = np.array([len(chain.jobs) for chain in chains], np.int64)
    needs = np.zeros((len(chains), len(chains)), np.bool_)
    for c, chain in enumerate(chains):
        needs[c, list(chain.needs)] = True
    time = [minutes for chain in chains for minutes in (*chain.time, 0.0)]
    left = [float(sum(chain.weight[k:])) for chain in chains for k in range(len(chain.jobs) + 1)]
    travel = np.stack([ground.travel, ground.travel])
    if ground.tightened is not None and ground.road >= 0:
        travel[1, :, ground.road] = ground.tightened
    return _Table(
        size,
        np.concatenate([[1], np.cumprod(size + 1)[:-1]]).astype(np.int64),
        np.array([chain.setup for chain in chains], np.int64),
        np.array([chain.clears for chain in chains], np.bool_),
        needs,
        np.concatenate([[0], np.cumsum(size + 1)]).astype(np.int64),
        np.array(time, np.float64),
        np.array(left, np.float64),
        travel.astype(np.float64),
        ground.off,
        ground.road,
    )


@njit(cache=True)
def _loose_after(loose: bool, chain: int, table: _Table) -> bool:
    """Return whether the car has a loose wheel after a check of the chain."""
    if table.setup[chain] == table.off:
        return True
    if table.setup[chain] == table.road or table.clears[chain]:
        return False
    return loose


@njit(cache=True)
def _fill(table: _Table, cost: Floats, choice: Choices, start: tuple[int, bool]) -> None:
    """Work out the cost to go on from every state, the last state first."""
    chains, setups = table.size.shape[0], cost.shape[1]
    done, open_ = np.empty(chains, np.int64), np.empty(chains, np.bool_)
    visited = np.empty(setups, np.bool_)
    for code in range(cost.shape[0] - 1, -1, -1):
        visited[:] = False
        visited[start[0]] = code == 0
        value, was_off = 0.0, start[1]
        for c in range(chains):
            done[c] = code // table.stride[c] % (table.size[c] + 1)
            value += table.left[table.first[c] + done[c]]
            if done[c] > 0:
                visited[table.setup[c]] = True
                was_off = was_off or table.setup[c] == table.off
        for c in range(chains):
            open_[c] = done[c] < table.size[c] and _may_start(table, done, c)
        for here in range(setups):
            if not visited[here]:
                continue
            for loose in range(2 if was_off else 1):
                place = (code, here, loose)
                if code == cost.shape[0] - 1:
                    cost[code, here, loose] = 0.0
                else:
                    best, chosen = _best_next(table, cost, (done, open_), (value, place))
                    cost[code, here, loose], choice[code, here, loose] = best, chosen


@njit(cache=True)
def _best_next(
    table: _Table,
    cost: Floats,
    progress: tuple[Ints, Flags],
    state: tuple[float, tuple[int, int, int]],
) -> tuple[float, int]:
    """Return the smallest cost to go on, and the chain to go on with."""
    value, (code, here, loose) = state
    done, open_ = progress
    best, chosen = np.inf, -1
    for c in range(done.shape[0]):
        if not open_[c]:
            continue
        minutes = table.travel[loose, here, table.setup[c]] + table.time[table.first[c] + done[c]]
        after = int(_loose_after(loose == 1, c, table))
        total = minutes * value + cost[code + table.stride[c], table.setup[c], after]
        if total < best:
            best, chosen = total, c
    return best, chosen


@njit(cache=True)
def _may_start(table: _Table, done: Ints, chain: int) -> bool:
    """Return whether every chain that must come before has been done."""
    for other in range(done.shape[0]):
        if table.needs[chain, other] and done[other] < table.size[other]:
            return False
    return True
