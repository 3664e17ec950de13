"""Random networks and random possible evidence, the same on every run.

All chance in the tests comes through `generator`: it is started from the name
of what it is for, so that a failing case can be made again from its name.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.oracles.documents import Document, read_nodes

__all__ = ["Shape", "Statements", "generator", "random_document", "random_evidence"]

Statements = dict[str, bool | float]


def generator(name: str) -> np.random.Generator:
    """Return a source of random numbers that depends on the name alone."""
    return np.random.default_rng(zlib.crc32(name.encode()))


@dataclass(frozen=True)
class Shape:
    """How large a random network is and which numbers it uses."""

    causes: int
    states: int
    findings: int
    layers: int = 3  # causes, layers - 2 layers of states, findings
    max_parents: int = 4
    min_parents: int = 1
    cause_parents: float = 0.0  # share of causes that have a cause before them
    finding_parents: float = 0.0  # share of findings that follow from another finding
    extremes: float = 0.0  # share of parameters that are 0, 1 or tiny


def random_document(rng: np.random.Generator, shape: Shape) -> dict[str, Any]:
    """Return a network document of the given shape, nodes in shuffled order."""
    causes = [f"c{i}" for i in range(shape.causes)]
    nodes: list[dict[str, Any]] = []
    for position, key in enumerate(causes):
        earlier = causes[:position] if rng.random() < shape.cause_parents else []
        prior = _parameter(rng, shape.extremes, low=0.01, high=0.4)
        nodes.append(_node(rng, key, "cause", prior, _links(rng, shape, earlier)))
    above = list(causes)
    between = max(shape.layers - 2, 1)
    for layer in range(shape.layers - 2):
        made = [f"s{layer}-{i}" for i in range(layer, shape.states, between)]
        for key in made:
            leak = _parameter(rng, shape.extremes, low=0.001, high=0.1)
            nodes.append(_node(rng, key, "state", leak, _links(rng, shape, above)))
        above = made + above if made else above
    findings = [f"f{i}" for i in range(shape.findings)]
    for position, key in enumerate(findings):
        pool = list(above)
        if position and rng.random() < shape.finding_parents:
            pool = findings[:position]
        leak = _parameter(rng, shape.extremes, low=0.001, high=0.1)
        nodes.append(_node(rng, key, "finding", leak, _links(rng, shape, pool)))
    return {"nodes": [nodes[i] for i in rng.permutation(len(nodes))]}


def _node(
    rng: np.random.Generator, key: str, kind: str, base: float, parents: list[dict[str, Any]]
) -> dict[str, Any]:
    """Return one node entry of a document."""
    return {
        "id": key,
        "kind": kind,
        "prior" if kind == "cause" else "leak": base,
        "parents": parents,
    }


def _links(rng: np.random.Generator, shape: Shape, pool: Sequence[str]) -> list[dict[str, Any]]:
    """Return `min_parents` to `max_parents` links from different nodes of the pool."""
    if not pool:
        return []
    count = min(int(rng.integers(shape.min_parents, shape.max_parents + 1)), len(pool))
    return [
        {"id": pool[i], "strength": _parameter(rng, shape.extremes, low=0.05, high=0.95)}
        for i in rng.choice(len(pool), size=count, replace=False)
    ]


def _parameter(rng: np.random.Generator, extremes: float, *, low: float, high: float) -> float:
    """Return a probability between low and high, or now and then an extreme one."""
    if rng.random() < extremes:
        return float(rng.choice([0.0, 1.0, 1e-3, 1e-6, 1e-9, 1e-12, 1.0 - 1e-9], p=EXTREME_SHARES))
    return float(rng.uniform(low, high))


EXTREME_SHARES = (0.3, 0.1, 0.1, 0.15, 0.1, 0.15, 0.1)


def random_evidence(
    rng: np.random.Generator, document: Document, *, stated: float, soft: float
) -> Statements:
    """Return possible evidence on a share of all nodes, of whatever kind they are.

    The states are drawn from the network itself with every probability that is
    neither 0 nor 1 replaced by a half: unlikely together, but never impossible.
    """
    state: dict[str, bool] = {}
    for node in read_nodes(document):
        active = [strength for parent, strength in node.strengths.items() if state[parent]]
        given = [node.base, *active]
        if max(given) == 0.0 or max(given) == 1.0:
            state[node.id] = max(given) == 1.0
        else:
            state[node.id] = bool(rng.random() < 0.5)
    evidence: Statements = {}
    for key in sorted(state):
        if rng.random() < stated:
            is_soft = rng.random() < soft
            evidence[key] = float(10.0 ** rng.uniform(-3, 3)) if is_soft else state[key]
    return evidence
