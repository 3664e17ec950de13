"""The knowledge as one document for other programs: Turtle, JSON-LD, GraphML.

*Turtle* and *JSON-LD* say everything, with the sources that the terms name, and come back
unchanged: `read_document` gives the same knowledge, and writing that gives the same bytes.
JSON-LD carries its context with it, so nothing has to be fetched to read it. *GraphML* is
for programs that draw: kinds are nodes, links are edges with all that is said of them.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable, Iterator, Mapping
from importlib.resources import files
from typing import Any, Final

import networkx as nx
import pyoxigraph as ox

from graph.load import examine
from graph.lookup import RECORDS, TYPE
from graph.namespaces import PREFIXES, TERMS, expand, term_of
from graph.terms import Knowledge, Link
from graph.triples import Resource, Statements, Value, read_statements
from graph.write import write_knowledge
from triage.errors import DocumentError, KnowledgeError, UnknownTermError

__all__ = ["FORMATS", "as_graphml", "as_jsonld", "as_turtle", "export", "read_document"]

_XSD_STRING, _XSD_INTEGER, _XSD_BOOLEAN = (
    expand(f"xsd:{name}") for name in ("string", "integer", "boolean")
)
#: Characters that XML 1.0 cannot hold, not even as references.
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


def export(knowledge: Knowledge, form: str) -> str:
    """Return the knowledge as one document.

    Parameters
    ----------
    knowledge : Knowledge
    form : a name of `FORMATS`

    Raises
    ------
    UnknownTermError
        If there is no such form.
    """
    if form not in FORMATS:
        raise UnknownTermError("format", form, FORMATS, where="export")
    return FORMATS[form](knowledge)


def as_turtle(knowledge: Knowledge) -> str:
    """Return one Turtle document: the files behind each other, then the sources."""
    texts = [*write_knowledge(knowledge).values(), _sources().decode("utf-8")]
    head = texts[0].partition("\n\n")[0]
    return "\n".join([head + "\n", *(text.partition("\n\n")[2] for text in texts)])


def as_jsonld(knowledge: Knowledge) -> str:
    """Return one JSON-LD document (version 1.1), a line for each term.

    Numbers are strings with their datatype: as JSON numbers they would be read as
    doubles, and come back as other statements.
    """
    statements = read_statements({"all": as_turtle(knowledge).encode()})
    context = {"@base": TERMS.rstrip("#"), "@vocab": TERMS}
    context |= {prefix: namespace for prefix, namespace in PREFIXES.items() if prefix}
    rows = (
        json.dumps(_node(iri, resource, statements), ensure_ascii=False)
        for iri, resource in statements.resources.items()
    )
    body = ",\n".join(f"  {row}" for row in rows)
    return f'{{"@context": {json.dumps(context)},\n "@graph": [\n{body}\n]}}\n'


def as_graphml(knowledge: Knowledge) -> str:
    """Return one GraphML document.

    Nodes: causes, states, findings, codes, families of codes, checks, repairs. Edges, by
    their `relation`: `leads-to` (a link, also a deprecated one, with `active` false),
    `stands-for` (family to code), `shows` (check), `puts-right` (repair).
    """
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for key, attributes in _drawn_nodes(knowledge):
        graph.add_node(key, **_clean(attributes))
    for source, target, key, attributes in _drawn_edges(knowledge):
        graph.add_edge(source, target, key=key, **_clean(attributes))
    out = io.BytesIO()
    nx.write_graphml_xml(graph, out, prettyprint=True)
    return out.getvalue().decode("utf-8")


def read_document(text: str | bytes, form: str) -> Knowledge:
    """Return the knowledge that a Turtle or JSON-LD document of `export` states.

    Parameters
    ----------
    text : the document
    form : ``turtle`` or ``jsonld``

    Raises
    ------
    DocumentError
        If it cannot be parsed, or the form is another one.
    KnowledgeError
        If it says something impossible; `issues` lists it all.

    Notes
    -----
    The sources in it are left aside: those of this installation count. Nothing is
    fetched; a JSON-LD document with a remote context is refused by the parser.
    """
    formats = {"turtle": ox.RdfFormat.TURTLE, "jsonld": ox.RdfFormat.JSON_LD}
    if form not in formats:
        raise DocumentError(
            f"format {form!r} cannot be read back",
            where="export",
            allowed="turtle, jsonld",
            remedy="export in one of these",
        )
    try:
        quads = list(ox.parse(text, format=formats[form]))
    except (SyntaxError, ValueError) as error:
        raise DocumentError(
            f"no {form} ({error})", where="the document", allowed=form, remedy="export it again"
        ) from None
    record = {
        quad.subject
        for quad in quads
        if quad.predicate.value == TYPE and getattr(quad.object, "value", "") in RECORDS
    }
    kept = (ox.Triple(*list(quad)[:3]) for quad in quads if quad.subject not in record)
    lines = ox.serialize(kept, format=ox.RdfFormat.N_TRIPLES) or b""
    decoded = examine({"release.ttl": lines})
    if decoded.rows:
        issues = [row.issue() for row in decoded.rows]
        raise KnowledgeError(f"document refused: {issues[0]}; {len(issues)} in all", issues)
    return decoded.knowledge()


FORMATS: Final[Mapping[str, Callable[[Knowledge], str]]] = {
    "turtle": as_turtle,
    "jsonld": as_jsonld,
    "graphml": as_graphml,
}


def _sources() -> bytes:
    """Return the file of the sources."""
    return files("graph").joinpath("sources.ttl").read_bytes()


def _node(iri: str, resource: Resource, statements: Statements) -> dict[str, Any]:
    """Return one subject as a JSON-LD node."""
    node: dict[str, Any] = {"@id": _short(iri)}
    for predicate, values in resource.said.items():
        if predicate == TYPE:
            node["@type"] = term_of(values[0].value)
            continue
        told = [_value(value, statements) for value in values]
        node[_key(predicate)] = told[0] if len(told) == 1 else told
    return node


def _short(iri: str) -> str:
    """Return an IRI relative to the base of the document."""
    return f"#{term_of(iri)}" if term_of(iri) else iri


def _key(predicate: str) -> str:
    """Return a predicate as a key: own ones bare, borrowed ones with their prefix."""
    for prefix, namespace in PREFIXES.items():
        if predicate.startswith(namespace):
            local = predicate[len(namespace) :]
            return f"{prefix}:{local}" if prefix else local
    return predicate


def _value(value: Value, statements: Statements) -> Any:
    """Return an object as JSON-LD says it."""
    if isinstance(value, ox.BlankNode):
        return {"@list": [_value(one, statements) for one in statements.column(value.value)]}
    if isinstance(value, ox.NamedNode):
        return {"@id": _short(value.value)}
    if value.language:
        return {"@value": value.value, "@language": value.language}
    datatype = value.datatype.value
    if datatype == _XSD_STRING:
        return value.value
    if datatype == _XSD_BOOLEAN:
        return value.value == "true"
    if datatype == _XSD_INTEGER:
        return int(value.value)
    return {"@value": value.value, "@type": _key(datatype)}


def _drawn_nodes(knowledge: Knowledge) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield id and attributes of every node of the drawing."""
    for code in knowledge.codes.values():
        yield (
            code.id,
            {"kind": "code", "label": code.watched, "group": code.group}
            | {
                "notation": code.notation,
                "place": code.place,
                "leak": code.leak,
            },
        )
    for family in sorted({code.family for code in knowledge.codes.values() if code.family}):
        yield f"{family}-*", {"kind": "family", "label": f"any code of {family}"}
    rows: tuple[tuple[str, Mapping[str, Any], tuple[str, ...]], ...] = (
        ("finding", knowledge.findings, ("leak_salted", "leak_dry")),
        ("state", knowledge.states, ("leak",)),
        ("cause", knowledge.causes, ("base_salted", "base_dry", "safety", "deficiency", "nature")),
        ("check", knowledge.checks, ("setup", "minutes")),
        ("repair", knowledge.repairs, ("hours_low", "hours_high")),
    )
    for kind, held, numbers in rows:
        for key, item in sorted(held.items()):
            more = {name: getattr(item, name) for name in ("group", "scope") if hasattr(item, name)}
            more |= {name: getattr(item, name) for name in numbers}
            yield key, {"kind": kind, "label": item.label, **more}


