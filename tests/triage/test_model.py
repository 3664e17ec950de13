"""The network document: what is accepted, how it is ordered, what is refused and how."""

from __future__ import annotations

import copy
import json
import re
from typing import Any

import networkx as nx
import pytest

import triage
from tests import builders
from tests.oracles.cases import LARGE_CASES, SMALL_CASES, large_case, small_case
from tests.oracles.documents import Document
from triage.errors import DocumentError, ParameterError, UnknownTermError

NAMED = {
    "fever": builders.fever(),
    "explaining-away": builders.explaining_away(),
    "chain": builders.chain(),
    "progression": builders.progression(),
    "deep-corner": builders.deep_corner(),
}


def by_id(document: Document) -> dict[str, Any]:
    """Return the entries of a document by id, links by parent id."""
    return {
        entry["id"]: {**entry, "parents": {p["id"]: p["strength"] for p in entry["parents"]}}
        for entry in document["nodes"]
    }


@pytest.mark.parametrize("name", NAMED)
def test_a_document_survives_the_round_trip(name: str) -> None:
    """Through JSON text: anyone's inference engine may read what is exported."""
    document = NAMED[name]

    text = json.dumps(triage.Network.from_document(document).to_document())

    assert by_id(json.loads(text)) == by_id(document)
    again = triage.Network.from_document(json.loads(text))
    assert again.to_document() == json.loads(text)


@pytest.mark.parametrize("name", SMALL_CASES[::16])
def test_parents_come_before_their_children_whatever_the_order_given(name: str) -> None:
    """Random documents list their nodes in shuffled order."""
    network = triage.Network.from_document(small_case(name)[0])

    position = {key: index for index, key in enumerate(network.nodes)}

    for node in network.nodes.values():
        assert all(position[parent.id] < position[node.id] for parent in node.parents)


def test_the_sweep_of_orders_collected_its_networks() -> None:
    """A sweep that shrank to nothing must fail here."""
    assert len(SMALL_CASES[::16]) == 12
    assert len(NAMED) == 5


def test_children_and_graph_say_the_same_as_parents() -> None:
    """Three views of the links of one network."""
    network = triage.Network.from_document(builders.deep_corner())

    links = {
        (parent.id, node.id, parent.strength)
        for node in network.nodes.values()
        for parent in node.parents
    }

    assert links == {
        (key, child.id, child.strength)
        for key, children in network.children.items()
        for child in children
    }
    assert links == {(a, b, data["strength"]) for a, b, data in network.graph.edges(data=True)}


def test_ancestors_hold_the_nodes_themselves_and_all_before_them() -> None:
    """What a finding can be explained by, at any distance."""
    network = triage.Network.from_document(builders.deep_corner())

    assert network.ancestors(["wobble"]) == {"wobble", "hub-bent", "impact", "rust"}
    assert network.ancestors([]) == set()


def test_causes_are_listed_even_when_they_have_parents() -> None:
    """A cause that follows from another is a cause still."""
    network = triage.Network.from_document(builders.progression())

    assert network.causes == ("torn-boot", "joint-worn")


def test_a_missing_leak_is_zero() -> None:
    """A state or finding without leak comes from its parents alone."""
    network = triage.Network.from_document({"nodes": [{"id": "f", "kind": "finding"}]})

    assert network.nodes["f"].base == 0.0
    assert network.nodes["f"].parents == ()


def changed(**changes: object) -> dict[str, Any]:
    """Return the explaining-away network with its finding changed."""
    document = copy.deepcopy(builders.explaining_away())
    document["nodes"][2].update(changes)
    return document


def link(key: str, strength: float = 0.5) -> dict[str, Any]:
    """Return one link of a document."""
    return {"id": key, "strength": strength}


