"""The strongest chains, against every simple path of random networks."""

from __future__ import annotations

import math
from itertools import pairwise

import networkx as nx
import pytest

from tests.oracles.cases import SMALL_CASES, small_case
from triage.model import Network
from triage.paths import strongest

NAMES = SMALL_CASES[::8]
DOCUMENT = {
    "nodes": [
        {"id": "play", "kind": "cause", "prior": 0.1},
        {"id": "gap", "kind": "state", "parents": [{"id": "play", "strength": 0.9}]},
        {"id": "hum", "kind": "finding", "parents": [{"id": "play", "strength": 0.5}]},
        {"id": "code", "kind": "finding",
         "parents": [{"id": "gap", "strength": 0.8}, {"id": "play", "strength": 0.3}]},
        {"id": "other", "kind": "finding", "parents": []},
    ]
}  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_no_simple_path_is_stronger(name: str) -> None:
    """A library lists every path; none of them may beat the one that is told."""
    network = Network.from_document(small_case(name)[0])
    graph = network.graph
    findings = [key for key, node in network.nodes.items() if node.kind == "finding"]
    for cause in network.causes[:4]:
        told = {
            path.nodes[-1]: path.strength for path in strongest(network, cause, findings, most=99)
        }
        for target in findings:
            strengths = [
                math.prod(graph.edges[step]["strength"] for step in pairwise(path))
                for path in nx.all_simple_paths(graph, cause, target)
            ]
            best = max(strengths, default=0.0)
            assert told.get(target, 0.0) == pytest.approx(best, abs=1e-12)


def test_twenty_four_networks_were_tried() -> None:
    """Partner of the sweep."""
    assert len(NAMES) == 24


def test_the_strongest_comes_first_and_no_more_than_asked() -> None:
    """A person reads one or two stories, not all of them."""
    network = Network.from_document(DOCUMENT)

    paths = strongest(network, "play", ["hum", "code", "other"])

    assert [path.nodes for path in paths] == [("play", "gap", "code"), ("play", "hum")]
    assert paths[0].strengths == (0.9, 0.8)
    assert len(strongest(network, "play", ["hum", "code"], most=1)) == 1


def test_a_story_does_not_go_through_what_was_seen_absent() -> None:
    """With the gap ruled out only the direct link is left."""
    network = Network.from_document(DOCUMENT)

    assert strongest(network, "play", ["code"], absent=["gap"])[0].nodes == ("play", "code")
