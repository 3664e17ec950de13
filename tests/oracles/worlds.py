"""Brute force over worlds: every base and every link acts or stays silent.

The functional reading of a noisy-OR network: each node has a coin of its own and
each link has one; a node is on when its own coin or a link from a parent that is
on says so. All combinations are added up, so that questions about *which links
acted* have an exact answer, not only those about which nodes are on.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tests.oracles.documents import Document, Evidence, read_nodes

__all__ = ["Worlds", "every_world"]

MAX_COINS = 20


@dataclass(frozen=True)
class Worlds:
    """Every world that agrees with the evidence, and its probability given it."""

    on: dict[str, npt.NDArray[np.bool_]]
    acted: dict[tuple[str, str], npt.NDArray[np.bool_]]  # and the parent is on
    weight: npt.NDArray[np.float64]

    def chance(self, where: npt.NDArray[np.bool_]) -> float:
        """Return the probability of the worlds that are marked."""
        return float(self.weight[where].sum())

    def leads(
        self, cause: str, ends: Collection[str], causes: Collection[str]
    ) -> npt.NDArray[np.bool_]:
        """Return where a chain of links that acted leads from the cause to an end."""
        reached = {cause: self.on[cause]}
        out = np.zeros(self.weight.shape, np.bool_)
        for key in self.on:  # parents come before their children
            if key != cause and key not in causes:
                here = np.zeros(self.weight.shape, np.bool_)
                for (parent, child), acts in self.acted.items():
                    if child == key and parent in reached:
                        here |= reached[parent] & acts
                reached[key] = here
                if key in ends:
                    out |= here
        return out


def every_world(document: Document, evidence: Evidence) -> Worlds:
    """Return every world in which the evidence holds."""
    nodes = read_nodes(document)
    links = [(parent, node.id) for node in nodes for parent in node.strengths]
    count = len(nodes) + len(links)
    if count > MAX_COINS:
        raise ValueError(f"{count} coins, {MAX_COINS} are allowed")
    number = np.arange(2**count)
    coin = [(number >> k & 1).astype(bool) for k in range(count)]
    weight = np.ones(number.shape)
    on: dict[str, npt.NDArray[np.bool_]] = {}
    acted: dict[tuple[str, str], npt.NDArray[np.bool_]] = {}
    for k, node in enumerate(nodes):
        weight *= np.where(coin[k], node.base, 1.0 - node.base)
        on[node.id] = coin[k].copy()
        for parent, strength in node.strengths.items():
            toss = coin[len(nodes) + links.index((parent, node.id))]
            weight *= np.where(toss, strength, 1.0 - strength)
            acted[parent, node.id] = toss & on[parent]
            on[node.id] |= acted[parent, node.id]
    for key, value in evidence.items():
        weight *= (on[key] == value) if isinstance(value, bool) else np.where(on[key], value, 1.0)
    return Worlds(on, acted, weight / weight.sum())
