"""The network: causes, states and findings joined by noisy-OR links.

Every node is binary. A node without parents is on with its own probability
(`base`); any node with parents is on unless its leak stays silent and every
parent that is on fails to switch it on::

    P(off | parents) = (1 - base) * prod(1 - strength[p] for p in parents that are on)

`base` is called *prior* on a cause and *leak* on a state or finding; the
arithmetic is the same. Strengths are *net*: they do not contain the leak.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, NoReturn

import numpy as np

from triage.arrays import Floats, Ints
from triage.errors import DocumentError, ParameterError, UnknownTermError

if TYPE_CHECKING:
    import networkx as nx  # else only where it is used: a first answer needs no graph of it

__all__ = ["Network", "NetworkArrays", "Node", "Parent"]

KINDS = ("cause", "state", "finding")


@dataclass(frozen=True, slots=True)
class Parent:
    """One link into a node: where it comes from and how strong it is."""

    id: str
    strength: float  # net, in [0, 1]


@dataclass(frozen=True, slots=True)
class Node:
    """One binary variable of the network."""

    id: str
    kind: str  # cause | state | finding
    base: float  # prior of a cause, leak of a state or finding; in [0, 1]
    parents: tuple[Parent, ...] = ()


@dataclass(frozen=True, slots=True)
class NetworkArrays:
    """The same network as arrays; the links of node ``i`` are ``pointer[i]:pointer[i + 1]``."""

    index: Mapping[str, int]  # node id -> row, in topological order
    base: Floats
    pointer: Ints
    parents: Ints
    strengths: Floats
    is_cause: Ints  # 1 for causes
    causes: Ints  # rows of the causes
    column: Ints  # of each node: its place among the causes, -1 for others
    alone: Floats  # P(on) of each node without parents before anything is seen, nan with parents


class Network:
    """A noisy-OR network: frozen, checked, in topological order.

    Parameters
    ----------
    nodes : iterable of Node
        In any order. Parents must be among the nodes; two links between the
        same pair of nodes are refused.

    Raises
    ------
    ParameterError
        If a prior, leak or strength lies outside [0, 1].
    UnknownTermError
        If a link starts at a node that is not there.
    DocumentError
        If an id is repeated, a kind is unknown or the links form a loop.

    Examples
    --------
    >>> network = Network([
    ...     Node("play", "cause", 0.1),
    ...     Node("hum", "finding", 0.01, (Parent("play", 0.5),)),
    ... ])
    >>> network.causes
    ('play',)
    """

    def __init__(self, nodes: Iterable[Node]) -> None:
        by_id: dict[str, Node] = {}
        for node in nodes:
            if node.id in by_id:
                raise DocumentError(
                    f"node {node.id!r} appears twice",
                    where="nodes",
                    allowed="one entry for each id",
                    remedy="remove or rename one",
                )
            by_id[node.id] = node
        for node in by_id.values():
            _check_node(node, by_id)
        self.nodes: Mapping[str, Node] = {key: by_id[key] for key in _topological(by_id)}

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> Network:
        """Return the network that a plain document describes.

        Parameters
        ----------
        document : mapping
            ``{"nodes": [{"id", "kind": "cause" | "state" | "finding",
            "prior" or "leak": probability, "parents": [{"id", "strength"}]}]}``.
            A missing prior or leak is refused for a cause and is 0 otherwise.

        Examples
        --------
        >>> Network.from_document({"nodes": [
        ...     {"id": "a", "kind": "cause", "prior": 0.2}]}).nodes["a"].base
        0.2
        """
        try:
            entries = document["nodes"]
        except (KeyError, TypeError):
            raise DocumentError(
                "no list of nodes", where="nodes", allowed='{"nodes": [...]}', remedy="add it"
            ) from None
        return cls(_node_from(entry, index) for index, entry in enumerate(entries))

    def to_document(self) -> dict[str, Any]:
        """Return the plain document from which `from_document` makes this network."""
        return {
            "nodes": [
                {
                    "id": node.id,
                    "kind": node.kind,
                    ("prior" if node.kind == "cause" else "leak"): node.base,
                    "parents": [{"id": p.id, "strength": p.strength} for p in node.parents],
                }
                for node in self.nodes.values()
            ]
        }

    @cached_property
    def causes(self) -> tuple[str, ...]:
        """Ids of all causes, in topological order."""
        return tuple(node.id for node in self.nodes.values() if node.kind == "cause")

    @cached_property
    def arrays(self) -> NetworkArrays:
        """The network as arrays, made once."""
        nodes = list(self.nodes.values())
        index = {node.id: row for row, node in enumerate(nodes)}
        counts = np.array([0, *(len(node.parents) for node in nodes)], np.int64)
        links = [parent for node in nodes for parent in node.parents]
        base = np.array([node.base for node in nodes], np.float64)
        is_cause = np.array([node.kind == "cause" for node in nodes], np.int64)
        return NetworkArrays(
            index,
            base,
            np.cumsum(counts),
            np.array([index[parent.id] for parent in links], np.int64),
            np.array([parent.strength for parent in links], np.float64),
            is_cause,
            np.flatnonzero(is_cause == 1),
            np.where(is_cause == 1, np.cumsum(is_cause) - 1, -1),
            np.where(counts[1:] == 0, base, np.nan),
        )

    @cached_property
    def children(self) -> Mapping[str, tuple[Parent, ...]]:
        """For each node its links out: child id and strength."""
        out: dict[str, list[Parent]] = {key: [] for key in self.nodes}
        for node in self.nodes.values():
            for parent in node.parents:
                out[parent.id].append(Parent(node.id, parent.strength))
        return {key: tuple(links) for key, links in out.items()}

    @cached_property
    def graph(self) -> nx.DiGraph[str]:
        """The links as a networkx graph with `strength` on each edge."""
        import networkx as nx

        graph: nx.DiGraph[str] = nx.DiGraph()
        graph.add_nodes_from(self.nodes)
        for node in self.nodes.values():
            for parent in node.parents:
                graph.add_edge(parent.id, node.id, strength=parent.strength)
        return graph

    def ancestors(self, ids: Iterable[str]) -> set[str]:
        """Return the given nodes and everything from which they can be reached."""
        found: set[str] = set()
        stack = list(ids)
        while stack:
            key = stack.pop()
            if key not in found:
                found.add(key)
                stack.extend(parent.id for parent in self.nodes[key].parents)
        return found

    def require(self, key: str, *, where: str = "evidence") -> Node:
        """Return the node, or name the nearest ids that do exist."""
        if key not in self.nodes:
            raise UnknownTermError("node", key, self.nodes.keys(), where=where)
        return self.nodes[key]


def _check_node(node: Node, by_id: Mapping[str, Node]) -> None:
    """Refuse a node whose numbers or links cannot be right."""
    if node.kind not in KINDS:
        raise DocumentError(
            f"kind {node.kind!r}",
            where=f"node {node.id!r}",
            allowed=", ".join(KINDS),
            remedy="use one of these",
        )
    word = "prior" if node.kind == "cause" else "leak"
    if not 0.0 <= node.base <= 1.0:
        raise ParameterError(word, node.base, where=repr(node.id))
    seen: set[str] = set()
    for parent in node.parents:
        if parent.id not in by_id:
            raise UnknownTermError("parent", parent.id, by_id.keys(), where=f"node {node.id!r}")
        if not 0.0 <= parent.strength <= 1.0:
            raise ParameterError(
                "link strength", parent.strength, where=f"{parent.id!r} -> {node.id!r}"
            )
        if parent.id in seen:
            raise DocumentError(
                f"two links from {parent.id!r}",
                where=f"node {node.id!r}",
                allowed="one link for each pair of nodes",
                remedy="join them into one strength",
            )
        seen.add(parent.id)


def _topological(by_id: Mapping[str, Node]) -> list[str]:
    """Return the ids with every parent before its children, else name the loop.

    Generation by generation, as networkx does it but without its graph, which takes several
    times the room of the network.
    """
    missing = {node.id: len(node.parents) for node in by_id.values()}
    children: dict[str, list[str]] = {}
    for node in by_id.values():
        for parent in node.parents:
            children.setdefault(parent.id, []).append(node.id)
    order: list[str] = []
    ready = [key for key, count in missing.items() if count == 0]
    while ready:
        order += ready
        freed = []
        for key in ready:
            for child in children.get(key, ()):
                missing[child] -= 1
                if missing[child] == 0:
                    freed.append(child)
        ready = freed
    if len(order) < len(by_id):
        _name_loop(by_id)
    return order


def _name_loop(by_id: Mapping[str, Node]) -> NoReturn:
    """Refuse links that form a loop, naming it."""
    import networkx as nx

    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_edges_from((p.id, node.id) for node in by_id.values() for p in node.parents)
    loop = [edge[0] for edge in nx.find_cycle(graph)]
    raise DocumentError(
        "a loop " + " -> ".join([*loop, loop[0]]),
        where="links",
        allowed="cause to effect only, never back",
        remedy="remove one of these links",
    )


def _node_from(entry: Mapping[str, Any], index: int) -> Node:
    """Return one node of a document; `index` names it when it has no id."""
    where = f"nodes[{index}]"
    try:
        key, kind = str(entry["id"]), str(entry["kind"])
        base = entry["prior"] if kind == "cause" else entry.get("leak", entry.get("prior", 0.0))
        parents = tuple(
            Parent(str(p["id"]), float(p["strength"])) for p in entry.get("parents", ())
        )
        return Node(key, kind, float(base), parents)
    except (KeyError, TypeError, ValueError) as error:
        raise DocumentError(
            f"an incomplete or unreadable node ({error})",
            where=where,
            allowed='{"id", "kind", "prior" or "leak", "parents": [{"id", "strength"}]}',
            remedy="complete it",
        ) from None
