"""The knowledge as an rdflib graph: for shapes, exports and whoever likes SPARQL.

Kept apart from `graph.load`, which needs no rdflib and must not wait for its import.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files

import rdflib

from graph.load import shipped_folder
from graph.namespaces import PREFIXES
from graph.triples import Folder, turtle_files

__all__ = ["graph_of", "load_graph", "vocabulary"]


def load_graph(folder: Folder | None = None) -> rdflib.Graph:
    """Return all statements of a folder (default: the shipped knowledge) and of the sources.

    Notes
    -----
    About 1 s for the shipped 41,000 triples: rdflib's own parser, so that it is also
    an independent reading of the files.
    """
    return graph_of(turtle_files(shipped_folder() if folder is None else folder))


def graph_of(content: Mapping[str, bytes]) -> rdflib.Graph:
    """Return all statements of files that are at hand, and of the sources."""
    graph = _bound()
    sources = files("graph").joinpath("sources.ttl").read_bytes()
    for text in (sources, *content.values()):
        graph.parse(data=text, format="turtle")
    return graph


def vocabulary() -> rdflib.Graph:
    """Return the project's vocabulary: labels, ranges and units of its own terms."""
    graph = _bound()
    graph.parse(data=files("graph").joinpath("vocab.ttl").read_bytes(), format="turtle")
    return graph


def _bound() -> rdflib.Graph:
    """Return an empty graph that knows the prefixes of the project and no others."""
    graph = rdflib.Graph(bind_namespaces="none")
    for prefix, namespace in PREFIXES.items():
        graph.bind(prefix, namespace)
    return graph