REFUSED: dict[str, tuple[Any, type[triage.TriageError], str]] = {
    "leak-above-one": (changed(leak=1.5), ParameterError, "leak of 'hum' is 1.5, outside [0, 1]"),
    "leak-not-a-number": (
        changed(leak=float("nan")),
        ParameterError,
        "leak of 'hum' is nan, outside [0, 1]",
    ),
    "prior-below-zero": (
        builders.network_document(builders.cause("a", -0.1)),
        ParameterError,
        "prior of 'a' is -0.1, outside [0, 1]",
    ),
    "strength-above-one": (
        changed(parents=[link("tyre", 1.3)]),
        ParameterError,
        "link strength of 'tyre' -> 'hum' is 1.3, outside [0, 1]; correct it where it is stated",
    ),
    "unknown-parent": (
        changed(parents=[link("tire")]),
        UnknownTermError,
        "unknown parent 'tire' at node 'hum'; did you mean 'tyre'",
    ),
    "unknown-kind": (
        changed(kind="symptom"),
        DocumentError,
        "kind 'symptom' at node 'hum'; allowed: cause, state, finding; use one of these",
    ),
    "same-link-twice": (
        changed(parents=[link("tyre"), link("tyre")]),
        DocumentError,
        "two links from 'tyre' at node 'hum'; allowed: one link for each pair of nodes",
    ),
    "same-id-twice": (
        changed(id="play"),
        DocumentError,
        "node 'play' appears twice at nodes; allowed: one entry",
    ),
    "own-parent": (changed(parents=[link("hum")]), DocumentError, "a loop hum -> hum at links"),
    "no-prior": (
        {"nodes": [{"id": "a", "kind": "cause"}]},
        DocumentError,
        "an incomplete or unreadable node ('prior') at nodes[0]",
    ),
    "no-strength": (
        changed(parents=[{"id": "tyre"}]),
        DocumentError,
        "an incomplete or unreadable node ('strength') at nodes[2]",
    ),
    "leak-in-words": (
        changed(leak="rare"),
        DocumentError,
        "an incomplete or unreadable node (could not convert",
    ),
    "no-nodes": ({}, DocumentError, 'no list of nodes at nodes; allowed: {"nodes": [...]}'),
    "a-list": ([], DocumentError, "no list of nodes at nodes"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_network_that_cannot_be_right_is_refused_in_one_sentence(name: str) -> None:
    """What is wrong, where, what is allowed, what to do."""
    document, error, message = REFUSED[name]

    with pytest.raises(error, match=re.escape(message)):
        triage.Network.from_document(document)


def test_a_loop_is_refused_and_named() -> None:
    """Every id of the loop is in the message, so that the wrong link can be found."""
    document = builders.network_document(
        builders.cause("a", 0.1, c=0.5),
        builders.state("b", 0.1, a=0.5),
        builders.state("c", 0, b=1),
    )

    with pytest.raises(
        DocumentError, match=r"a loop .* at links; allowed: cause to effect"
    ) as info:
        triage.Network.from_document(document)

    assert all(f"{before} -> {after}" in str(info.value) for before, after in ("ab", "bc", "ca"))


def test_a_node_that_is_required_is_named_with_its_nearest() -> None:
    """The lookup used for evidence and checks."""
    network = triage.Network.from_document(builders.chain())

    assert network.require("code").kind == "finding"
    with pytest.raises(
        UnknownTermError, match="unknown node 'cod' at evidence; did you mean 'code'"
    ):
        network.require("cod")


@pytest.mark.parametrize("name", LARGE_CASES[::6])
def test_nodes_stand_in_the_order_that_networkx_gives(name: str) -> None:
    """Parents before children, and the same order whoever sorts: arrays and ties hang on it."""
    nodes = triage.Network.from_document(large_case(name)[0]).nodes
    mixed = [nodes[key] for key in sorted(nodes, key=lambda key: key[::-1])]
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(node.id for node in mixed)
    graph.add_edges_from((p.id, node.id) for node in mixed for p in node.parents)

    assert list(triage.Network(mixed).nodes) == list(nx.topological_sort(graph))
