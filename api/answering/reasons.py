"""Why a cause stands where it stands: its strongest paths, in the links' own words."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from api.answering.prices import kind_of
from api.documents import PathLink, PathRow
from graph.compiled import CompiledCase
from graph.terms import Knowledge, Link
from triage.paths import Path, strongest

__all__ = ["links_by_kind", "path_rows", "path_sentence"]


def links_by_kind(knowledge: Knowledge) -> dict[tuple[str, str], Link]:
    """Return the active links by (source, target); star families by their stem."""
    return {
        (link.source, link.target.removesuffix("-*")): link
        for link in knowledge.links
        if not link.deprecated
    }


def path_rows(
    knowledge: Knowledge, compiled: CompiledCase, causes: tuple[str, ...], most: int = 2
) -> dict[str, tuple[PathRow, ...]]:
    """Return, for each cause, its strongest paths to the complaint."""
    links = links_by_kind(knowledge)
    network = compiled.network
    targets = sorted(compiled.complaint & set(network.nodes))
    absent = [node for node, value in compiled.evidence.items() if value is False]
    return {
        cause: tuple(
            _row(knowledge, links, path)
            for path in strongest(network, cause, targets, absent=absent, most=most)
        )
        for cause in causes
    }


def path_sentence(knowledge: Knowledge, row: PathRow) -> str:
    """Return one path in words: each mechanism, then what it ends in."""
    told = "; ".join(link.mechanism for link in row.links if link.mechanism)
    return f"{told}: {_label(knowledge, row.finding)}"


def _row(knowledge: Knowledge, links: Mapping[tuple[str, str], Link], path: Path) -> PathRow:
    """Return a path with each link's mechanism and provenance."""
    rows = []
    for (source, target), strength in zip(pairwise(path.nodes), path.strengths, strict=True):
        link = _link(knowledge, links, kind_of(source), kind_of(target))
        rows.append(
            PathLink(
                source=source,
                target=target,
                strength=strength,
                mechanism=link.mechanism if link else "",
                origin=_origin(link) if link else "",
                review=link.review if link else "",
            )
        )
    return PathRow(
        cause=path.nodes[0], finding=path.nodes[-1], strength=path.strength, links=tuple(rows)
    )


def _origin(link: Link) -> str:
    """Return where a link comes from, in one line."""
    given = link.provenance
    parts = [link.id, given.basis, given.source, given.author, given.date]
    return ", ".join(part for part in parts if part)


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
