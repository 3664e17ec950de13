"""The shapes: what every link, term, check, gate and source must say, in SHACL.

Every constraint is a property shape with a name and a sentence of its own; the name
stands in ``severity.tsv`` beside the rules'.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from importlib.resources import files

import pyshacl
import rdflib
from rdflib.namespace import RDF, SH

from graph.namespaces import compact, term_of
from graph.report import Row
from graph.ruling import severities
from graph.triples import Statements
from graph.wording import quoted

__all__ = ["broken_shapes", "shape_names", "shapes"]


@cache
def shapes() -> rdflib.Graph:
    """Return all shapes."""
    graph = rdflib.Graph()
    folder = files("graph").joinpath("shapes")
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.name.endswith(".ttl"):
            graph.parse(data=entry.read_bytes(), format="turtle")
    return graph


def shape_names() -> list[str]:
    """Return the names of all constraints, sorted."""
    return sorted(term_of(str(shape)) for shape in shapes().subjects(RDF.type, SH.PropertyShape))


def broken_shapes(graph: rdflib.Graph, statements: Statements) -> Iterator[Row]:
    """Yield one row for every subject and constraint that do not agree."""
    _, results, _ = pyshacl.validate(graph, shacl_graph=shapes(), advanced=False, inplace=True)
    assert isinstance(results, rdflib.Graph)
    found = {
        (
            str(results.value(result, SH.focusNode)),
            term_of(str(results.value(result, SH.sourceShape))),
            str(results.value(result, SH.resultPath)),
            str(results.value(result, SH.resultMessage)),
        )
        for result in results.subjects(RDF.type, SH.ValidationResult)
    }
    for entity, name, path, message in sorted(found):
        severity = severities()[name]
        yield Row(
            severity.level,
            name,
            term_of(entity) or entity,
            f"{quoted(entity)} breaks this: {message}",
            statements.where(entity),
            severity.remedy,
            compact(path),
        )
