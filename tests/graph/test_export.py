"""Exports: they come back unchanged, and other people's readers read the same in them."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import networkx as nx
import pyoxigraph as ox
import pytest
import rdflib
from rdflib.compare import isomorphic

from graph.export import FORMATS, as_graphml, as_jsonld, as_turtle, export, read_document
from graph.load import load_knowledge
from graph.terms import Knowledge
from tests.graph.knowledge_sample import sample
from triage.errors import DocumentError, KnowledgeError, UnknownTermError

MINIMAL = Path(__file__).parents[2] / "fixtures" / "minimal"
GRAPHML = "{http://graphml.graphdrawing.org/xmlns}"
KNOWLEDGE = {"shipped": load_knowledge(), "minimal": load_knowledge(MINIMAL), "sample": sample()}
#: Characters that have a meaning in one of the formats.
AWKWARD = 'a "quote" \\ <tag> & {brace} é \u2028 \t\n\x01'


@pytest.mark.parametrize("name", KNOWLEDGE)
@pytest.mark.parametrize("form", ["turtle", "jsonld"])
def test_what_was_exported_comes_back_byte_by_byte(name: str, form: str) -> None:
    """Export, read, export: the same knowledge and the same Turtle."""
    knowledge = KNOWLEDGE[name]

    back = read_document(export(knowledge, form), form)

    assert replace(back, sha256=knowledge.sha256) == knowledge
    assert as_turtle(back) == as_turtle(knowledge)


def test_the_knowledge_was_collected() -> None:
    """Partner of the sweeps."""
    assert len(KNOWLEDGE) == 3
    assert len(KNOWLEDGE["shipped"].links) > 1000


# Rdflib's own JSON-LD reader uses a class that rdflib itself calls deprecated.
@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated:DeprecationWarning")
@pytest.mark.parametrize("name", ["minimal", "sample"])
def test_turtle_and_json_ld_are_isomorphic_for_rdflib(name: str) -> None:
    """Rdflib has a reader of its own for each of the two formats."""
    turtle = rdflib.Graph().parse(data=as_turtle(KNOWLEDGE[name]), format="turtle")
    jsonld = rdflib.Graph().parse(data=as_jsonld(KNOWLEDGE[name]), format="json-ld")
    again = rdflib.Graph().parse(data=jsonld.serialize(format="turtle"), format="turtle")

    assert len(turtle) > 100
    assert isomorphic(turtle, jsonld)
    assert isomorphic(turtle, again)


def test_turtle_and_json_ld_of_the_shipped_knowledge_say_the_same() -> None:
    """Compared in the canonical form of W3C RDFC-1.0, as pyoxigraph makes it."""
    knowledge = KNOWLEDGE["shipped"]

    turtle = _canonical(as_turtle(knowledge), ox.RdfFormat.TURTLE)

    assert len(turtle) > 40_000
    assert turtle == _canonical(as_jsonld(knowledge), ox.RdfFormat.JSON_LD)


def test_json_ld_carries_its_context_and_is_strict_json() -> None:
    """A context on the net would have to be fetched; infinity is no JSON number."""
    document = json.loads(as_jsonld(KNOWLEDGE["shipped"]), parse_constant=pytest.fail)

    assert isinstance(document["@context"], dict)
    assert all(isinstance(value, str) for value in document["@context"].values())


def test_a_remote_context_is_not_fetched() -> None:
    """A document from outside must not make this program call anybody."""
    text = '{"@context": "https://drypark.example/context", "@id": "x:y", "x:p": "z"}'

    with pytest.raises(DocumentError, match="no jsonld"):
        read_document(text, "jsonld")


def test_the_sources_come_along() -> None:
    """Who said it means nothing without the name behind the id."""
    graph = rdflib.Graph().parse(data=as_turtle(KNOWLEDGE["minimal"]), format="turtle")
    source, agent = (
        rdflib.URIRef(iri)
        for iri in ("http://purl.org/dc/terms/source", "http://www.w3.org/ns/prov#wasAttributedTo")
    )
    named = set(graph.objects(predicate=source)) | set(graph.objects(predicate=agent))

    assert named
    assert all((term, rdflib.RDF.type, None) in graph for term in named)


def test_graphml_has_every_link_with_its_attributes() -> None:
    """Read by networkx: an edge for each link, also a deprecated one."""
    knowledge = KNOWLEDGE["shipped"]

    graph = nx.read_graphml(io.BytesIO(as_graphml(knowledge).encode()))

    assert isinstance(graph, nx.MultiDiGraph)

    told = {key: data for _, _, key, data in graph.edges(keys=True, data=True)}
    for link in knowledge.links:
        assert told[link.id]["strength"] == link.strength
        assert told[link.id]["mechanism"] == link.mechanism
        assert told[link.id]["active"] is not bool(link.deprecated)
    assert graph.nodes["rc-bearing-play"]["label"] == knowledge.causes["rc-bearing-play"].label


def test_graphml_declares_what_it_uses() -> None:
    """The rules of the format: declared keys only, and edges between nodes that exist."""
    root = ElementTree.fromstring(as_graphml(KNOWLEDGE["shipped"]))
    nodes = {node.get("id") for node in root.iter(f"{GRAPHML}node")}
    edges = list(root.iter(f"{GRAPHML}edge"))
    keys = {key.get("id") for key in root.iter(f"{GRAPHML}key")}

    assert len(edges) > 2000
    assert all({edge.get("source"), edge.get("target")} <= nodes for edge in edges)
    assert {data.get("key") for data in root.iter(f"{GRAPHML}data")} <= keys


@pytest.mark.parametrize("form", FORMATS)
def test_awkward_characters_survive(form: str) -> None:
    """A label may hold what a format uses for itself; XML alone cannot hold controls."""
    text = export(_awkward(), form)

    if form == "graphml":
        label = nx.read_graphml(io.BytesIO(text.encode())).nodes["rc-sensor-failed"]["label"]
        assert label == AWKWARD.replace("\x01", "\ufffd")
    else:
        assert read_document(text, form).causes["rc-sensor-failed"].label == AWKWARD


def test_the_formats_were_collected() -> None:
    """Partner of the sweep above."""
    assert list(FORMATS) == ["turtle", "jsonld", "graphml"]


def test_an_unknown_format_names_the_nearest() -> None:
    """A typing slip is the usual reason."""
    with pytest.raises(UnknownTermError, match="did you mean 'jsonld'"):
        export(KNOWLEDGE["minimal"], "json-ld")


def test_graphml_is_not_read_back() -> None:
    """It holds a part of the knowledge only."""
    with pytest.raises(DocumentError, match="'graphml' cannot be read back"):
        read_document("<graphml/>", "graphml")


def test_a_document_that_says_something_impossible_is_refused() -> None:
    """What comes from outside goes through the same reader as the files."""
    text = as_turtle(KNOWLEDGE["minimal"]).replace(":strength 0.9 ;", ":strength 1.9 ;")

    with pytest.raises(KnowledgeError, match="document refused"):
        read_document(text, "turtle")


def _awkward() -> Knowledge:
    """Return the minimal knowledge with a label that no format likes."""
    knowledge = KNOWLEDGE["minimal"]
    cause = replace(knowledge.causes["rc-sensor-failed"], label=AWKWARD)
    return replace(knowledge, causes={**knowledge.causes, "rc-sensor-failed": cause})


def _canonical(text: str, form: ox.RdfFormat) -> set[str]:
    """Return the statements of a document in canonical form."""
    dataset = ox.Dataset(ox.parse(text, format=form))
    dataset.canonicalize(ox.CanonicalizationAlgorithm.RDFC_1_0)
    return {str(quad) for quad in dataset}
