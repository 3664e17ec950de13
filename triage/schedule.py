"""The list: which check next, when the car has to be put somewhere for each.

Every check has minutes; every set-up has a change-over from the one before. What
is wanted is the order in which the loss falls soonest: the smallest area under
the expected remaining loss over minutes of labour. Three steps:

1. *which*: checks are chosen one after another by marginal value for minutes, the
   change-over included, until nothing is worth its minutes (`triage.candidates`);
2. *in what order*: exactly, over how far each set-up has been worked off, with
   what must come before what (`triage.sequencing`, `triage.precedence`). The
   weights are the marginal values in the order so far, so that two checks for one
   joint do not count twice; the order found gives new weights, and so on as long
   as the area falls;
3. *how far*: what in this order is not worth its minutes is taken out, and the
   list ends where going on does not pay.

With one cause, perfect independent checks and no set-ups the order is that of
probability over cost [1]_.

References
----------
.. [1] Kadane, J. B. and Simon, H. A. (1977). Optimal strategies for a class of
       constrained sequential problems. Annals of Statistics 5(2), 237-255.
       (From memory.)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats
from triage.candidates import Shop, Yard, change_over, choose, marginals
from triage.precedence import NO_RULES, Refit, Rules, chains_of, predecessors
from triage.sequencing import Chain, Ground, best_sequence, count_states
from triage.walking import Leg, walk

__all__ = [
    "TIGHTEN",
    "Plan",
    "Refit",
    "Rules",
    "Shop",
    "Step",
    "change_over",
    "plan_checks",
    "while_there",
]

#: The offer index of the step that tightens the wheels.
TIGHTEN = -1
_POOL = 2  # candidates ordered, as a multiple of the longest list
_STATES = 10_000  # ways to have worked off the set-ups: some milliseconds
_ROUNDS = 6  # orders tried, each with the weights of the one before


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the list."""

    offer: int  # index of the check offered, or `TIGHTEN`
    setup: str
    change_minutes: float
    minutes: float
    value: float  # expected fall of the loss, beyond what earlier steps bring


@dataclass(frozen=True, slots=True)
class Plan:
    """The list and why it ends where it ends."""

    steps: tuple[Step, ...]
    stopped: str  # "worth" nothing more is worth its time | "length" | "empty"

    @property
    def minutes(self) -> float:
        """Minutes of all steps and change-overs."""
        return sum(step.minutes + step.change_minutes for step in self.steps)


@dataclass(frozen=True, slots=True)
class _Desk:
    """What all steps of planning read."""

    gain: Floats
    setups: Sequence[str]
    shop: Shop
    rules: Rules
    yard: Yard
    ground: Ground

    def legs(self, order: Sequence[int]) -> list[Leg]:
        """Return the way through a list."""
        return walk(order, self.yard, self.ground, self.rules.refit)


def plan_checks(
    gain: Floats,
    minutes: Floats,
    setups: Sequence[str],
    shop: Shop,
    rules: Rules = NO_RULES,
) -> Plan:
    """Return the list of checks in the order in which to do them.

    Parameters
    ----------
    gain : (offers, causes) expected fall of each cause's loss, >= 0
    minutes : (offers,) duration of each check, >= 0
    setups : set-up of each check
    shop : where the car stands, the change-overs and the price of a minute
    rules : what must come before what

    Returns
    -------
    Plan
        At most ``shop.longest`` checks, and those that the rules force onto it.

    Notes
    -----
    The order is exact for the weights used as long as the candidates can be worked
    off in at most 10,000 ways; beyond that the last candidates are left out.

    Examples
    --------
    One cause each, on one spot: 20 in 10 minutes comes before 30 in 20.

    >>> plan = plan_checks(np.diag([30.0, 20.0]), np.array([20.0, 10.0]), ["a", "a"],
    ...                    Shop("a", {}, per_minute=1.0))
    >>> [step.offer for step in plan.steps]
    [1, 0]
    """
    yard = Yard.of(minutes, setups, shop, rules)
    desk = _Desk(gain, setups, shop, rules, yard, _ground(yard, shop, rules))
    choice = choose(gain, yard, shop, rules, _POOL * shop.longest)
    order = _ordered(desk, list(choice.offers))
    while idle := _idle(desk, order):
        order = _ordered(desk, [k for k in order if k not in idle])
    kept, cut = _cut(desk, order)
    return Plan(_steps(desk, kept), "length" if cut else choice.stopped)


def _ground(yard: Yard, shop: Shop, rules: Rules) -> Ground:
    """Return the set-ups and the labour of going from one to another."""
    labour = yard.travel * yard.hands[None, :]
    start, refit = yard.index[shop.setup], rules.refit
    if refit is None or refit.off not in yard.index or refit.road not in yard.index:
        return Ground(labour, start)
    via, road = yard.index[refit.setup], yard.index[refit.road]
    detour = labour[:, via] + refit.minutes * yard.hands[via] + labour[via, road]
    off = yard.index[refit.off]
    return Ground(labour, start, off, road, detour, start == off)


