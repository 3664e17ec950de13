"""Why a cause stands where it stands: the weight of each piece of evidence.

The weight of a finding for a cause is how far it moves the log odds, in
decibans: ten times the common logarithm of (odds with everything) / (odds with
everything but it) [1]_. In a noisy-OR network the ratios of single findings do
not multiply to the posterior odds, so two accounts are given:

* *leave one out*: what would be missing without this finding, all others kept;
* *incremental*: added one by one in a stated order; these parts do add up to the
  whole way from the prior to the posterior.

A third question looks ahead: which open question would move the cause most.
`moves` turns it round: two lanes, the cause on and off, tell how likely every
other node is either way, and Bayes' rule tells what its answer would say.

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
from itertools import pairwise
from typing import TypeVar

import numpy as np

from triage.arrays import Floats, Ints
from triage.exact import Standing, as_if_independent, stand
from triage.forgetting import forget

__all__ = ["Account", "Move", "incremental", "leave_one_out", "log_odds_decibans", "moves"]

Item = TypeVar("Item")
Evidence = Mapping[str, bool | float]
Said = Callable[[Item], Sequence[tuple[str, bool | float]]]
Combine = Callable[[Sequence[Item]], Evidence]
#: Probabilities are kept this far from 0 and 1 before odds are taken.
_EDGE = 1e-12
_LANES = 8


@dataclass(frozen=True, slots=True)
class Account:
    """An incremental account of one cause: parts that add up."""

    prior_decibans: float
    parts: tuple[float, ...]  # one for each item, in the stated order
    posterior_decibans: float


@dataclass(frozen=True, slots=True)
class Move:
    """What the answer to one open question would do to a cause."""

    chance: float  # of the answer yes
    if_yes: float  # posterior of the cause then
    if_no: float

    @property
    def expected(self) -> float:
        """Expected size of the move, over both answers."""
        here = self.chance * self.if_yes + (1.0 - self.chance) * self.if_no
        up, down = abs(self.if_yes - here), abs(self.if_no - here)
        return self.chance * up + (1.0 - self.chance) * down


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
    said: Said[Item],
    combine: Combine[Item],
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
    """
    rows = _rows(state, causes)
    without = _chance_without(state, items, (said, combine), rows)
    weights: dict[str, list[float]] = {}
    for k, cause in enumerate(causes):
        whole = log_odds_decibans(float(state.chance[rows[k]]))
        weights[cause] = [whole - log_odds_decibans(p) for p in without[k].tolist()]
    return weights


def incremental(
    state: Standing, items: Sequence[Item], combine: Combine[Item], causes: Sequence[str]
) -> dict[str, Account]:
    """Return, for each cause, what each item adds when they come in this order.

    Parameters are those of `leave_one_out`. The parts and the prior's log odds add
    up to the posterior's: each part is the step from the items before it to those
    with it.

    Notes
    -----
    The case is answered again for each number of items: few statements make small
    tables, which is cheaper than taking the others back out of large ones.
    """
    rows, network = _rows(state, causes), state.compiled.network

    def chance_of_first(count: int) -> Floats:
        return stand(network, combine(items[:count]), rough=True).chance

    before = state.compiled.side_by_side(chance_of_first, range(len(items)))
    accounts = {}
    for row, cause in zip(rows.tolist(), causes, strict=True):
        level = [log_odds_decibans(float(chance[row])) for chance in (*before, state.chance)]
        parts = tuple(after - last for last, after in pairwise(level))
        accounts[cause] = Account(level[0], parts, level[-1])
    return accounts


def moves(state: Standing, cause: str, questions: Sequence[tuple[str, float, float]]) -> list[Move]:
    """Return what the answer to each question would do to a cause.

    Parameters
    ----------
    state : the case
    cause : id of a cause
    questions : node, P(yes | it is on) and P(yes | it is off)

    Notes
    -----
    Exact for nodes that the case holds in its tables. One that nothing seen
    depends on is taken as the noisy-OR of its parents' chances, as if they were
    independent of each other given the cause.
    """
    row = state.compiled.network.arrays.index[cause]
    axis, q = state.compiled.value_axis[row], float(state.chance[row])
    index = state.compiled.network.arrays.index
    if axis < 0:
        return [Move(float(np.nan_to_num(state.chance[index[n]])), q, q) for n, _, _ in questions]
    unary, gate = state.compiled.lanes(2)
    unary[axis, 1, 0], unary[axis, 0, 1] = 0.0, 0.0
    chance = state.compiled.evaluate(unary, gate)[1]
    chance[row] = (0.0, 1.0)
    out = []
    for node, yes_if_on, yes_if_off in questions:
        off, on = (
            yes_if_off + (yes_if_on - yes_if_off) * _chance_of(state, chance[:, lane], index[node])
            for lane in range(2)
        )
        yes = q * on + (1.0 - q) * off
        if_yes = q * on / yes if yes > 0.0 else q
        if_no = q * (1.0 - on) / (1.0 - yes) if yes < 1.0 else q
        out.append(Move(yes, if_yes, if_no))
    return out


def _chance_of(state: Standing, chance: Floats, row: int) -> float:
    """Return P(on) of a node in one lane."""
    if np.isnan(chance[row]):
        return as_if_independent(state.compiled.network, chance, row)
    return float(chance[row])


def _rows(state: Standing, causes: Sequence[str]) -> Ints:
    """Return the node rows of some causes."""
    index = state.compiled.network.arrays.index
    return np.array([index[cause] for cause in causes], np.int64)


def _chance_without(
    state: Standing, items: Sequence[Item], reading: tuple[Said[Item], Combine[Item]], rows: Ints
) -> Floats:
    """Return (rows, items) chances with each item taken back, all others kept.

    An item is a lane: its evidence is taken back from the compiled case. Where the
    tables cannot do that - something depends on an observed node, or two items saw
    the same node - the case is answered again without it.
    """
    said, combine = reading
    index = state.compiled.network.arrays.index
    seen = Counter(n for item in items for n, value in said(item) if isinstance(value, bool))
    out = np.empty((rows.size, len(items)))
    for start in range(0, len(items), _LANES):
        batch = items[start : start + _LANES]
        weights = state.compiled.lanes(len(batch))
        slow = [
            lane
            for lane, item in enumerate(batch)
            if not all(
                seen[node] <= 1 and forget(state.compiled, weights, lane, index[node], value)
                for node, value in said(item)
            )
        ]
        known = state.compiled.evaluate(*weights)[1][rows, : len(batch)]
        out[:, start : start + len(batch)] = known
        for lane in slow:
            rest = combine([item for j, item in enumerate(items) if j != start + lane])
            again = stand(state.compiled.network, rest, rough=True)
            out[:, start + lane] = again.chance[rows]
    here = np.repeat(state.chance[rows][:, None], len(items), axis=1)
    return np.where(np.isnan(out), here, out)  # a cause that nothing seen depends on
