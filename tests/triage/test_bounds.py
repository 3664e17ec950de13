"""Intervals past the budget hold the exact answer.

The oracle is the exact engine itself, which is proved against enumeration and pyAgrum
elsewhere; the bounds of Jaakkola and Jordan (1999, Journal of Artificial Intelligence
Research 10) are cited from memory.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from tests.oracles.random_networks import Shape, Statements, generator, random_document
from tests.oracles.random_networks import random_evidence as draw_evidence
from triage.bounds import Bounds, bounds
from triage.errors import InferenceTooLargeError
from triage.exact import Posterior, posterior
from triage.model import Network

COUNT = 900
SHAPES = (
    Shape(causes=12, states=0, findings=8, layers=2, max_parents=7, min_parents=3),
    Shape(causes=10, states=4, findings=9, max_parents=7, min_parents=3),
)


@cache
def _case(number: int) -> tuple[Network, Statements, Posterior]:
    """Return a random network with some findings, and the exact answer."""
    rng = generator(f"bounds-{number}")
    document = random_document(rng, SHAPES[number % len(SHAPES)])
    drawn = draw_evidence(rng, document, stated=0.6, soft=0.1)
    evidence = {key: value for key, value in drawn.items() if key.startswith("f")}
    network = Network.from_document(document)
    return network, evidence, posterior(network, evidence)


@cache
def _bounded(number: int) -> Bounds | None:
    """Return the bounds under a budget two axes too small; None where nothing helps."""
    network, evidence, exact = _case(number)
    try:
        return bounds(network, evidence, budget=max(exact.width - 2, 1))
    except InferenceTooLargeError:
        return None


@pytest.mark.parametrize("block", range(0, COUNT, 50))
def test_the_interval_holds_the_exact_answer(block: int) -> None:
    """Every cause, and the evidence itself, lies between the ends."""
    for number in range(block, block + 50):
        told, (_, _, exact) = _bounded(number), _case(number)
        if told is None:
            continue
        for cause, p in exact.causes.items():
            assert told.low[cause] <= p <= told.high[cause], (number, cause)
        assert told.log_evidence[0] <= exact.log_evidence + 1e-9
        assert told.log_evidence[1] >= exact.log_evidence - 1e-9


def test_the_sweep_bounded_real_intervals() -> None:
    """Partner of the test above: findings replaced in 500 networks, no interval without content."""
    told = [_bounded(number) for number in range(COUNT)]
    relaxed = [one for one in told if one is not None and one.relaxed]
    assert len(relaxed) >= 500
    spread = [np.mean([one.high[c] - one.low[c] for c in one.low]) for one in relaxed]
    assert 0.0 < float(np.median(spread)) < 0.6
    assert sum(s < 1.0 for s in spread) == len(spread)


def test_within_the_budget_the_interval_is_the_exact_answer() -> None:
    """Nothing is replaced, and both ends are the posterior to nine digits."""
    network, evidence, exact = _case(1)
    told = bounds(network, evidence)
    assert told.relaxed == ()
    for cause, p in exact.causes.items():
        assert told.low[cause] == pytest.approx(p, rel=1e-8)
        assert told.high[cause] == pytest.approx(p, rel=1e-8)


def test_what_is_too_large_with_everything_replaced_is_refused() -> None:
    """Where states tie the causes together no finding can be blamed, and the budget is named."""
    nodes = [{"id": f"c{i}", "kind": "cause", "prior": 0.1, "parents": []} for i in range(8)]
    parents = [{"id": f"c{i}", "strength": 0.5} for i in range(8)]
    nodes += [{"id": f"s{k}", "kind": "state", "leak": 0.1, "parents": parents} for k in range(6)]
    nodes += [
        {
            "id": f"f{k}",
            "kind": "finding",
            "leak": 0.1,
            "parents": [{"id": f"s{k}", "strength": 0.5}],
        }
        for k in range(6)
    ]
    network = Network.from_document({"nodes": nodes})
    with pytest.raises(InferenceTooLargeError, match=r"budget is 2\^1"):
        bounds(network, {f"f{k}": True for k in range(6)}, budget=1)
