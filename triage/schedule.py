"""The list: which check next, when the car has to be put somewhere for each.

Every check has minutes; every set-up has a change-over from the one before. The
list is built greedily: for each set-up the open checks are sorted by marginal
value for minutes, and the set-up whose best run of checks brings the loss down
fastest per minute, change-over included, gives the next step. Values are
*marginal*: what a chosen check would already tell is not counted again
(`triage.value`). With one cause, perfect independent checks and no set-ups this
is the probability-over-cost rule [1]_.

Building stops when no run is worth the minutes it takes.

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

from triage.arrays import Floats, Ints

__all__ = ["Plan", "Shop", "Step", "change_over", "plan_checks", "while_there"]


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the list."""

    offer: int  # index of the check offered
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
class Shop:
    """Where the car stands, what changes of set-up cost, what a minute costs."""

    setup: str
    change: Mapping[str, Mapping[str, float]]
    per_minute: float
    longest: int = 12


def change_over(change: Mapping[str, Mapping[str, float]], before: str, after: str) -> float:
    """Return the minutes from one set-up to another; 0 when they are the same."""
    if before == after:
        return 0.0
    return change.get(before, {}).get(after, 10.0)


def plan_checks(
    gain: Floats, minutes: Floats, setups: Sequence[str], shop: Shop, first: Sequence[int] = ()
) -> Plan:
    """Return the list of checks in the order in which to do them.

    Parameters
    ----------
    gain : (offers, causes) expected fall of each cause's loss
    minutes : (offers,) duration of each check
    setups : set-up of each check
    shop : where the car stands, the change-overs and the price of a minute
    first : offers that come first whatever they bring (open gates close on them)

    Notes
    -----
    O(length * offers * causes).
    """
    told = np.zeros(gain.shape[1])
    open_ = np.ones(gain.shape[0], np.bool_)
    steps: list[Step] = []
    here = shop.setup
    for k in _by_setup(first, setups, here, shop):
        steps.append(_step(k, gain, told, (minutes, setups), (here, shop)))
        told, here, open_[k] = np.maximum(told, gain[k]), setups[k], False
    stopped = "empty" if not gain.shape[0] else "length"
    while len(steps) < shop.longest + len(first):
        marginal = np.maximum(gain - told, 0.0).sum(axis=1)
        marginal[~open_] = 0.0
        best, rate = _best_run(marginal, minutes, setups, (here, shop))
        if best < 0 or rate < shop.per_minute:
            stopped = "worth" if gain.shape[0] else "empty"
            break
        steps.append(_step(best, gain, told, (minutes, setups), (here, shop)))
        told, here, open_[best] = np.maximum(told, gain[best]), setups[best], False
    return Plan(tuple(steps), stopped)


def _by_setup(first: Sequence[int], setups: Sequence[str], here: str, shop: Shop) -> list[int]:
    """Return the forced checks, nearest set-up first, each set-up in one go."""
    left, out = list(first), []
    while left:
        near = min(left, key=lambda k: (change_over(shop.change, here, setups[k]), left.index(k)))
        here = setups[near]
        out += [k for k in left if setups[k] == here]
        left = [k for k in left if setups[k] != here]
    return out


def _step(
    k: int,
    gain: Floats,
    told: Floats,
    lists: tuple[Floats, Sequence[str]],
    place: tuple[str, Shop],
) -> Step:
    """Return the step that does check `k` next."""
    minutes, setups = lists
    here, shop = place
    value = float(np.maximum(gain[k] - told, 0.0).sum())
    change = change_over(shop.change, here, setups[k])
    return Step(k, setups[k], change, float(minutes[k]), value)


def _best_run(
    marginal: Floats, minutes: Floats, setups: Sequence[str], place: tuple[str, Shop]
) -> tuple[int, float]:
    """Return the check that begins the best run and the run's value per minute."""
    here, shop = place
    best, best_rate = -1, 0.0
    for setup in dict.fromkeys(setups):
        members: Ints = np.array(
            [k for k, other in enumerate(setups) if other == setup and marginal[k] > 0.0],
            np.int64,
        )
        if not members.size:
            continue
        order = members[np.argsort(-(marginal[members] / minutes[members]), kind="stable")]
        value = np.cumsum(marginal[order])
        time = np.cumsum(minutes[order]) + change_over(shop.change, here, setup)
        rate = float(np.max(value / time))
        if rate > best_rate:
            best, best_rate = int(order[0]), rate
    return best, best_rate


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
