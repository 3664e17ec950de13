"""Links made visible: every link that matters becomes a node of its own.

A noisy-OR link that may be inhibited is the same as a node with one parent (on with
the link's strength when the parent is on, never otherwise) that feeds its child for
sure. In the network so opened up, "the cause is there and one of its links is active"
is an event like any other, and an ordinary OR-node counts it:

`first_link`
    P(the cause has an active link into a node that is evidence, or leads to evidence).
`reaches`
    P(a chain of active links leads from the cause to a finding that is present):
    what the first link only bounds. Brute force over all states of nodes and links.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from typing import Any

from tests.oracles.documents import Document, Evidence, OracleNode, read_nodes
from tests.oracles.enumeration import enumerate_in_doubles

__all__ = ["first_link", "opened", "reaches", "with_verdict"]

MAX_STATES = 2**17


def opened(document: Document, cause: str, evidence: Evidence) -> dict[str, Any]:
    """Return the document with the links of one cause towards the evidence as nodes.

    The node ``part`` is on when at least one of them is active.
    """
    nodes = read_nodes(document)
    used = _leads_to(nodes, evidence)
    made: list[dict[str, Any]] = []
    links: list[str] = []
    for node in nodes:
        parents = []
        for parent, strength in node.strengths.items():
            if parent == cause and node.id in used:
                key = f"link-{node.id}"
                made.append(_entry(key, "state", 0.0, {parent: strength}))
                links.append(key)
                parents.append({"id": key, "strength": 1.0})
            else:
                parents.append({"id": parent, "strength": strength})
        name = "prior" if node.kind == "cause" else "leak"
        made.append({"id": node.id, "kind": node.kind, name: node.base, "parents": parents})
    made.append(_entry("part", "state", 0.0, dict.fromkeys(links, 1.0)))
    return {"nodes": made}


def first_link(document: Document, cause: str, evidence: Evidence) -> float:
    """Return the responsibility of a cause, by enumeration with its links as nodes."""
    return enumerate_in_doubles(opened(document, cause, evidence), evidence).on["part"]


def with_verdict(document: Document, target: str, on: float, off: float) -> dict[str, Any]:
    """Return the document with a node ``verdict``: P(on | target), P(on | not target)."""
    strength = 1.0 - (1.0 - on) / (1.0 - off)
    verdict = _entry("verdict", "finding", off, {target: strength})
    return {"nodes": [*document["nodes"], verdict]}


def reaches(document: Document, cause: str, evidence: Mapping[str, bool]) -> float:
    """Return P(an active chain from the cause ends in a finding that is present | evidence)."""
    nodes = read_nodes(document)
    total = chained = 0.0
    for weight, state, active in _opened_states(nodes, evidence):
        total += weight
        if state[cause]:
            touched = {cause}
            for node in nodes:  # parents come before children
                if any((p, node.id) in active and p in touched for p in node.strengths):
                    touched.add(node.id)
            if any(value and key in touched for key, value in evidence.items()):
                chained += weight
    return chained / total


def _opened_states(
    nodes: list[OracleNode], evidence: Mapping[str, bool]
) -> Iterator[tuple[float, dict[str, bool], set[tuple[str, str]]]]:
    """Yield weight, state of every node and active links, for all that agree with the evidence."""
    links = [(parent, node.id, s) for node in nodes for parent, s in node.strengths.items()]
    if 2 ** (len(nodes) + len(links)) > MAX_STATES:
        raise ValueError(f"{len(nodes)} nodes and {len(links)} links are too many to enumerate")
    for own in itertools.product((False, True), repeat=len(nodes)):
        alone = dict(zip((node.id for node in nodes), own, strict=True))
        for open_ in itertools.product((False, True), repeat=len(links)):
            weight = 1.0
            state: dict[str, bool] = {}
            through = {(a, b): o for (a, b, _), o in zip(links, open_, strict=True)}
            for node in nodes:
                weight *= node.base if alone[node.id] else 1.0 - node.base
                state[node.id] = alone[node.id] or any(
                    through[p, node.id] and state[p] for p in node.strengths
                )
            for (_, _, strength), o in zip(links, open_, strict=True):
                weight *= strength if o else 1.0 - strength
            if weight > 0.0 and all(state[key] == value for key, value in evidence.items()):
                yield weight, state, {pair for pair, o in through.items() if o and state[pair[0]]}


def _leads_to(nodes: list[OracleNode], evidence: Evidence) -> set[str]:
    """Return the evidence and everything that leads to it."""
    used = {key for key, value in evidence.items() if value != 1.0 or isinstance(value, bool)}
    for node in reversed(nodes):
        if node.id in used:
            used.update(node.strengths)
    return used


def _entry(key: str, kind: str, base: float, strengths: Mapping[str, float]) -> dict[str, Any]:
    """Return one node entry of a document."""
    parents = [{"id": parent, "strength": s} for parent, s in strengths.items()]
    return {
        "id": key,
        "kind": kind,
        "prior" if kind == "cause" else "leak": base,
        "parents": parents,
    }
