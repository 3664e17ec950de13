"""What every oracle reads and returns: the plain network document and an answer.

The oracles take the document of the public interface, not the project's own
`Network`, and order and check nothing with the project's code: an error there
must not be able to hide here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["Answer", "Document", "Evidence", "OracleNode", "read_nodes"]

Document = Mapping[str, Any]
Evidence = Mapping[str, "bool | float"]


@dataclass(frozen=True)
class OracleNode:
    """One binary variable: its own probability and its links in, by parent id."""

    id: str
    kind: str
    base: float
    strengths: Mapping[str, float]


@dataclass(frozen=True)
class Answer:
    """The posterior of every node and the natural log of the evidence's probability.

    `on` is empty when the evidence is impossible (`log_evidence` is then -inf).
    """

    on: Mapping[str, float]
    log_evidence: float

    @property
    def is_possible(self) -> bool:
        """Whether the network gives the evidence a probability above zero."""
        return self.log_evidence > -math.inf


def read_nodes(document: Document) -> list[OracleNode]:
    """Return the nodes with every parent before its children.

    Examples
    --------
    >>> nodes = read_nodes({"nodes": [
    ...     {"id": "f", "kind": "finding", "leak": 0.1, "parents": [{"id": "c", "strength": 0.5}]},
    ...     {"id": "c", "kind": "cause", "prior": 0.2}]})
    >>> [(node.id, node.base) for node in nodes]
    [('c', 0.2), ('f', 0.1)]
    """
    waiting = [
        OracleNode(
            id=entry["id"],
            kind=entry["kind"],
            base=entry["prior"] if entry["kind"] == "cause" else entry.get("leak", 0.0),
            strengths={link["id"]: link["strength"] for link in entry.get("parents", ())},
        )
        for entry in document["nodes"]
    ]
    placed: dict[str, OracleNode] = {}
    while waiting:
        ready = [node for node in waiting if node.strengths.keys() <= placed.keys()]
        if not ready:
            raise ValueError("the links form a loop or start at a node that is not there")
        placed.update((node.id, node) for node in ready)
        waiting = [node for node in waiting if node.id not in placed]
    return list(placed.values())