def _ordered(desk: _Desk, pool: list[int]) -> list[int]:
    """Return the pool in the best order found; what is too much for it is left out."""
    pool = _held(desk, pool)
    weights = dict(zip(pool, marginals(desk.gain, pool), strict=True))
    best: tuple[float, list[int]] = (np.inf, pool)
    for _ in range(_ROUNDS if pool else 0):
        _, order = best_sequence(_chains(desk, pool, weights), desk.ground)
        weights = dict(zip(order, marginals(desk.gain, order), strict=True))
        area = _area(desk, order, weights)
        if area >= best[0] * (1.0 - 1e-12):
            break
        best = (area, order)
    return best[1]


def _held(desk: _Desk, pool: list[int]) -> list[int]:
    """Return the pool without the last candidates that make it too much to order."""
    pool, forced = list(pool), _forced(desk, pool)
    spare = [k for k in pool if k not in forced]
    while spare and count_states(_chains(desk, pool, dict.fromkeys(pool, 0.0))) > _STATES:
        pool.remove(spare.pop())
    return pool


def _chains(desk: _Desk, pool: list[int], weights: Mapping[int, float]) -> list[Chain]:
    """Return the pool as chains."""
    yard, refit = desk.yard, desk.rules.refit
    value = {k: (weights[k], float(yard.minutes[k] * yard.hands[yard.setup[k]])) for k in pool}
    needs = predecessors(pool, desk.setups, desk.rules)
    places = {k: yard.setup[k] for k in pool}
    return chains_of(needs, places, value, refit.offer if refit else TIGHTEN)


def _forced(desk: _Desk, order: Sequence[int]) -> set[int]:
    """Return what the rules want on this list."""
    forced = set(desk.rules.first)
    for setup, needed in desk.rules.gates.items():
        if any(desk.setups[k] == setup for k in order):
            forced |= set(needed)
    return forced


def _idle(desk: _Desk, order: list[int]) -> set[int]:
    """Return the checks that in this order are not worth their own minutes."""
    yard, price = desk.yard, desk.shop.per_minute
    forced = _forced(desk, order)
    return {
        k
        for k, value in zip(order, marginals(desk.gain, order), strict=True)
        if k not in forced and value < price * yard.minutes[k] * yard.hands[yard.setup[k]]
    }


def _cut(desk: _Desk, order: list[int]) -> tuple[list[int], bool]:
    """Return the list up to where going on does not pay, and whether length cut it."""
    forced = _forced(desk, order)
    counted = np.cumsum([k not in forced for k in order])
    most = int(np.searchsorted(counted, desk.shop.longest, side="right"))
    labour = np.array([leg.labour for leg in desk.legs(order[:most])])
    value = np.array(marginals(desk.gain, order[:most]))
    net = np.concatenate([[0.0], np.cumsum(value - desk.shop.per_minute * labour)])
    least = max((n + 1 for n, k in enumerate(order) if k in desk.rules.first), default=0)
    end = least + int(np.argmax(net[least:]))
    return order[:end], end == most < len(order)


def _area(desk: _Desk, order: Sequence[int], weights: Mapping[int, float]) -> float:
    """Return the area under the remaining loss."""
    labour = np.cumsum([leg.labour for leg in desk.legs(order)])
    return float(np.dot(labour, [weights[k] for k in order]))


def _steps(desk: _Desk, order: list[int]) -> tuple[Step, ...]:
    """Return the list as steps, tightening the wheels among them."""
    steps, refit = [], desk.rules.refit
    values = marginals(desk.gain, order)
    for leg, value in zip(desk.legs(order), values, strict=True):
        if refit is not None and leg.tighten is not None:
            steps.append(Step(TIGHTEN, refit.setup, leg.tighten, refit.minutes, 0.0))
        minutes = float(desk.yard.minutes[leg.offer])
        steps.append(Step(leg.offer, desk.setups[leg.offer], leg.change, minutes, value))
    return tuple(steps)


def while_there(
    extra: Floats, minutes: Floats, setups: Sequence[str], plan: Plan, most: int = 5
) -> list[int]:
    """Return checks worth a few minutes only because the car stands right for them.

    Parameters
    ----------
    extra : (offers,) what each would bring if danger counted in full
    minutes, setups : of each check
    plan : the list; only its set-ups count, its own checks are left out
    most : how many at the most
    """
    chosen = {step.offer for step in plan.steps}
    standing = {step.setup for step in plan.steps}
    rate = {
        k: float(extra[k] / minutes[k])
        for k in range(len(setups))
        if k not in chosen and setups[k] in standing and minutes[k] <= 6.0 and extra[k] > 0.0
    }
    return sorted(rate, key=lambda k: (-rate[k], k))[:most]
