"""The strongest chains of links from a cause to what is complained of.

The strength of a chain is the product of its links' strengths: the chance that
every link of it acts, if its cause is there. It says which story is the likeliest
one to tell, not how likely the story is; several chains together are stronger. A
chain does not go through a node that was seen absent: there the story ends.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx

from triage.model import Network

__all__ = ["Path", "strongest"]


@dataclass(frozen=True, slots=True)
class Path:
    """One chain, from its cause to a finding."""

    nodes: tuple[str, ...]
    strengths: tuple[float, ...]  # of the links between them

    @property
    def strength(self) -> float:
        """Chance that every link acts, if the cause is there."""
        return math.prod(self.strengths)


def strongest(
    network: Network,
    cause: str,
    targets: Collection[str],
    *,
    absent: Collection[str] = (),
    most: int = 3,
) -> list[Path]:
    """Return the strongest chain to each target, strongest first.

    Parameters
    ----------
    network : Network
    cause : where the chains start
    targets : where they may end; one that cannot be reached is left out
    absent : nodes that no chain goes through
    most : how many chains at the most

    Notes
    -----
    The strongest chain is the shortest one where a link is as long as minus the
    logarithm of its strength (Dijkstra 1959).

    Examples
    --------
    >>> from triage.model import Node, Parent
    >>> network = Network([
    ...     Node("play", "cause", 0.1),
    ...     Node("gap", "state", 0.0, (Parent("play", 0.5),)),
    ...     Node("code", "finding", 0.0, (Parent("gap", 0.8), Parent("play", 0.1))),
    ... ])
    >>> strongest(network, "play", ["code"])[0].nodes
    ('play', 'gap', 'code')
    """
    barred = set(absent) - {cause}

    def length(_source: str, target: str, data: dict[str, float]) -> float | None:
        strength = data["strength"]
        return None if target in barred or strength <= 0.0 else -math.log(strength)

    found = nx.single_source_dijkstra_path(network.graph, cause, weight=length)
    paths = [_path(network, tuple(found[t])) for t in targets if t in found and t != cause]
    return sorted(paths, key=lambda path: (-path.strength, path.nodes))[:most]


def _path(network: Network, nodes: tuple[str, ...]) -> Path:
    """Return a chain with the strengths of its links."""
    edges = network.graph.edges
    return Path(nodes, tuple(float(edges[step]["strength"]) for step in pairwise(nodes)))
