"""What the knowledge holds, in numbers: how much, of what, from where, and where it is thin.

Counts only; nothing is judged and nothing is computed on a car. What moves an answer most
is `graph.sensitivity`.

*Coverage* is asked per subject area, over active links, in terms of kinds. An area of
causes covers the codes and findings that its causes can lead to, the checks that can show
one of its causes or states, and the repairs that put one of them right. A family of codes
is covered by the causes that can lead to it, and by the checks and repairs of those and of
the states on the way.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import networkx as nx

from graph.kinds import KINDS
from graph.terms import Knowledge

__all__ = ["BASES", "Coverage", "Statistics", "statistics"]

#: Basis of a statement -> what it means, in the order of a table.
BASES: Mapping[str, str] = {
    "estimate": "from memory",
    "published": "published",
    "derived": "derived",
    "measured": "measured here",
}
_BINS = 10


@dataclass(frozen=True, slots=True)
class Coverage:
    """How much one subject area has, and how much bears on it."""

    group: str
    codes: int
    findings: int
    causes: int
    checks: int
    repairs: int
    no_check: tuple[str, ...] = ()  # causes of the area that no check shows by themselves
    no_repair: tuple[str, ...] = ()  # causes of the area that no repair names


@dataclass(frozen=True, slots=True)
class Statistics:
    """The knowledge in numbers."""

    version: str
    sha256: str
    counts: Mapping[str, int]  # name of a kind -> terms; of "Link" only the active ones
    deprecated: int  # links that stay on record
    reviewed: int  # active links that somebody reviewed
    by_cause: tuple[Coverage, ...]  # areas of causes, by name
    by_code: tuple[Coverage, ...]  # families of codes, by name
    strengths: tuple[int, ...]  # active links in (0, .1], (.1, .2], ... (.9, 1)
    bases: Mapping[str, Mapping[str, int]]  # name of a kind -> basis -> terms
    sources: Mapping[str, int]  # id of a source -> terms that name it

    def share(self, basis: str) -> float:
        """Return the share in [0, 1] of all terms, links included, that rest on a basis."""
        total = sum(sum(row.values()) for row in self.bases.values())
        return sum(row.get(basis, 0) for row in self.bases.values()) / total if total else 0.0


def statistics(knowledge: Knowledge) -> Statistics:
    """Return the knowledge in numbers.

    Notes
    -----
    Linear in the number of links times the number of areas: a tenth of a second.
    """
    active = [link for link in knowledge.links if not link.deprecated]
    return Statistics(
        version=knowledge.version,
        sha256=knowledge.sha256,
        counts={
            kind.name: len(active) if kind.name == "Link" else len(_held(knowledge, kind.attribute))
            for kind in KINDS
        },
        deprecated=len(knowledge.links) - len(active),
        reviewed=sum(link.review == "reviewed" for link in active),
        by_cause=tuple(_by_cause(knowledge)),
        by_code=tuple(_by_code(knowledge)),
        strengths=_histogram(link.strength for link in active),
        bases={
            kind.name: Counter(item.provenance.basis for item in _held(knowledge, kind.attribute))
            for kind in KINDS
            if kind.provenance
        },
        sources=Counter(
            item.provenance.source
            for kind in KINDS
            if kind.provenance
            for item in _held(knowledge, kind.attribute)
        ),
    )


def _held(knowledge: Knowledge, attribute: str) -> list[Any]:
    """Return all values of a kind."""
    held = getattr(knowledge, attribute)
    return list(held.values() if isinstance(held, Mapping) else held)


def _histogram(strengths: Iterable[float]) -> tuple[int, ...]:
    """Return how many strengths lie in each tenth; a border belongs to the tenth below it.

    Examples
    --------
    >>> _histogram([0.1, 0.3, 0.95])
    (1, 0, 1, 0, 0, 0, 0, 0, 0, 1)
    """
    bins = [0] * _BINS
    for strength in strengths:
        # Rounded first: 0.3 * 10 is a little more than 3 in binary.
        bins[min(max(math.ceil(round(strength * _BINS, 9)) - 1, 0), _BINS - 1)] += 1
    return tuple(bins)


def _leads_to(knowledge: Knowledge) -> nx.DiGraph[str]:
    """Return all kinds with an arrow for every active link, star families spelled out."""
    stars: dict[str, list[str]] = {}
    for code in knowledge.codes.values():
        if code.family:
            stars.setdefault(f"{code.family}-*", []).append(code.id)
    graph: nx.DiGraph[str] = nx.DiGraph()
    for held in (knowledge.codes, knowledge.findings, knowledge.states, knowledge.causes):
        graph.add_nodes_from(held)
    for link in knowledge.links:
        if not link.deprecated:
            for target in stars.get(link.target, [link.target]):
                graph.add_edge(link.source, target)
    return graph


def _by_cause(knowledge: Knowledge) -> Iterable[Coverage]:
    """Yield the coverage of each area of causes."""
    graph = _leads_to(knowledge)
    for group in sorted({cause.group for cause in knowledge.causes.values()}):
        causes = {key for key, cause in knowledge.causes.items() if cause.group == group}
        states = {key for key, state in knowledge.states.items() if state.group == group}
        reached = set().union(*(nx.descendants(graph, key) for key in causes))
        shown = {shows.target for check in knowledge.checks.values() for shows in check.detects}
        fixed = {term for repair in knowledge.repairs.values() for term in repair.fixes}
        yield Coverage(
            group or "no area",
            codes=len(reached & knowledge.codes.keys()),
            findings=len(reached & knowledge.findings.keys()),
            causes=len(causes),
            checks=_checks_of(knowledge, causes | states),
            repairs=_repairs_of(knowledge, causes | states),
            no_check=tuple(sorted(causes - shown)),
            no_repair=tuple(sorted(causes - fixed)),
        )


def _by_code(knowledge: Knowledge) -> Iterable[Coverage]:
    """Yield the coverage of each family of codes."""
    graph = _leads_to(knowledge)
    for group in sorted({code.group for code in knowledge.codes.values()}):
        codes = {key for key, code in knowledge.codes.items() if code.group == group}
        above = set().union(*(nx.ancestors(graph, key) for key in codes))
        causes = above & knowledge.causes.keys()
        beside = set().union(*(nx.descendants(graph, key) for key in causes))
        yield Coverage(
            group or "no family",
            codes=len(codes),
            findings=len(beside & knowledge.findings.keys()),
            causes=len(causes),
            checks=_checks_of(knowledge, above),
            repairs=_repairs_of(knowledge, above),
        )


def _checks_of(knowledge: Knowledge, terms: set[str]) -> int:
    """Return how many checks can show one of these terms; intake has no weight and is not one."""
    return sum(
        check.kind != "intake" and any(shows.target in terms for shows in check.detects)
        for check in knowledge.checks.values()
    )


def _repairs_of(knowledge: Knowledge, terms: set[str]) -> int:
    """Return how many repairs put one of these terms right."""
    return sum(not terms.isdisjoint(repair.fixes) for repair in knowledge.repairs.values())
