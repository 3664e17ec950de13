"""A baseline: naive Bayes over single faults.

Exactly one cause is taken to be there, and every finding is taken to depend on it alone::

    log score(k) = log odds(k) + sum over findings of log P(finding | only k)

P(node | only k) runs down the network from parents to children as if the parents of a node were
independent of each other. This is the classic simple expert system; what it can't say is that
two things are wrong at once.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from graph.compiled import Value
from triage.arrays import Floats
from triage.model import Network

__all__ = ["SingleFault"]

_LEAST = 1e-9


class SingleFault:
    """The table P(node on | only cause k), and the scores that evidence gives.

    Parameters
    ----------
    network : the car's network
    """

    def __init__(self, network: Network) -> None:
        arrays = network.arrays
        self.index = arrays.index
        rows = np.flatnonzero(arrays.is_cause == 1)
        base = np.clip(arrays.base[rows], _LEAST, 1.0 - _LEAST)
        self.prior: Floats = np.log(base / (1.0 - base))
        self.table: Floats = np.zeros((arrays.base.size, rows.size))
        self.table[rows, np.arange(rows.size)] = 1.0
        for row in range(arrays.base.size):
            if not arrays.is_cause[row]:
                links = slice(arrays.pointer[row], arrays.pointer[row + 1])
                weights = arrays.strengths[links, None] * self.table[arrays.parents[links]]
                self.table[row] = 1.0 - (1.0 - arrays.base[row]) * np.prod(1.0 - weights, axis=0)

    def posterior(self, evidence: Mapping[str, Value]) -> Floats:
        """Return the chance of each cause being the one fault; sums to 1."""
        score = self.prior.copy()
        for key, value in evidence.items():
            on = self.table[self.index[key]]
            if isinstance(value, bool):
                likelihood = on if value else 1.0 - on
            else:
                likelihood = 1.0 + on * (float(value) - 1.0)
            score += np.log(np.maximum(likelihood, _LEAST))
        weights = np.exp(score - score.max())
        share: Floats = weights / weights.sum()
        return share
