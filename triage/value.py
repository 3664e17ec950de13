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
from functools import cached_property
from itertools import pairwise
from typing import Protocol

import numpy as np

from triage.arrays import Floats, Ints
from triage.compiling import WORK_BUDGET
from triage.exact import Standing, stand
from triage.falling import Money, Questions, Sides, falls
from triage.model import Network
from triage.responsibility import inhibited_ratio, responsibility
from triage.sides import Now, at_once, by_cause, exactly
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


@dataclass(frozen=True)
class Outlook:
    """What is known now, and what each check offered would tell.

    Attributes
    ----------
    causes : ids, the order of all arrays over causes
    q, r : (causes,) posterior and responsibility now
    loss : (causes,) loss now
    told : the causes of which any check says anything, as places in `causes` ...
    fall : ... and (offers, told) by how much each check brings the loss of each down
    found : per offer, P(found) of each of its verdicts
    rho : (causes,) see `triage.responsibility`
    state : the case as it stands
    """

    causes: tuple[str, ...]
    q: Floats
    r: Floats
    loss: Floats
    told: Ints
    fall: Floats
    found: tuple[tuple[float, ...], ...]
    rho: Floats
    state: Standing

    @cached_property
    def gain(self) -> Floats:
        """(offers, causes) expected fall of each cause's loss by each check."""
        gain = np.zeros((self.fall.shape[0], len(self.causes)))
        gain[:, self.told] = self.fall
        return gain


def look_ahead(  # noqa: PLR0913 - each is one plain thing that a caller states
    network: Network,
    evidence: Evidence,
    offers: Sequence[Offer],
    stakes: Stakes,
    *,
    effort: float = EFFORT,
    work: float = WORK_BUDGET,
) -> Outlook:
    """Return what is known now and what each offered check would tell.

    Parameters
    ----------
    network, evidence : as in `triage.exact.posterior`
    offers : checks that could be done next
    stakes : prices
    effort : products to spend on lanes; decides how the effect of a verdict on
        other causes is worked out (see `_ask`)
    work : products that one evaluation may take

    Raises
    ------
    ImpossibleEvidenceError
        If the evidence has probability zero.
    InferenceTooLargeError
        If one evaluation would take more work or larger tables than there may be.
    """
    now = _now(network, evidence, work)
    prices = _prices(network, stakes)
    q = now.state.q
    loss_now = loss(q, now.r, prices)
    asked = _asked(network, offers)
    sides = _ask(now, asked.keys, effort)
    money = Money(prices[0], prices[1][sides.told], prices[2][sides.told], loss_now[sides.told])
    fall, found = falls(sides, asked.questions, money, len(offers))
    bounds = asked.start
    chances = found.tolist()
    return Outlook(
        network.causes,
        q,
        now.r,
        loss_now,
        sides.told,
        fall,
        tuple(tuple(chances[low:high]) for low, high in pairwise(bounds)),
        now.rho,
        now.state,
    )


def _now(network: Network, evidence: Evidence, work: float) -> Now:
    """Compile and evaluate the case as it is."""
    state = stand(network, evidence, rough=True, work=work)
    rho = inhibited_ratio(state.compiled, state.rows, 1.0 - state.q)
    return Now(state, rho, responsibility(state.q, rho))


def _prices(network: Network, stakes: Stakes) -> tuple[float, Floats, Floats]:
    """Return the stakes as arrays over the causes."""
    arrays, many = network.arrays, len(network.causes)
    danger, repair = np.zeros(many), np.full(many, stakes.repair_default)
    for prices, out in ((stakes.danger, danger), (stakes.repair, repair)):
        for key, price in prices.items():
            place = arrays.column[arrays.index[key]] if key in arrays.index else -1
            if place >= 0:
                out[place] = price
    return stakes.comeback, stakes.danger_weight * danger, repair


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the offers ask, one question a verdict."""

    keys: list[str]  # the nodes asked about, each once
    questions: Questions
    start: list[int]  # (offers + 1,) where each offer's questions start


def _asked(network: Network, offers: Sequence[Offer]) -> _Asked:
    """Return the node each verdict asks about, with P(found | on) and P(found | off)."""
    places: dict[str, int] = {}
    rows: list[tuple[int, int]] = []
    reliability: list[tuple[float, float]] = []
    start = [0]
    for k, offer in enumerate(offers):
        nodes = {v.node for v in offer.verdicts if v.node is not None}
        for node in sorted(nodes):
            rows.append((k, places.setdefault(node, len(places))))
            reliability.append((1.0, 0.0))
        if not nodes:
            for v in offer.verdicts:
                rows.append((k, places.setdefault(v.target, len(places))))
                reliability.append((v.p_found_if_on, v.p_found_if_off))
        start.append(len(rows))
    for key in places:
        network.require(key, where="checks")
    table = np.array(rows, np.int64).reshape(-1, 2)
    return _Asked(
        list(places),
        Questions(table[:, 0], table[:, 1], np.array(reliability, np.float64).reshape(-1, 2)),
        start,
    )


def _ask(now: Now, keys: Sequence[str], effort: float) -> Sides:
    """Return, for every node that any verdict asks about, q and r on either side.

    A lane for each node where that is affordable, else a lane for each of the
    causes that matter (`triage.sides`).
    """
    compiled = now.state.compiled
    cost = max(compiled.cost, 1.0)
    narrow = at_once(now, keys)
    if narrow is not None:
        return narrow
    open_ = [key for key in keys if compiled.seen[compiled.network.arrays.index[key]] < 0]
    sweeps = int(min(effort / max(cost, _LEAST), _SWEEPS))
    if affordable(compiled, open_, sweeps):
        return exactly(now, keys)
    return by_cause(now, keys, min(int(effort / cost), _MOST))
