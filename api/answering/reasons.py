"""Why a cause stands where it stands: its strongest paths, in the links' own words."""

from __future__ import annotations

import math
from collections.abc import Mapping

import networkx as nx

from api.answering.prices import kind_of
from graph.compiled import CompiledCase
from graph.terms import Knowledge, Link

__all__ = ["links_by_kind", "strongest_paths"]


def links_by_kind(knowledge: Knowledge) -> dict[tuple[str, str], Link]:
    """Return the active links by (source, target); star families by their stem."""
    return {
        (link.source, link.target.removesuffix("-*")): link
        for link in knowledge.links
        if not link.deprecated
    }


def strongest_paths(
    knowledge: Knowledge, compiled: CompiledCase, causes: tuple[str, ...], most: int = 2
) -> dict[str, tuple[str, ...]]:
    """Return, for each cause, a sentence for each of its strongest paths to the complaint."""
    graph = compiled.network.graph
    links = links_by_kind(knowledge)
    targets = sorted(compiled.complaint & set(graph.nodes))
    out = {}
    for cause in causes:
        lengths, paths = nx.single_source_dijkstra(graph, cause, weight=_length)
        near = sorted((lengths[t], t) for t in targets if t in lengths and t != cause)
        out[cause] = tuple(_sentence(knowledge, links, paths[t]) for _, t in near[:most])
    return out


def _length(_source: str, _target: str, data: Mapping[str, float]) -> float | None:
    """Return minus the log of a strength, so that the shortest path is the strongest."""
    strength = data["strength"]
    return -math.log(strength) if strength > 0.0 else None


def _sentence(
    knowledge: Knowledge, links: Mapping[tuple[str, str], Link], path: list[str]
) -> str:
    """Return one path in words: each mechanism, then what it ends in."""
    steps = []
    for source, target in zip(path, path[1:], strict=False):
        link = _link(knowledge, links, kind_of(source), kind_of(target))
        if link is not None:
            steps.append(link.mechanism)
    return f"{'; '.join(steps)}: {_label(knowledge, path[-1])}"


def _link(
    knowledge: Knowledge, links: Mapping[tuple[str, str], Link], source: str, target: str
) -> Link | None:
    """Return the link between two kinds, through a code's family where it has one."""
    family = knowledge.codes[target].family if target in knowledge.codes else ""
    return links.get((source, target)) or links.get((source, family))


def _label(knowledge: Knowledge, node: str) -> str:
    """Return the words of a finding, or the code itself."""
    kind = kind_of(node)
    if kind in knowledge.codes:
        return f"the code for {knowledge.codes[kind].watched}"
    if kind in knowledge.findings:
        return knowledge.findings[kind].label
    if kind in knowledge.states:
        return knowledge.states[kind].label
    return node
