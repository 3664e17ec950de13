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
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from triage.exact import posterior
from triage.model import Network

__all__ = ["Account", "incremental", "leave_one_out", "log_odds_decibans"]

Item = TypeVar("Item")
Evidence = Mapping[str, bool | float]
#: Probabilities are kept this far from 0 and 1 before odds are taken.
_EDGE = 1e-12


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
    network: Network,
    items: Sequence[Item],
    combine: Callable[[Sequence[Item]], Evidence],
    causes: Sequence[str],
) -> dict[str, list[float]]:
    """Return, for each cause, the weight in decibans of each item, others kept.

    Parameters
    ----------
    network : Network
    items : pieces of evidence, of any type
    combine : makes evidence for the network from a choice of items
    causes : ids of the causes asked about
    """
    whole = posterior(network, combine(items)).causes
    weights: dict[str, list[float]] = {cause: [] for cause in causes}
    for k in range(len(items)):
        rest = [item for j, item in enumerate(items) if j != k]
        without = posterior(network, combine(rest)).causes
        for cause in causes:
            weights[cause].append(
                log_odds_decibans(whole[cause]) - log_odds_decibans(without[cause])
            )
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