def _drawn_edges(knowledge: Knowledge) -> Iterator[tuple[str, str, str, dict[str, Any]]]:
    """Yield source, target, id and attributes of every edge of the drawing."""
    for link in knowledge.links:
        yield link.source, link.target, link.id, _link_attributes(link)
    for code in knowledge.codes.values():
        if code.family:
            key = f"{code.family}-*.{code.id}"
            yield f"{code.family}-*", code.id, key, {"relation": "stands-for"}
    for check in knowledge.checks.values():
        for shows in check.detects:
            numbers = {"sensitivity": shows.sensitivity, "specificity": shows.specificity}
            yield (
                check.id,
                shows.target,
                f"{check.id}.{shows.target}",
                {"relation": "shows", **numbers},
            )
    for repair in knowledge.repairs.values():
        for term in repair.fixes:
            yield repair.id, term, f"{repair.id}.{term}", {"relation": "puts-right"}


def _link_attributes(link: Link) -> dict[str, Any]:
    """Return everything that is said of a link."""
    said = link.provenance
    return {
        "relation": "leads-to",
        "reach": link.reach,
        "strength": link.strength,
        "sample_size": link.sample_size,
        "mechanism": link.mechanism,
        "review": link.review,
        "active": not link.deprecated,
        "deprecated_because": link.deprecated,
        "replaced_by": link.replaced_by,
        "basis": said.basis,
        "source_of_it": said.source,
        "author": said.author,
        "date": said.date,
        "note": said.note,
    }


def _clean(attributes: Mapping[str, Any]) -> dict[str, Any]:
    """Return attributes without the empty ones, texts fit for XML."""
    return {
        name: _NOT_XML.sub("\ufffd", value) if isinstance(value, str) else value
        for name, value in attributes.items()
        if value != ""
    }
