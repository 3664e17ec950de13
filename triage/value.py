"""The value of a check: how far it is expected to bring the loss down.

For each verdict of each check offered the chance of it and every cause's
posterior and responsibility after "found" and after "not found" are worked out
from lanes of one compiled case (`triage.sides`).

The value of information of a verdict is the expected fall of the loss
(`triage.stakes`); it is never negative, because the loss is concave in
quantities that are martingales under any observation [1]_. A check with several
verdicts counts, for each cause, its most telling verdict; a set of checks
counts, for each cause, its most telling check. So two checks for one joint
never count twice, and the sum is a lower bound on what all of them together
would bring.

References
----------
.. [1] Howard, R. A. (1966). Information value theory. IEEE Transactions on
       Systems Science and Cybernetics 2(1), 22-26. (From memory.)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from triage.arrays import Floats
from triage.exact import Standing, stand
from triage.model import Network
from triage.responsibility import inhibited_ratio, responsibility
from triage.sides import Now, Sides, by_cause, exactly
from triage.stakes import Stakes, loss
from triage.what_if import affordable

__all__ = ["Offer", "Outlook", "Verdict", "look_ahead"]

Evidence = Mapping[str, bool | float]
EFFORT = 1e7  # products spent on lanes: a hundredth of a second or two
_LEAST, _SWEEPS = 1e6, 1e6  # what a sweep costs at least; sweeps at the most
_MOST = 16  # causes that get a lane; where none does, a verdict tells of its target alone


class Verdict(Protocol):
    """One answer that a check can give."""

    @property
    def target(self) -> str:
        """Node id of the cause or state that it shows."""

    @property
    def p_found_if_on(self) -> float:
        """P(found | it is there)."""

    @property
    def p_found_if_off(self) -> float:
        """P(found | it is not there)."""

    @property
    def node(self) -> str | None:
        """The finding node of a check with one verdict."""


class Offer(Protocol):
    """One doing of a check at one place."""

    @property
    def id(self) -> str:
        """The check."""

    @property
    def place(self) -> str:
        """Where it is done."""

    @property
    def setup(self) -> str:
        """How the car must stand."""

    @property
    def minutes(self) -> float:
        """How long it takes, without setting up."""

    @property
    def verdicts(self) -> Sequence[Verdict]:
        """What it can show."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is known now, and what each check offered would tell.

    Attributes
    ----------
    causes : ids, the order of all arrays over causes
    q, r : (causes,) posterior and responsibility now
    loss : (causes,) loss now
    gain : (offers, causes) expected fall of each cause's loss by each check
    found : per offer, P(found) of each of its verdicts
    """

    causes: tuple[str, ...]
    q: Floats
    r: Floats
    loss: Floats
    gain: Floats
    found: tuple[tuple[float, ...], ...]
    rho: Floats  # (causes,) see `triage.responsibility`
    state: Standing


def look_ahead(
    network: Network,
    evidence: Evidence,
    offers: Sequence[Offer],
    stakes: Stakes,
    *,
    effort: float = EFFORT,
) -> Outlook:
    """Return what is known now and what each offered check would tell.

    Parameters
    ----------
    network, evidence : as in `triage.exact.posterior`
    offers : checks that could be done next
    stakes : prices
    effort : products to spend on lanes; decides how the effect of a verdict on
        other causes is worked out (see `_ask`)

    Raises
    ------
    ImpossibleEvidenceError
        If the evidence has probability zero.
    """
    now = _now(network, evidence)
    prices = _prices(network, stakes)
    q = now.state.q
    loss_now = loss(q, now.r, prices)
    sides = _ask(now, offers, effort)
    gain = np.zeros((len(offers), len(q)))
    found: list[tuple[float, ...]] = []
    for k, offer in enumerate(offers):
        chances = []
        for key, on, off in _questions(offer):
            chance, fall = _fall(now, sides[key], (on, off), prices, loss_now)
            chances.append(chance)
            np.maximum(gain[k], fall, out=gain[k])
        found.append(tuple(chances))
    return Outlook(
        network.causes,
        q,
        now.r,
        loss_now,
        gain,
        tuple(found),
        now.rho,
        now.state,
    )


def _now(network: Network, evidence: Evidence) -> Now:
    """Compile and evaluate the case as it is."""
    state = stand(network, evidence, rough=True)
    rho = inhibited_ratio(state.compiled, state.rows, 1.0 - state.q)
    return Now(state, rho, responsibility(state.q, rho))


def _prices(network: Network, stakes: Stakes) -> tuple[float, Floats, Floats]:
    """Return the stakes as arrays over the causes."""
    danger = np.array([stakes.danger.get(key, 0.0) for key in network.causes])
    repair = np.array([stakes.repair.get(key, stakes.repair_default) for key in network.causes])
    return stakes.comeback, stakes.danger_weight * danger, repair


def _questions(offer: Offer) -> list[tuple[str, float, float]]:
    """Return the node each verdict asks about, with P(found | on) and P(found | off)."""
    nodes = {verdict.node for verdict in offer.verdicts if verdict.node is not None}
    if nodes:
        return [(node, 1.0, 0.0) for node in sorted(nodes)]
    return [(v.target, v.p_found_if_on, v.p_found_if_off) for v in offer.verdicts]


def _ask(now: Now, offers: Sequence[Offer], effort: float) -> dict[str, Sides]:
    """Return, for every node that any verdict asks about, q and r on either side.

    A lane for each node where that is affordable, else a lane for each of the
    causes that matter (`triage.sides`).
    """
    keys = list(dict.fromkeys(key for offer in offers for key, _, _ in _questions(offer)))
    cost = max(now.state.compiled.plan.cost, 1.0)
    compiled = now.state.compiled
    open_ = [key for key in keys if compiled.seen[compiled.network.arrays.index[key]] < 0]
    sweeps = int(min(effort / max(cost, _LEAST), _SWEEPS))
    if affordable(compiled, open_, sweeps):
        return exactly(now, keys)
    return by_cause(now, keys, min(int(effort / cost), _MOST))


def _fall(
    now: Now,
    view: Sides,
    reliability: tuple[float, float],
    prices: tuple[float, Floats, Floats],
    loss_now: Floats,
) -> tuple[float, Floats]:
    """Return P(found) and the expected fall of each cause's loss by one verdict."""
    on, off = reliability
    p_found = view.chance * on + (1.0 - view.chance) * off
    after = np.zeros_like(loss_now)
    for p_verdict, if_on in ((p_found, on), (1.0 - p_found, 1.0 - on)):
        if p_verdict <= 0.0:
            continue
        share = min(1.0, view.chance * if_on / p_verdict)
        q = share * view.q[1] + (1.0 - share) * view.q[0]
        r = share * view.r[1] + (1.0 - share) * view.r[0]
        after += p_verdict * loss(q, r, prices)
    return p_found, np.maximum(loss_now - after, 0.0)
