"""Which checks are worth a place on the list, best first.

Greedy: for each set-up the open checks are sorted by marginal value for minutes,
and the set-up whose best run of checks brings the loss down fastest per minute,
change-over included, gives the next check. Values are *marginal*: what a chosen
check would already tell is not counted again. Choosing stops when no run is worth
the minutes it takes.

Minutes are minutes of *labour*: a set-up that needs a second person costs twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from triage.arrays import Flags, Floats
from triage.precedence import Rules
from triage.sequencing import closed_travel

__all__ = ["Choice", "Shop", "Yard", "change_over", "choose", "marginals"]

_UNKNOWN = 10.0  # minutes of a change-over that the shop does not state


@dataclass(frozen=True, slots=True)
class Shop:
    """Where the car stands, what changes of set-up cost, what a minute costs.

    Attributes
    ----------
    setup : where the car stands
    change : from -> to -> minutes
    per_minute : price of a minute of labour
    longest : largest number of checks on the list
    hands : people that a set-up takes, where it is not one
    """

    setup: str
    change: Mapping[str, Mapping[str, float]]
    per_minute: float
    longest: int = 12
    hands: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Choice:
    """The checks chosen, in the order of choosing, and why choosing ended."""

    offers: tuple[int, ...]
    forced: frozenset[int]  # stay on the list whatever they bring
    stopped: str  # "worth" | "length" | "empty"


def change_over(change: Mapping[str, Mapping[str, float]], before: str, after: str) -> float:
    """Return the minutes from one set-up to another; 0 when they are the same."""
    if before == after:
        return 0.0
    return change.get(before, {}).get(after, _UNKNOWN)


@dataclass(frozen=True, slots=True)
class Yard:
    """The shop as numbers: set-ups by index, shortest ways, labour.

    Attributes
    ----------
    index : set-up -> index
    travel : (set-ups, set-ups) minutes by the shortest way
    hands : (set-ups,) people
    setup : (offers,) index of each offer's set-up
    minutes : (offers,) of each check
    """

    index: Mapping[str, int]
    travel: Floats
    hands: Floats
    setup: tuple[int, ...]
    minutes: Floats

    @classmethod
    def of(cls, minutes: Floats, setups: Sequence[str], shop: Shop, rules: Rules) -> Yard:
        """Return the yard; a gated set-up and one with a wheel off are not driven through."""
        names = list(dict.fromkeys([shop.setup, *setups, *shop.change]))
        if rules.refit is not None:
            names = list(dict.fromkeys([*names, rules.refit.setup]))
        shut = set(rules.gates)
        if rules.refit is not None:
            shut |= {rules.refit.off, rules.refit.road}
        direct = np.array([[change_over(shop.change, a, b) for b in names] for a in names])
        stops: Flags = np.array([name not in shut and name in shop.change for name in names])
        index = {name: k for k, name in enumerate(names)}
        return cls(
            index,
            closed_travel(direct, stops),
            np.array([float(shop.hands.get(name, 1)) for name in names]),
            tuple(index[setup] for setup in setups),
            np.asarray(minutes, np.float64),
        )

    def labour(self, offer: int, here: int) -> float:
        """Return the minutes of labour to go from a set-up and do a check."""
        there = self.setup[offer]
        return float(self.hands[there] * (self.travel[here, there] + self.minutes[offer]))


def marginals(gain: Floats, order: Sequence[int]) -> list[float]:
    """Return what each check in turn brings beyond what the ones before it bring.

    In billionths of the price's unit: what is worth the same on two sides of the car must not be
    put in order by rounding.
    """
    told, out = np.zeros(gain.shape[1]), []
    for k in order:
        out.append(round(float(np.maximum(gain[k] - told, 0.0).sum()), 9))
        told = np.maximum(told, gain[k])
    return out


def choose(gain: Floats, yard: Yard, shop: Shop, rules: Rules, most: int) -> Choice:
    """Return the checks worth a place, in the order of choosing.

    Parameters
    ----------
    gain : (offers, causes) expected fall of each cause's loss
    yard, shop, rules : the shop and what must come first
    most : largest number chosen beyond the forced ones

    Notes
    -----
    O(most * offers * causes).
    """
    picked = _Picked(yard.index[shop.setup], np.zeros(gain.shape[1]))
    picked.take(rules.first, gain, yard)
    forced = set(rules.first)
    stopped = "length" if gain.shape[0] else "empty"
    while len(picked.offers) < most + len(forced):
        run = _best_run(gain, yard, rules, picked)
        if run.offer < 0 or run.rate < shop.per_minute:
            stopped = "worth" if gain.shape[0] else "empty"
            break
        picked.take((*run.before, run.offer), gain, yard)
        forced |= set(run.before)
    return Choice(tuple(picked.offers), frozenset(forced), stopped)


@dataclass(slots=True)
class _Picked:
    """What has been chosen so far."""

    here: int
    told: Floats
    offers: list[int] = field(default_factory=list)

    def take(self, offers: Sequence[int], gain: Floats, yard: Yard) -> None:
        """Put checks on the list."""
        for k in offers:
            self.offers.append(k)
            self.told = np.maximum(self.told, gain[k])
            self.here = yard.setup[k]


@dataclass(frozen=True, slots=True)
class _Run:
    """The check that begins the best run, what must precede it, value per minute."""

    offer: int = -1
    before: tuple[int, ...] = ()
    rate: float = 0.0


def _best_run(gain: Floats, yard: Yard, rules: Rules, picked: _Picked) -> _Run:
    """Return the best run over the set-ups."""
    open_ = np.ones(gain.shape[0], np.bool_)
    open_[picked.offers] = False
    best = _Run()
    names = {k: name for name, k in yard.index.items()}
    for setup in dict.fromkeys(yard.setup):
        inside = open_ & (np.array(yard.setup) == setup)
        if not inside.any():
            continue
        needed = rules.gates.get(names[setup], ())
        missing = tuple(k for k in needed if open_[k] and yard.setup[k] != setup)
        run = _run_in(gain, yard, picked, (setup, inside, missing))
        if run.rate > best.rate:
            best = run
    return best


def _run_in(
    gain: Floats, yard: Yard, picked: _Picked, where: tuple[int, Flags, tuple[int, ...]]
) -> _Run:
    """Return the best run of checks in one set-up, with what must precede it."""
    setup, inside, missing = where
    here, told, value, time = picked.here, picked.told, 0.0, 0.0
    for k in missing:
        value += float(np.maximum(gain[k] - told, 0.0).sum())
        time += yard.labour(k, here)
        told, here = np.maximum(told, gain[k]), yard.setup[k]
    members = np.flatnonzero(inside)
    marginal = np.round(np.maximum(gain[members] - told, 0.0).sum(axis=1), 9)
    members, marginal = members[marginal > 0.0], marginal[marginal > 0.0]
    if not members.size:
        return _Run()
    minutes = yard.minutes[members] * yard.hands[setup]
    order = np.argsort(-(marginal / np.maximum(minutes, 1e-9)), kind="stable")
    time += float(yard.travel[here, setup] * yard.hands[setup])
    rates = (value + np.cumsum(marginal[order])) / np.maximum(
        time + np.cumsum(minutes[order]), 1e-9
    )
    return _Run(int(members[order[0]]), missing, float(np.max(rates)))
