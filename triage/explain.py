"""Why a cause stands where it stands: the weight of each piece of evidence.

The weight of a finding for a cause is how far it moves the log odds, in
decibans: ten times the common logarithm of (odds with everything) / (odds with
everything but it) [1]_. In a noisy-OR network the ratios of single findings do
not multiply to the posterior odds, so two accounts are given:

* *leave one out*: what would be missing without this finding, all others kept;
* *incremental*: added one by one in a stated order; these parts do add up to the
  whole way from the prior to the posterior.

References
----------
.. [1] Good, I. J. (1985). Weight of evidence: a brief survey. Bayesian
       Statistics 2, 249-270. (From memory.)
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from triage.exact import Standing, posterior, stand
from triage.model import Network

__all__ = ["Account", "incremental", "leave_one_out", "log_odds_decibans"]

Item = TypeVar("Item")
Evidence = Mapping[str, bool | float]
#: Probabilities are kept this far from 0 and 1 before odds are taken.
_EDGE = 1e-12
_LANES = 8


@dataclass(frozen=True, slots=True)
class Account:
    """An incremental account of one cause: parts that add up."""

    prior_decibans: float
    parts: tuple[float, ...]  # one for each item, in the stated order
    posterior_decibans: float


def log_odds_decibans(probability: float) -> float:
    """Return 10 log10 of the odds.

    Examples
    --------
    >>> log_odds_decibans(0.5)
    0.0
    >>> round(log_odds_decibans(10 / 11), 9)
    10.0
    """
    p = min(max(probability, _EDGE), 1.0 - _EDGE)
    return 10.0 * math.log10(p / (1.0 - p))


def leave_one_out(
    state: Standing,
    items: Sequence[Item],
    said: Callable[[Item], Sequence[tuple[str, bool | float]]],
    combine: Callable[[Sequence[Item]], Evidence],
    causes: Sequence[str],
) -> dict[str, list[float]]:
    """Return, for each cause, the weight in decibans of each item, others kept.

    Parameters
    ----------
    state : the case with all items
    items : pieces of evidence, of any type
    said : what an item says, as pairs of node and evidence
    combine : makes evidence for the network from a choice of items
    causes : ids of the causes asked about

    Notes
    -----
    An item is a lane: its evidence is taken back from the compiled case. Where
    the tables cannot do that - something depends on an observed node, or two
    items saw the same node - the case is answered again without it.
    """
    index = state.compiled.network.arrays.index
    rows = np.array([index[cause] for cause in causes], np.int64)
    seen = Counter(n for item in items for n, value in said(item) if isinstance(value, bool))
    without = np.empty((rows.size, len(items)))
    for start in range(0, len(items), _LANES):
        batch = items[start : start + _LANES]
        unary, gate = state.compiled.lanes(_LANES)
        slow = [
            lane
            for lane, item in enumerate(batch)
            if not all(
                seen[node] <= 1 and state.compiled.forget((unary, gate), lane, index[node], value)
                for node, value in said(item)
            )
        ]
        without[:, start : start + len(batch)] = state.compiled.evaluate(unary, gate)[1][
            rows, : len(batch)
        ]
        for lane in slow:
            rest = combine([item for j, item in enumerate(items) if j != start + lane])
            without[:, start + lane] = stand(state.compiled.network, rest).chance[rows]
    weights: dict[str, list[float]] = {}
    for row, cause in enumerate(causes):
        whole = log_odds_decibans(float(state.chance[index[cause]]))
        weights[cause] = [
            0.0 if math.isnan(p) else whole - log_odds_decibans(p) for p in without[row].tolist()
        ]
    return weights


def incremental(
    network: Network,
    items: Sequence[Item],
    combine: Callable[[Sequence[Item]], Evidence],
    causes: Sequence[str],
) -> dict[str, Account]:
    """Return, for each cause, what each item adds when they come in this order.

    The parts and the prior's log odds add up to the posterior's, by construction
    of a telescoping sum; a test holds it against the network's own answer.
    """
    steps = [posterior(network, combine(items[:k])).causes for k in range(len(items) + 1)]
    accounts = {}
    for cause in causes:
        level = [log_odds_decibans(step[cause]) for step in steps]
        parts = tuple(after - before for before, after in zip(level, level[1:], strict=False))
        accounts[cause] = Account(level[0], parts, level[-1])
    return accounts
