"""Two ways compared: replace the part that the code names first, or look first.

Both ways are walked through on the same cars, drawn from the posterior with
every node's state (`triage.sampling`) and every link's (`triage.acting`):

* *replace first*: the part is replaced and the car tried; if the complaint is
  still there, the list of checks is worked off;
* *look first*: the list is worked off; what a check shows, and has a part in the
  complaint, is repaired and the car tried.

When the list has brought nothing more, whatever is left is found by further
diagnosis at a stated time; the second way replaces the part before that if this is
cheaper on average for the cars that come so far. A
complaint has ended when every cause that has a part in it is repaired. Cars with
the part bad and cars with it good are two strata, weighed with the exact
posterior, so that a rare bad part is not left to luck. The list is walked as it
stands: re-planning after each answer would make looking cheaper than stated here.
A check of one verdict shows no cause by itself and only costs its time; nothing
is repaired on a false alarm, since only what is proven gets repaired.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.acting import draw_links, leading
from triage.arrays import Flags, Floats, Ints
from triage.compiling import Compiled
from triage.sampling import draw_states

__all__ = ["Cars", "Comparison", "Look", "Prices", "compare", "draw_cars", "joined"]


@dataclass(frozen=True, slots=True)
class Look:
    """One step of the list: its time, and what it can show."""

    minutes: float  # with the change of set-up before it
    shows: tuple[tuple[int, float], ...]  # node row of cause or state, P(found | there)


@dataclass(frozen=True, slots=True)
class Prices:
    """What repairs take and cost."""

    minutes: Floats  # (causes,) of each cause's repair
    parts: Floats  # (causes,) money for its parts
    per_minute: float  # money for a minute in the bay
    trying: float  # minutes to prove a repair
    further: float  # minutes of diagnosis when the list has brought nothing


@dataclass(frozen=True, slots=True)
class Cars:
    """Cars drawn from the posterior.

    Attributes
    ----------
    states : (cars, nodes) which nodes are on
    acted : (cars, links) which links acted
    part : (cars, causes) which causes have a part in the complaint
    weight : (cars,) how much of all cars each stands for; adds up to one
    """

    compiled: Compiled
    rows: Ints  # node rows of the causes
    states: Flags
    acted: Flags
    part: Flags
    weight: Floats


@dataclass(frozen=True, slots=True)
class Comparison:
    """Both ways compared; `*_error` are standard errors of the figure before them.

    The errors of `minutes_saved` and `cost_saved` are those of the difference
    (look first less replace first), in which most of the chance cancels.
    """

    ends: float  # P(the part is bad, and replacing it ends the complaint)
    ends_error: float
    minutes: tuple[float, float]  # replace first, look first
    minutes_error: float
    cost: tuple[float, float]
    cost_error: float
    count: int  # cars walked through

    @property
    def minutes_saved(self) -> float:
        """Minutes that replacing first saves; below 0 it loses them."""
        return self.minutes[1] - self.minutes[0]

    @property
    def cost_saved(self) -> float:
        """Money that replacing first saves; below 0 it loses it."""
        return self.cost[1] - self.cost[0]


def draw_cars(
    compiled: Compiled, complaint: Sequence[int], count: int, *, given: int | None = None
) -> Cars:
    """Return cars drawn from the posterior, with who has a part in the complaint.

    Parameters
    ----------
    compiled : the case
    complaint : node rows of the complaint's findings
    count : how many cars
    given : node row of a cause that is to be there in every car
    """
    rows = np.flatnonzero(compiled.network.arrays.is_cause == 1)
    # Another seed for each condition: strata must be independent of one another.
    seed = 1 if given is None else 2 + given
    states = draw_states(compiled, count, given=given, seed=seed)
    acted = draw_links(compiled, states, seed=seed)
    part = leading(compiled, acted, states, complaint)[:, rows]
    return Cars(compiled, rows, states, acted, part, np.full(count, 1.0 / count))


def joined(some: Cars, more: Cars, keep: Flags) -> Cars:
    """Return the kept cars of `some` and all of `more`; `compare` weighs them anew."""
    count = int(keep.sum()) + more.weight.size
    return Cars(
        some.compiled,
        some.rows,
        np.concatenate([some.states[keep], more.states]),
        np.concatenate([some.acted[keep], more.acted]),
        np.concatenate([some.part[keep], more.part]),
        np.full(count, 1.0 / count),
    )


def compare(
    cars: Cars, suspect: int, chance: float, looks: Sequence[Look], prices: Prices
) -> Comparison | None:
    """Return both ways compared for one part.

    Parameters
    ----------
    cars : drawn cars, with the part bad in some and good in others
    suspect : which of the causes is the part
    chance : exact posterior that it is bad
    looks : the list as it stands
    prices : what repairs take and cost

    Returns
    -------
    None when a stratum that has a chance has no car in it.
    """
    bad = cars.states[:, cars.rows[suspect]]
    share = np.array([chance, 1.0 - chance])
    count = np.array([int(bad.sum()), int((~bad).sum())])
    if np.any((count == 0) & (share > 0.0)):
        return None
    cars = replace(cars, weight=np.where(bad, *(share / np.maximum(count, 1))))
    found = _finds(cars, looks)
    first = _replace_first(cars, suspect, (looks, found), prices)
    look = _look_first(cars, suspect, (looks, found), prices)
    alone = cars.part[:, suspect] & (cars.part.sum(axis=1) == 1)

    def mean(value: Floats) -> tuple[float, float]:
        return _stratified(value, bad, share)

    ends, ends_error = mean(alone.astype(np.float64))
    minutes = (mean(first[0])[0], mean(look[0])[0])
    money = [time * prices.per_minute + parts for time, parts in (first, look)]
    return Comparison(
        ends,
        ends_error,
        minutes,
        mean(look[0] - first[0])[1],
        (mean(money[0])[0], mean(money[1])[0]),
        mean(money[1] - money[0])[1],
        int(count.sum()),
    )


def _stratified(value: Floats, bad: Flags, share: Floats) -> tuple[float, float]:
    """Return the mean over two strata of known share, and its standard error."""
    mean, variance = 0.0, 0.0
    for inside, weight in ((bad, float(share[0])), (~bad, float(share[1]))):
        if weight > 0.0:
            some = value[inside]
            mean += weight * float(some.mean())
            variance += weight**2 * float(some.var(ddof=1 if some.size > 1 else 0)) / some.size
    return mean, math.sqrt(variance)


def _finds(cars: Cars, looks: Sequence[Look]) -> list[Flags]:
    """Return, for each look, which responsible causes it would show in each car.

    A state that is found leads to the causes behind it. The same look shows the
    same thing in both ways: common random numbers.
    """
    luck = np.random.default_rng(1)
    at = {int(row): k for k, row in enumerate(cars.rows)}
    out = []
    for look in looks:
        found = np.zeros_like(cars.part)
        for row, chance in look.shows:
            lucky = (luck.random(cars.part.shape[0]) < chance) & cars.states[:, row]
            if row in at:
                found[:, at[row]] |= lucky
            elif lucky.any():
                behind = leading(cars.compiled, cars.acted, cars.states, [row])[:, cars.rows]
                found |= behind & lucky[:, None]
        out.append(found & cars.part)
    return out


@dataclass(slots=True)
class _Walk:
    """Where each car stands on its way."""

    left: Flags  # (cars, causes) with a part in the complaint, not repaired yet
    open: Flags  # (cars,) the complaint is still there
    minutes: Floats
    parts: Floats


def _start(cars: Cars) -> _Walk:
    """Return all cars at the beginning; one that no cause explains stays open."""
    count = cars.part.shape[0]
    return _Walk(cars.part.copy(), np.ones(count, np.bool_), np.zeros(count), np.zeros(count))


def _repair(walk: _Walk, which: Flags, prices: Prices) -> None:
    """Repair what was found, try the car, close what has ended."""
    some = which.any(axis=1)
    walk.minutes += which @ prices.minutes + some * prices.trying
    walk.parts += which @ prices.parts
    had = (walk.left & which).any(axis=1)
    walk.left &= ~which
    walk.open &= ~(had & ~walk.left.any(axis=1))


def _work_off(walk: _Walk, list_: tuple[Sequence[Look], list[Flags]], prices: Prices) -> None:
    """Work the list off in every car that is still open."""
    for look, found in zip(*list_, strict=True):
        walk.minutes[walk.open] += look.minutes
        _repair(walk, found & walk.left & walk.open[:, None], prices)


def _finish(walk: _Walk, prices: Prices) -> tuple[Floats, Floats]:
    """Find and repair what is left; return minutes and money for parts."""
    walk.minutes[walk.open] += prices.further
    _repair(walk, walk.left & walk.open[:, None], prices)
    return walk.minutes, walk.parts


def _replace_first(
    cars: Cars, suspect: int, list_: tuple[Sequence[Look], list[Flags]], prices: Prices
) -> tuple[Floats, Floats]:
    """Walk the first way in every car."""
    walk = _start(cars)
    _repair(walk, _only(cars, suspect, walk.open), prices)
    _work_off(walk, list_, prices)
    return _finish(walk, prices)


def _look_first(
    cars: Cars, suspect: int, list_: tuple[Sequence[Look], list[Flags]], prices: Prices
) -> tuple[Floats, Floats]:
    """Walk the second way in every car."""
    walk = _start(cars)
    _work_off(walk, list_, prices)
    replaced = cars.part[:, suspect] & ~walk.left[:, suspect]
    other = _Walk(walk.left.copy(), walk.open.copy(), walk.minutes.copy(), walk.parts.copy())
    _repair(other, _only(cars, suspect, walk.open & ~replaced), prices)
    ends = [_finish(way, prices) for way in (walk, other)]
    money = [
        float(np.sum(cars.weight * (time * prices.per_minute + parts))) for time, parts in ends
    ]
    return ends[int(money[1] < money[0])]


def _only(cars: Cars, suspect: int, where: Flags) -> Flags:
    """Return the one cause, in the given cars."""
    out = np.zeros_like(cars.part)
    out[where, suspect] = True
    return out
