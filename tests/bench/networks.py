"""Made-up networks and cases for the benchmark: shape stated, nothing else claimed.

Causes, states and findings lie in neighbourhoods; 85 % of the links stay inside
one. Nodes have three to four parents on average, a few hubs have 40 to 200.
Leaks are 1e-4 to 1e-2, priors 0.001 to 0.1, both log-uniform. A case is sampled
from the network itself: causes, then states, then findings; some findings
present and as many absent are what the technician reports.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.model import Network, Node, Parent

__all__ = ["SIZES", "Size", "make_cases", "make_network"]


@dataclass(frozen=True, slots=True)
class Size:
    """Numbers of causes, states, findings, and candidate checks to value."""

    causes: int
    states: int
    findings: int
    checks: int


SIZES = {
    "S": Size(60, 20, 120, 50),
    "M": Size(300, 80, 800, 100),
    "L": Size(2000, 500, 6000, 200),
    "XL": Size(10000, 2000, 40000, 300),
}
_NEIGHBOURHOOD = 12  # causes in one neighbourhood
_LOCAL = 0.85


def make_network(size: Size, seed: int) -> Network:
    """Return a network of the given size; the same seed gives the same network."""
    rng = np.random.default_rng(seed)
    places = max(1, size.causes // _NEIGHBOURHOOD)
    nodes = [Node(f"c{i}", "cause", float(10 ** rng.uniform(-3, -1))) for i in range(size.causes)]
    home = {f"c{i}": i % places for i in range(size.causes)}
    by_place: list[list[str]] = [[] for _ in range(places)]
    everywhere: list[str] = []
    for node in nodes:
        by_place[home[node.id]].append(node.id)
        everywhere.append(node.id)
    for kind, prefix, count in (("state", "s", size.states), ("finding", "f", size.findings)):
        hubs = set(rng.choice(count, max(1, count // 200), replace=False).tolist())
        made = []
        for i in range(count):
            place = int(rng.integers(places))
            parents = _parents(rng, by_place[place], everywhere, i in hubs)
            links = tuple(Parent(p, float(rng.uniform(0.05, 0.95))) for p in parents)
            made.append(
                (place, Node(f"{prefix}{i}", kind, float(10 ** rng.uniform(-4, -2)), links))
            )
        nodes += [node for _, node in made]
        if kind == "state":
            for place, node in made:
                by_place[place].append(node.id)
                everywhere.append(node.id)
    return Network(nodes)


def _parents(
    rng: np.random.Generator, near: list[str], everywhere: list[str], hub: bool
) -> list[str]:
    """Return distinct parents, most of them from the neighbourhood."""
    top = min(200, len(everywhere) // 2)
    wanted = int(rng.integers(min(40, top), top + 1)) if hub else int(rng.integers(2, 6))
    chosen: dict[str, None] = {}
    while len(chosen) < wanted:
        pool = near if not hub and rng.random() < _LOCAL else everywhere
        chosen[pool[int(rng.integers(len(pool)))]] = None
    return list(chosen)


def make_cases(network: Network, count: int, seed: int) -> list[dict[str, bool | float]]:
    """Return sampled cases of 3 to 20 findings present and as many absent."""
    rng = np.random.default_rng(seed)
    arrays = network.arrays
    keys = list(network.nodes)
    findings = [i for i, node in enumerate(network.nodes.values()) if node.kind == "finding"]
    cases: list[dict[str, bool | float]] = []
    while len(cases) < count:
        on = np.zeros(len(keys), np.bool_)
        for i in range(len(keys)):
            links = slice(arrays.pointer[i], arrays.pointer[i + 1])
            off = 1.0 - arrays.base[i]
            off *= np.prod(np.where(on[arrays.parents[links]], 1.0 - arrays.strengths[links], 1.0))
            on[i] = rng.random() >= off
        present = [i for i in findings if on[i]]
        absent = [i for i in findings if not on[i]]
        wanted = int(rng.integers(3, 21))
        if len(present) < 3:
            continue
        seen = rng.permutation(present)[:wanted].tolist()
        # Absent findings are asked about where the present ones are: near them.
        causes = network.ancestors(keys[i] for i in seen)
        near = [i for i in absent if any(p.id in causes for p in network.nodes[keys[i]].parents)]
        missing = rng.permutation(near or absent)[: len(seen)].tolist()
        cases.append({keys[i]: True for i in seen} | {keys[i]: False for i in missing})
    return cases
