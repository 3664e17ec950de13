"""Every prefix that a knowledge file may use, and how an id becomes an IRI.

One place states them: the writer prints these prefixes and no others, the reader
expands ids with them. The project's own namespace lies under a reserved top-level
name (RFC 2606), so it never resolves and nothing can fetch it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

__all__ = ["PREFIXES", "TERMS", "compact", "expand", "iri_of", "term_of"]

#: Namespace of the project's own terms and of every id.
TERMS = "https://drypark.example/terms#"

#: Prefix -> namespace, in the order in which files print them.
PREFIXES: Mapping[str, str] = {
    "": TERMS,
    "dcterms": "http://purl.org/dc/terms/",
    "owl": "http://www.w3.org/2002/07/owl#",
    "prov": "http://www.w3.org/ns/prov#",
    "qudt": "http://qudt.org/schema/qudt/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "rdfs": "http://www.w3.org/2000/01/rdf-schema#",
    "sh": "http://www.w3.org/ns/shacl#",
    "skos": "http://www.w3.org/2004/02/skos/core#",
    "unit": "http://qudt.org/vocab/unit/",
    "xsd": "http://www.w3.org/2001/XMLSchema#",
}

#: Characters that the local part of a prefixed name must escape (Turtle 1.1, PN_LOCAL_ESC).
_ESCAPED = re.compile(r"[~!$&'()*+,;=/?#@%]")


def expand(name: str) -> str:
    """Return the IRI of a prefixed name.

    Examples
    --------
    >>> expand("skos:prefLabel")
    'http://www.w3.org/2004/02/skos/core#prefLabel'
    """
    prefix, _, local = name.partition(":")
    return PREFIXES[prefix] + local


def compact(iri: str) -> str:
    r"""Return the prefixed name of an IRI, or the IRI in angle brackets.

    Examples
    --------
    >>> compact("https://drypark.example/terms#dtc-wss-*"), compact("https://other.example/x")
    (':dtc-wss-\\*', '<https://other.example/x>')
    """
    for prefix, namespace in PREFIXES.items():
        if iri.startswith(namespace):
            return f"{prefix}:{_ESCAPED.sub(_escape, iri[len(namespace) :])}"
    return f"<{iri}>"


def _escape(match: re.Match[str]) -> str:
    """Put a backslash before one character."""
    return "\\" + match.group()


def iri_of(term: str) -> str:
    """Return the IRI of an id such as ``rc-bearing-play``."""
    return TERMS + term


def term_of(iri: str) -> str:
    """Return the id that an IRI of the project's namespace stands for, "" for others."""
    return iri[len(TERMS) :] if iri.startswith(TERMS) else ""
