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
from heapq import heappop, heappush
from itertools import count

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
    reached = _reached(network, cause, set(absent) - {cause})
    paths = [_path(reached, cause, t) for t in targets if t in reached and t != cause]
    return sorted(paths, key=lambda path: (-path.strength, path.nodes))[:most]


def _reached(network: Network, cause: str, barred: set[str]) -> dict[str, tuple[str, float]]:
    """Return, for each node that can be reached, the last link of its strongest chain.

    Of chains that are equally strong the one found first stays.
    """
    last, length = {cause: ("", 1.0)}, {cause: 0.0}
    order = count(1)
    open_: list[tuple[float, int, str]] = [(0.0, 0, cause)]
    done: set[str] = set()
    while open_:
        here, _, node = heappop(open_)
        if node in done:
            continue
        done.add(node)
        for link in network.children[node]:
            if link.id in barred or link.strength <= 0.0:
                continue
            there = here - math.log(link.strength)
            if there < length.get(link.id, math.inf):
                last[link.id], length[link.id] = (node, link.strength), there
                heappush(open_, (there, next(order), link.id))
    return last


def _path(reached: dict[str, tuple[str, float]], cause: str, target: str) -> Path:
    """Return the chain that ends in a node."""
    nodes, strengths = [target], []
    while nodes[-1] != cause:
        before, strength = reached[nodes[-1]]
        nodes.append(before)
        strengths.append(strength)
    return Path(tuple(reversed(nodes)), tuple(reversed(strengths)))
