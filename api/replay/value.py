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

from collections.abc import Sequence

import numpy as np

from graph.compiled import CheckItem, VerdictNode
from triage.arrays import Flags, Floats, Ints
from triage.model import Network
from triage.proof import PROVEN
from triage.stakes import Stakes, loss

__all__ = ["Catalogue"]


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

    def gain_of_proof(self, q: Floats, r: Floats, found: Flags) -> Floats:
        """Return what proving each cause by each check is worth, as `triage.proof` has it.

        Parameters
        ----------
        q, r : posterior and responsibility
        found : (causes,) which ones some check has found
        """
        comeback, danger, _ = self.prices
        leave = np.where(found & (q >= PROVEN), 0.0, comeback * r + danger * q)
        return self._spread(np.maximum(self.on - self.off, 0.0) * leave[self.cause])

    def _spread(self, fall: Floats) -> Floats:
        """Return (offers, causes) from one number a verdict; of several the best counts."""
        gain = np.zeros((len(self.offers), len(self.prices[1])))
        np.maximum.at(gain, (self.offer, self.cause), fall)
        return gain

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
