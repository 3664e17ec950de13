"""No cause may lead back to itself: looked for on the placed car, not on the kinds.

On the kinds a link from one corner to the other looks like a loop and is none, so
every link is drawn between places first. A link that cannot be drawn is reported.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import networkx as nx

from graph.namespaces import iri_of
from graph.placing import instance_id, placed_pairs
from graph.report import Row
from graph.ruling import severities
from graph.terms import SCOPES, Knowledge, Place
from graph.triples import Statements
from triage.errors import KnowledgeError

__all__ = ["loops"]


def loops(knowledge: Knowledge, statements: Statements) -> Iterator[Row]:
    """Yield a row for each link that cannot be drawn, and one for each knot of loops.

    A knot is a strongly connected part of the placed graph; one loop through it is
    named, link by link.
    """
    drawn: nx.DiGraph[str] = nx.DiGraph()
    places = _places(knowledge)
    for link in knowledge.links:
        if link.deprecated:
            continue
        try:
            pairs = placed_pairs(link, places[link.source], places[link.target])
        except KnowledgeError as error:
            yield _row("link-without-meaning", link.id, str(error), statements)
            continue
        drawn.add_edges_from(pairs, link=link.id)
    for knot in sorted(nx.strongly_connected_components(drawn), key=min):
        part = drawn.subgraph(knot)
        if part.number_of_edges():
            loop = nx.find_cycle(part, min(knot))
            steps = [
                f"{source} makes {target} ({drawn[source][target]['link']})"
                for source, target in loop
            ]
            entity = min(drawn[source][target]["link"] for source, target in loop)
            yield _row("link-loop", entity, f"a loop: {', '.join(steps)}", statements)


def _places(knowledge: Knowledge) -> Mapping[str, Mapping[Place, str]]:
    """Return the node ids of every term and star family by place."""
    places: dict[str, dict[Place, str]] = {}
    for held in (knowledge.causes, knowledge.states, knowledge.findings):
        for term in held.values():
            places[term.id] = {at: instance_id(term.id, at) for at in SCOPES[term.scope]}
    for code in knowledge.codes.values():
        places[code.id] = {code.place: code.id}
        if code.family:
            places.setdefault(f"{code.family}-*", {})[code.place] = code.id
    return places


def _row(rule: str, entity: str, sentence: str, statements: Statements) -> Row:
    """Return the row about one link."""
    severity = severities()[rule]
    where = statements.where(iri_of(entity))
    return Row(severity.level, rule, entity, sentence, where, severity.remedy, ":reach")
