"""The table of kinds, turned round so that a reader finds things by IRI."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from graph.kinds import KINDS, PROVENANCE, RELEASE
from graph.namespaces import TERMS, expand
from graph.schema import Field, Kind, Part

__all__ = [
    "ALLOWED",
    "KIND_BY_IRI",
    "PART_BY_IRI",
    "PREDICATES",
    "RECORDS",
    "RELEASE_IRI",
    "TYPE",
]

TYPE: Final = expand("rdf:type")
RELEASE_IRI: Final = TERMS + "Release"
#: Kinds that other statements point to but that carry no knowledge of cars.
RECORDS: Final = frozenset({TERMS + "Source", TERMS + "Agent"})
KIND_BY_IRI: Final[Mapping[str, Kind]] = {TERMS + kind.name: kind for kind in KINDS}
PART_BY_IRI: Final[Mapping[str, Part]] = {
    TERMS + field.part.name: field.part for kind in KINDS for field in kind.fields if field.part
}


def _every_field() -> Iterable[Field]:
    """Yield every field of the table."""
    for kind in KINDS:
        yield from kind.fields
    for part in PART_BY_IRI.values():
        yield from part.fields
    yield from PROVENANCE
    yield from RELEASE


#: Predicate as the table writes it -> its IRI.
PREDICATES: Final[Mapping[str, str]] = {
    field.predicate: expand(field.predicate) for field in _every_field()
}


def _allowed(fields: Iterable[Field]) -> frozenset[str]:
    """Return the predicates that a subject with these fields may use."""
    names = {field.predicate for field in fields}
    if any(field.form == "reason" for field in fields):
        names.add("owl:deprecated")
    return frozenset({TYPE, *(expand(name) for name in names)})


#: Name of a kind or part -> the IRIs of the predicates it may use.
ALLOWED: Final[Mapping[str, frozenset[str]]] = {
    **{
        kind.name: _allowed((*kind.fields, *(PROVENANCE if kind.provenance else ())))
        for kind in KINDS
    },
    **{part.name: _allowed(part.fields) for part in PART_BY_IRI.values()},
    "Release": _allowed(RELEASE),
}
