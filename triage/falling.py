"""By how much each check is expected to bring the loss of each cause down.

One loop over checks and causes. A side of a node - it is off, it is on - that was not
computed follows from the other by total probability, a division by at least one half;
and a cause in a part of the case that the node is no part of stays what it is, so only
the causes beside the node are looked at.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints

__all__ = ["Money", "Questions", "Sides", "falls"]

_TINY = 1e-300


class Sides(NamedTuple):
    """Nodes asked about, and some causes when each of them is off and on.

    The causes told of are put in groups; a node tells of one group, or of one cause
    alone. What is known of a side is P(cause on | that side).
    """

    told: Ints  # (told,) the causes, as places among all causes
    q: Floats  # (told,) posterior now
    r: Floats  # (told,) responsibility now
    rho: Floats  # (told,) see `triage.responsibility`
    chance: Floats  # (nodes,) P(on)
    own: Ints  # (nodes,) the node's own place in `told`, -1 for none
    low: Ints  # (nodes,) where the causes that the node tells of start ...
    high: Ints  # ... and end
    known: Floats  # (nodes, 2, places), off and on; or (nodes, 1, places), the rarer side
    place: Ints  # (told,) each cause's place there


class Questions(NamedTuple):
    """What verdicts ask."""

    offer: Ints  # (questions,) the check
    node: Ints  # (questions,) the node asked about
    reliability: Floats  # (questions, 2) P(found | on), P(found | off)


class Money(NamedTuple):
    """Prices by cause told of."""

    comeback: float
    danger: Floats
    repair: Floats
    loss: Floats  # now


@njit(cache=True, nogil=True)
def falls(sides: Sides, asked: Questions, money: Money, offers: int) -> tuple[Floats, Floats]:
    """Return (offers, told) expected falls of the loss, and (questions,) P(found).

    Of a check with several verdicts each cause counts the most telling one.
    """
    fall = np.zeros((offers, sides.told.shape[0]))
    found = np.empty(asked.node.shape[0])
    for k in range(asked.node.shape[0]):
        node = asked.node[k]
        on, off = asked.reliability[k, 0], asked.reliability[k, 1]
        p = sides.chance[node]
        found[k] = p * on + (1.0 - p) * off
        of = fall[asked.offer[k]]
        for c in range(sides.low[node], sides.high[node]):
            of[c] = max(of[c], _fall(sides, node, c, (on, off), money))
        own = sides.own[node]
        if own >= 0 and not sides.low[node] <= own < sides.high[node]:
            of[own] = max(of[own], _fall(sides, node, own, (on, off), money))
    return fall, found


@njit(cache=True, forceinline=True)
def _either(sides: Sides, node: int, c: int) -> tuple[float, float]:
    """Return a cause's posterior when the node is off and when it is on."""
    if c == sides.own[node]:
        return 0.0, 1.0
    at = sides.place[c]
    if sides.known.shape[1] == 2:
        return sides.known[node, 0, at], sides.known[node, 1, at]
    p, known = sides.chance[node], sides.known[node, 0, at]
    share = p if p <= 0.5 else 1.0 - p
    rest = (sides.q[c] - share * known) / max(1.0 - share, _TINY)
    rest = min(max(rest, 0.0), 1.0)
    return (rest, known) if p <= 0.5 else (known, rest)


@njit(cache=True, forceinline=True)
def _part(q: float, rho: float) -> float:
    """Return responsibility from the posterior."""
    return min(max(q - rho * (1.0 - q), 0.0), q)


@njit(cache=True, forceinline=True)
def _fall(sides: Sides, node: int, c: int, reliability: tuple[float, float], money: Money) -> float:
    """Return the expected fall of one cause's loss by one verdict."""
    p, rho = sides.chance[node], sides.rho[c]
    q_off, q_on = _either(sides, node, c)
    if c == sides.own[node]:
        r_off, r_on = 0.0, sides.r[c] / max(p, _TINY)
    else:
        r_off, r_on = _part(q_off, rho), _part(q_on, rho)
    p_found = p * reliability[0] + (1.0 - p) * reliability[1]
    after = 0.0
    for side in range(2):
        p_verdict = p_found if side == 0 else 1.0 - p_found
        if p_verdict <= 0.0:
            continue
        if_on = reliability[0] if side == 0 else 1.0 - reliability[0]
        share = min(1.0, p * if_on / p_verdict)
        q = share * q_on + (1.0 - share) * q_off
        r = share * r_on + (1.0 - share) * r_off
        leave = money.comeback * r + money.danger[c] * q
        after += p_verdict * min(leave, money.repair[c] * (1.0 - q))
    return max(money.loss[c] - after, 0.0)
