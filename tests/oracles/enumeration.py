"""Brute force: add up the probability of every state of every node.

The joint probability of one full assignment is the product over nodes of
P(node's state | its parents' states); a posterior is a sum of such products
over another. Nothing is pruned, ordered or shared, so there is little that can
be wrong. It comes twice:

`enumerate_in_doubles`
    numpy, 2^(free nodes) assignments at once. Only additions and
    multiplications of non-negative doubles and the complements 1 - s of given
    parameters: each result carries a relative error of a few units in the last
    place for each factor, no cancellation anywhere.
`enumerate_in_integers`
    exact. Every double is an integer over a power of two, so with one common
    denominator 2^k the whole sum is integer arithmetic; only the final
    quotient is rounded. This is the judge where doubles themselves are in
    question.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from tests.oracles.documents import Answer, Document, Evidence, OracleNode, read_nodes

__all__ = ["enumerate_in_doubles", "enumerate_in_integers", "smallest_conflict_size"]

MAX_FREE_NODES = 20  # 2^20 doubles, a handful of times: some tens of megabytes

Doubles = npt.NDArray[np.float64]
Bits = npt.NDArray[np.bool_]


def enumerate_in_doubles(document: Document, evidence: Evidence) -> Answer:
    """Return every node's posterior, summed over all assignments in doubles.

    Examples
    --------
    >>> net = {"nodes": [
    ...     {"id": "c", "kind": "cause", "prior": 0.5},
    ...     {"id": "f", "kind": "finding", "leak": 0.0, "parents": [{"id": "c", "strength": 0.5}]}]}
    >>> answer = enumerate_in_doubles(net, {"f": False})
    >>> round(answer.on["c"], 12), round(math.exp(answer.log_evidence), 12)
    (0.333333333333, 0.75)
    """
    nodes = read_nodes(document)
    free = [node.id for node in nodes if not isinstance(evidence.get(node.id), bool)]
    if len(free) > MAX_FREE_NODES:
        raise ValueError(f"{len(free)} nodes without a fixed state, {MAX_FREE_NODES} are allowed")
    number = np.arange(2 ** len(free))
    is_on: dict[str, Bits] = {
        key: (number >> position & 1).astype(bool) for position, key in enumerate(free)
    }
    for node in nodes:
        if node.id not in is_on:
            is_on[node.id] = np.full(number.shape, evidence[node.id])
    weight = np.ones(number.shape)
    for node in nodes:
        weight *= np.where(is_on[node.id], *_on_and_off(node, is_on, number.shape))
        if node.id in free and node.id in evidence:
            weight *= np.where(is_on[node.id], evidence[node.id], 1.0)
    total = float(weight.sum())
    if total == 0.0:
        return Answer({}, -math.inf)
    on = {node.id: float(weight[is_on[node.id]].sum()) / total for node in nodes}
    return Answer(on, math.log(total))


def _on_and_off(
    node: OracleNode, is_on: Mapping[str, Bits], shape: tuple[int, ...]
) -> tuple[Doubles, Doubles]:
    """Return P(on) and P(off) of a node in every assignment, each without subtraction."""
    on = np.full(shape, float(node.base))
    off = np.full(shape, 1.0 - node.base)
    for parent, strength in node.strengths.items():
        # either it was on already, or it was off and this parent switches it on
        on = np.where(is_on[parent], on + off * strength, on)
        off = np.where(is_on[parent], off * (1.0 - strength), off)
    return on, off


def enumerate_in_integers(document: Document, evidence: Evidence) -> Answer:
    """Return every node's posterior, exact until the last rounding to a double.

    Examples
    --------
    Ten digits lost by 1 - (1 - 1e-10) * (1 - 1e-10) in doubles are kept here:

    >>> net = {"nodes": [
    ...     {"id": "c", "kind": "cause", "prior": 1e-10},
    ...     {"id": "f", "kind": "finding", "leak": 1e-10, "parents": [{"id": "c", "strength": 1}]}]}
    >>> answer = enumerate_in_integers(net, {"f": True})
    >>> answer.on["c"]
    0.500000000025
    """
    nodes = read_nodes(document)
    stated: list[float] = [node.base for node in nodes]
    stated += [strength for node in nodes for strength in node.strengths.values()]
    stated += evidence.values()
    shift = max(Fraction(value).denominator.bit_length() - 1 for value in stated)
    total, on = 0, dict.fromkeys((node.id for node in nodes), 0)
    for state, weight in _assignments(nodes, evidence, shift):
        total += weight
        for key, value in state.items():
            on[key] += weight * value
    if total == 0:
        return Answer({}, -math.inf)
    scale = sum(1 + len(node.strengths) for node in nodes) + sum(
        not isinstance(value, bool) for value in evidence.values()
    )
    log_evidence = _log_of(Fraction(total, 1 << shift * scale))
    return Answer({key: float(Fraction(part, total)) for key, part in on.items()}, log_evidence)


def _assignments(
    nodes: Sequence[OracleNode], evidence: Evidence, shift: int
) -> Iterator[tuple[dict[str, bool], int]]:
    """Yield every full assignment that agrees with the evidence, with its integer weight.

    Weights of all assignments share the denominator 2^(shift * factors), where each
    node has one factor for itself, one for each link in and one for a likelihood ratio.
    """
    one = 1 << shift
    stack: list[tuple[dict[str, bool], int]] = [({}, 1)]
    while stack:
        state, weight = stack.pop()
        if weight == 0:
            continue
        if len(state) == len(nodes):
            yield state, weight
            continue
        node = nodes[len(state)]
        off = one - _scaled(node.base, shift)
        for parent, strength in node.strengths.items():
            off *= one - _scaled(strength, shift) if state[parent] else one
        on = (1 << shift * (1 + len(node.strengths))) - off
        seen = evidence.get(node.id)
        if not isinstance(seen, bool) and seen is not None:
            on, off = on * _scaled(seen, shift), off * one
        if seen is not False:
            stack.append(({**state, node.id: True}, weight * on))
        if seen is not True:
            stack.append(({**state, node.id: False}, weight * off))


def _scaled(value: float, shift: int) -> int:
    """Return value * 2^shift, an integer because 2^shift is a common denominator."""
    scaled = Fraction(value) * (1 << shift)
    assert scaled.denominator == 1
    return scaled.numerator


def _log_of(ratio: Fraction) -> float:
    """Return the natural log of a positive fraction too small or large for a double."""
    power = ratio.numerator.bit_length() - ratio.denominator.bit_length()
    mantissa = ratio / Fraction(2) ** power
    return math.log(mantissa) + power * math.log(2.0)


def smallest_conflict_size(document: Document, evidence: Evidence) -> int:
    """Return how few of the statements already cannot hold together; 0 if all can."""
    for size in range(len(evidence) + 1):
        for chosen in itertools.combinations(evidence.items(), size):
            if not enumerate_in_doubles(document, dict(chosen)).is_possible:
                return size
    return 0
