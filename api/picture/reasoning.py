"""The reasoning about one cause as plain values: what stands in the picture and in its table.

The one idea: picture and table are made from the same nodes and links, so neither can show
what the other hides. The neighbourhood of the cause is shown, never the whole graph: whatever
lies between the cause and what is complained of, and the checks that look for it. Past the
limit the weakest stories go first, and how many went is said.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

import networkx as nx

from api.answering.reasons import path_rows
from api.documents import PathRow
from api.labels import label_of
from api.words import place_words
from graph.compiled import CompiledCase
from graph.terms import Knowledge

__all__ = ["MOST_CHECKS", "MOST_NODES", "PathLine", "PathNode", "Reasoning", "reasoning"]

MOST_NODES: Final = 60
MOST_CHECKS: Final = 8
_PATHS: Final = 20
_WAYS: Final = 3  # that are told in words


@dataclass(frozen=True, slots=True)
class PathNode:
    """One box."""

    id: str  # with its place
    kind: str  # cause | state | finding | code | check
    label: str  # as a person reads it, place in words
    on: bool  # on the strongest path
    place: str = ""


@dataclass(frozen=True, slots=True)
class PathLine:
    """One link: a row of the table."""

    source: str
    target: str
    strength: float | None  # None: a check that looks for it
    on: bool  # on the strongest path
    mechanism: str = ""
    origin: str = ""
    review: str = ""


@dataclass(frozen=True, slots=True)
class Reasoning:
    """All that is shown."""

    cause: str
    nodes: tuple[PathNode, ...]
    lines: tuple[PathLine, ...]
    left_out: int  # boxes that did not find room
    ways: tuple[PathRow, ...] = ()  # the strongest ones, each from the cause to what is seen

    def label(self, node: str) -> str:
        """Return the words of a box."""
        return next((one.label for one in self.nodes if one.id == node), node)


def reasoning(
    knowledge: Knowledge,
    compiled: CompiledCase,
    cause: str,
    *,
    listed: Collection[str] = (),
) -> Reasoning:
    """Return the neighbourhood of a cause that leads to what is complained of.

    Parameters
    ----------
    knowledge, compiled : the case as it stands
    cause : node id, e.g. ``rc-bearing-play@lr``; it must be in the network
    listed : ids of checks on the list, which are shown before others
    """
    rows = path_rows(knowledge, compiled, (cause,), most=_PATHS)[cause]
    strongest = [link for row in rows[:1] for link in row.links]
    on = {cause} | {end for link in strongest for end in (link.source, link.target)}
    steps = {(link.source, link.target) for link in strongest}
    between = _between(compiled, cause)
    kept = _kept(compiled, cause, between, rows)
    graph = compiled.network.graph
    stated = _stated(knowledge, compiled, cause, kept, rows)
    lines = [
        PathLine(source, target, float(graph.edges[source, target]["strength"]),
                 (source, target) in steps, *stated.get((source, target), ("", "", "")))
        for source, target in sorted(graph.subgraph(kept).edges)
    ]  # fmt: skip
    checks, looking = _checks(compiled, kept & _hidden(compiled, kept), cause, listed)
    nodes = [_node(knowledge, compiled, node, node in on) for node in sorted(kept)]
    nodes += [_node(knowledge, compiled, node, on=False) for node in checks]
    left = len(between) - len(kept)
    return Reasoning(cause, tuple(nodes), (*lines, *looking), left, rows[:_WAYS])


def _between(compiled: CompiledCase, cause: str) -> set[str]:
    """Return the nodes on any way from the cause to the complaint, not through what is absent."""
    absent = {node for node, value in compiled.evidence.items() if value is False} - {cause}
    graph = compiled.network.graph.subgraph(set(compiled.network.graph) - absent)
    targets = set(compiled.complaint) & set(graph)
    behind: set[str] = set().union(*(nx.ancestors(graph, one) | {one} for one in targets))
    return {cause} | (nx.descendants(graph, cause) & behind)


def _kept(
    compiled: CompiledCase, cause: str, between: set[str], rows: tuple[PathRow, ...]
) -> set[str]:
    """Return the nodes that find room: those of the ranked paths first, then the strongest."""
    ranked = {cause}
    for row in rows:
        ends = {end for link in row.links for end in (link.source, link.target)}
        if len(ranked | ends) <= MOST_NODES - MOST_CHECKS:
            ranked |= ends
    graph = compiled.network.graph.subgraph(between)
    length = {edge: -math.log(max(graph.edges[edge]["strength"], 1e-12)) for edge in graph.edges}
    far = nx.single_source_dijkstra_path_length(
        graph, cause, weight=lambda u, v, _data: length[u, v]
    )
    others = sorted(between - ranked, key=lambda node: (far.get(node, math.inf), node))
    room = MOST_NODES - MOST_CHECKS - len(ranked)
    kept = ranked | set(others[:room])
    # What leads nowhere once the weakest are gone, goes too.
    ends = (set(compiled.complaint) & kept) | {cause}
    inner = graph.subgraph(kept)
    below: dict[str, set[str]] = {node: nx.descendants(inner, node) for node in kept}
    return {node for node in kept if node in ends or ends & below[node]}


def _stated(
    knowledge: Knowledge,
    compiled: CompiledCase,
    cause: str,
    kept: set[str],
    rows: tuple[PathRow, ...],
) -> dict[tuple[str, str], tuple[str, str, str]]:
    """Return for each link its mechanism, where it comes from, and its review."""
    stated = {
        (link.source, link.target): (link.mechanism, link.origin, link.review)
        for row in rows
        for link in row.links
    }
    for source, target in compiled.network.graph.subgraph(kept).edges:
        if (source, target) not in stated:
            stated[source, target] = _said(knowledge, source, target)
    return stated


def _said(knowledge: Knowledge, source: str, target: str) -> tuple[str, str, str]:
    """Return what the knowledge says of a link between two kinds."""
    ends = (_kind(source), _kind(target))
    family = knowledge.codes[ends[1]].family if ends[1] in knowledge.codes else ends[1]
    for link in knowledge.links:
        stem = link.target.removesuffix("-*")
        if not link.deprecated and link.source == ends[0] and stem in (ends[1], family):
            given = link.provenance
            parts = (link.id, given.basis, given.source, given.author, given.date)
            return link.mechanism, ", ".join(part for part in parts if part), link.review
    return "", "", ""


def _hidden(compiled: CompiledCase, kept: set[str]) -> set[str]:
    """Return the causes and states: what a check can look for."""
    nodes = compiled.network.nodes
    return {node for node in kept if nodes[node].kind in ("cause", "state")}


def _checks(
    compiled: CompiledCase, kept: set[str], cause: str, listed: Collection[str]
) -> tuple[list[str], list[PathLine]]:
    """Return the checks that look for a node that is shown, those for the cause first."""
    order = {check: place for place, check in enumerate(listed)}
    shows: dict[str, set[str]] = {}
    rank: dict[str, tuple[bool, int, str]] = {}
    for check in compiled.checks:
        seen = {verdict.target for verdict in check.verdicts} & kept
        if seen:
            name = check.id if check.place == "vehicle" else f"{check.id}@{check.place}"
            shows[name] = seen
            rank[name] = (cause not in seen, order.get(name, len(order)), name)
    chosen = sorted(sorted(shows, key=lambda name: rank[name])[:MOST_CHECKS])
    lines = [
        PathLine(target, check, None, on=False)
        for check in chosen
        for target in sorted(shows[check])
    ]
    return chosen, lines


def _node(knowledge: Knowledge, compiled: CompiledCase, node: str, on: bool) -> PathNode:
    """Return the box of a node."""
    kind, _, place = node.partition("@")
    known: Mapping[str, object] = compiled.network.nodes
    if kind in knowledge.checks:
        shown = "check"
    elif kind in knowledge.codes:
        shown = "code"
    else:
        shown = compiled.network.nodes[node].kind if node in known else "state"
    words, where = label_of(knowledge, kind) or node, place_words(place or "vehicle")
    if shown == "code":
        words = f"{knowledge.codes[kind].notation or kind}: {knowledge.codes[kind].watched}"
    return PathNode(node, shown, f"{words}, {where}" if where else words, on, place)


def _kind(node: str) -> str:
    return node.partition("@")[0]
