"""The cheap value of a check: what it is expected to bring about the causes that it shows.

`triage.value` looks at what an answer tells about *every* cause, one evaluation for each node
asked about; thousands of cars cannot pay for that. Here a verdict counts for its own target only,
by Bayes' rule and without another evaluation::

    q(found) = q on / (q on + (1 - q) off)

and a check with one verdict counts for each of its targets as if these were independent of each
other. Both leave out what an answer says about other causes: the list is somewhat worse than the
one that a technician sees, never better informed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from graph.compiled import CheckItem, VerdictNode
from triage.arrays import Flags, Floats, Ints
from triage.model import Network
from triage.proof import Looks, Suspects, spread, worth
from triage.stakes import Stakes, loss

__all__ = ["Catalogue", "Form"]

#: Looks, suspects and checks that can still be made -> what each look is worth.
Form = Callable[[Looks, Suspects, Flags], Floats]


class Catalogue:
    """All verdicts of all checks as arrays, made once for a car.

    Parameters
    ----------
    network : the car's network
    offers : its checks
    stakes : prices
    """

    def __init__(self, network: Network, offers: Sequence[CheckItem], stakes: Stakes) -> None:
        column = {key: k for k, key in enumerate(network.causes)}
        self.offers = tuple(offers)
        self.minutes = np.array([offer.minutes for offer in offers])
        self.setups = [offer.setup for offer in offers]
        danger = np.array([stakes.danger.get(key, 0.0) for key in network.causes])
        repair = [stakes.repair.get(key, stakes.repair_default) for key in network.causes]
        self.prices = (stakes.comeback, stakes.danger_weight * danger, np.array(repair))
        rows = []
        for k, offer in enumerate(offers):
            for place, verdict in enumerate(offer.verdicts):
                if verdict.target in column:
                    rows.append((k, column[verdict.target], *_chances(network, verdict), place))
        table = np.array(rows, np.float64).reshape(-1, 6)
        self.offer: Ints = table[:, 0].astype(np.int64)
        self.cause: Ints = table[:, 1].astype(np.int64)
        self.on, self.off = table[:, 2].copy(), table[:, 3].copy()
        price = stakes.per_minute * self.minutes[self.offer]
        apart: Flags = np.zeros((len(offers), 0), np.bool_)  # answers are drawn independently
        self.looks = Looks(self.offer, self.cause, self.on, self.off, price, apart)
        self.gathers = table[:, 4] > 0.0
        self.place: Ints = table[:, 5].astype(np.int64)  # of the verdict within its check

    def gain(self, q: Floats, r: Floats) -> Floats:
        """Return (offers, causes): the expected fall of each cause's loss by each check."""
        _, danger, repair = self.prices
        mine = (self.prices[0], danger[self.cause], repair[self.cause])
        chance, part = q[self.cause], r[self.cause]
        share = np.divide(part, chance, out=np.zeros_like(part), where=chance > 0.0)
        on, off = self._reliability(q)
        after = np.zeros(chance.size)
        for if_on, if_off in ((on, off), (1.0 - on, 1.0 - off)):
            p = chance * if_on + (1.0 - chance) * if_off
            posterior = np.divide(chance * if_on, p, out=np.zeros_like(p), where=p > 0.0)
            after += p * loss(posterior, posterior * share, mine)
        return self._spread(np.maximum(loss(chance, part, mine) - after, 0.0))

    def larger_gain(
        self, picture: tuple[Floats, Floats], heard: tuple[Flags, Flags], form: Form = worth
    ) -> Floats:
        """Return (offers, causes): the gain, or what finding is worth where that is more.

        Parameters
        ----------
        picture : posterior and responsibility
        heard : (causes,) which ones some check has found, (offers,) which checks are still open
        form : of the worth of finding, as `triage.proof.worth`
        """
        (q, r), (found, may) = picture, heard
        comeback, danger, repair = self.prices
        suspects = Suspects(q, comeback * r + danger * q, repair, found)
        return np.maximum(self.gain(q, r), self._spread(form(self.looks, suspects, may)))

    def _spread(self, fall: Floats) -> Floats:
        """Return (offers, causes) from one number a verdict; of several the best counts."""
        return spread(self.looks, fall, (len(self.offers), len(self.prices[1])))

    def _reliability(self, q: Floats) -> tuple[Floats, Floats]:
        """Return P(found | on) and P(found | off), other targets of one verdict counted in."""
        strength = np.where(
            self.gathers, (self.on - self.off) / np.maximum(1.0 - self.off, 1e-9), 0.0
        )
        silent = 1.0 - strength * q[self.cause]
        whole = np.ones(len(self.offers))
        np.multiply.at(whole, self.offer, silent)
        others = whole[self.offer] / np.maximum(silent, 1e-9)
        off = np.where(self.gathers, 1.0 - (1.0 - self.off) * others, self.off)
        return np.where(self.gathers, 1.0 - (1.0 - off) * (1.0 - strength), self.on), off


def _chances(network: Network, verdict: VerdictNode) -> tuple[float, float, float]:
    """Return P(found | on), P(found | off) of one verdict alone, and 1 if others feed its node."""
    if verdict.node is None:
        return verdict.p_found_if_on, verdict.p_found_if_off, 0.0
    known = network.nodes[verdict.node]
    strength = {parent.id: parent.strength for parent in known.parents}.get(verdict.target, 0.0)
    return 1.0 - (1.0 - known.base) * (1.0 - strength), known.base, 1.0
