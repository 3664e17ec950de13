"""From statements to values, field by field, as `graph.kinds` says.

Whatever does not fit becomes a row: an unknown predicate, a wrong datatype, a
number out of range, a word nobody knows, a statement that is missing, an id that
points nowhere (the nearest known ids are named). The value is left out and reading
goes on, so one run tells everything.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from functools import cache
from typing import Any

import pyoxigraph as ox

from graph.kinds import KINDS, PROVENANCE, RELEASE
from graph.literals import DATATYPES, MISSING, read_literal
from graph.lookup import (
    ALLOWED,
    KIND_BY_IRI,
    PART_BY_IRI,
    PREDICATES,
    RECORDS,
    RELEASE_IRI,
    TYPE,
)
from graph.namespaces import TERMS, compact, expand, term_of
from graph.report import ERROR, Row
from graph.schema import Field, Kind, Part, default_of
from graph.terms import Knowledge, Provenance
from graph.triples import Resource, Statements, Value
from graph.wording import nearest, quoted
from graph.write import id_of

__all__ = ["Decoded", "decode"]


_DEPRECATED = expand("owl:deprecated")


@dataclasses.dataclass(slots=True)
class Decoded:
    """What was understood, and every row about what was not."""

    statements: Statements
    rows: list[Row] = dataclasses.field(default_factory=list)
    values: dict[str, dict[str, Any]] = dataclasses.field(default_factory=dict)
    release: dict[str, Any] = dataclasses.field(default_factory=dict)

    def knowledge(self) -> Knowledge:
        """Return the knowledge; only sound when there is no row."""
        held: dict[str, Any] = {}
        for kind in KINDS:
            found = self.values.get(kind.name, {})
            ordered = {key: found[key] for key in sorted(found)}
            is_tuple = kind.attribute in _TUPLES
            held[kind.attribute] = tuple(ordered.values()) if is_tuple else _by_id(kind, ordered)
        return Knowledge(**held, **self.release)


_TUPLES = {
    field.name for field in dataclasses.fields(Knowledge) if str(field.type).startswith("tuple")
}


def _by_id(kind: Kind, found: Mapping[str, Any]) -> dict[str, Any]:
    """Return values by the id that the program uses."""
    return {key.removeprefix(kind.before): value for key, value in found.items()}


def decode(statements: Statements) -> Decoded:
    """Return the values that the statements say, and what is wrong with them."""
    reader = _Reader(statements)
    for iri, resource in statements.resources.items():
        reader.read(iri, resource)
    # An unread file would make every id in it unknown.
    if not any(row.rule == "unreadable-file" for row in statements.rows):
        reader.check_references()
    reader.check_strays()
    out = reader.out
    if "version" not in out.release and "release.ttl" in statements.texts:
        reader.refuse(
            "missing-statement",
            TERMS + "release",
            "the version is not stated",
            'state it with ":release a :Release ; owl:versionInfo"',
        )
    out.rows = sorted({*statements.rows, *out.rows}, key=lambda row: (_spot(row.where), row.rule))
    return out


def _spot(where: str) -> tuple[str, int]:
    """Return file and line, for sorting."""
    file, _, line = where.rpartition(":")
    return (file, int(line)) if line.isdigit() else (where, 0)


class _Reader:
    """Walks the resources once; remembers references until all ids are known."""

    def __init__(self, statements: Statements) -> None:
        self.statements = statements
        self.out = Decoded(statements)
        self.known: dict[str, set[str]] = {}
        self.references: list[tuple[str, Field, str]] = []
        self.used_parts: set[str] = set()

    def refuse(self, rule: str, iri: str, sentence: str, remedy: str, about: str = "") -> None:
        """Write down one thing that is wrong with a subject."""
        where = self.statements.where(iri)
        self.out.rows.append(Row(ERROR, rule, term_of(iri) or iri, sentence, where, remedy, about))

    def read(self, iri: str, resource: Resource) -> None:
        """Read one subject, unless it is a part (its parent reads that)."""
        types = resource.said.get(TYPE)
        type_iri = types[0].value if types and isinstance(types[0], ox.NamedNode) else ""
        if type_iri in KIND_BY_IRI:
            self._term(iri, resource, KIND_BY_IRI[type_iri])
        elif type_iri in RECORDS:
            self.known.setdefault(type_iri.removeprefix(TERMS), set()).add(iri)
        elif type_iri == RELEASE_IRI:
            self._release(iri, resource)
        elif type_iri not in PART_BY_IRI:
            said = f"has the unknown kind {compact(type_iri)}" if type_iri else "has no kind"
            self.refuse(
                "unknown-kind",
                iri,
                f"{quoted(iri)} {said}",
                f"known kinds: {', '.join(kind.name for kind in KINDS)}",
            )

    def _term(self, iri: str, resource: Resource, kind: Kind) -> None:
        """Read one term of a kind."""
        term = term_of(iri)
        if not term.startswith(kind.before + kind.prefix) or not term:
            self.refuse(
                "wrong-prefix",
                iri,
                f"{quoted(iri)} is a {kind.name} but its id does not "
                f"begin with '{kind.before + kind.prefix}'",
                "rename it before it is used",
            )
        self.known.setdefault(kind.name, set()).add(iri)
        found = self._fields(iri, resource, kind.fields, kind.type)
        if kind.provenance:
            origin = self._fields(iri, resource, PROVENANCE, Provenance)
            found["provenance"] = _made(Provenance, origin)
        self._unknown_predicates(iri, resource, ALLOWED[kind.name])
        if not kind.id_of:
            found["id"] = term.removeprefix(kind.before)
        if kind.name == "Code" and found.get("family"):
            self.known.setdefault("Star", set()).add(f"{TERMS}{found['family']}-*")
        value = _made(kind.type, found)
        if value is None:
            return
        if kind.id_of and id_of(kind, value) != term:
            self.refuse(
                "wrong-prefix",
                iri,
                f"{quoted(iri)} should be called {id_of(kind, value)!r}",
                "its id is made from what it says",
            )
        self.out.values.setdefault(kind.name, {})[term] = value

    def _fields(
        self, iri: str, resource: Resource, fields: tuple[Field, ...], holder: Any
    ) -> dict[str, Any]:
        """Return the fields that a subject states, by name."""
        found: dict[str, Any] = {}
        for field in fields:
            values = resource.said.get(PREDICATES[field.predicate])
            if values is None:
                default = default_of(holder, field)
                if field.form == "reason" and _DEPRECATED in resource.said:
                    default = MISSING
                if default is MISSING:
                    self.refuse(
                        "missing-statement",
                        iri,
                        f"{quoted(iri)} does not state {field.predicate}",
                        f"state it as {DATATYPES[field.form]}",
                        field.predicate,
                    )
                else:
                    found[field.name] = _empty(field, default)
                continue
            value = self._value(iri, field, values)
            if value is not MISSING:
                found[field.name] = value
        return found

    def _value(self, iri: str, field: Field, values: list[Value]) -> Any:
        """Return what the statements of one field say, MISSING when they are wrong."""
        if field.part is not None:
            return self._parts(iri, field, field.part, values)
        if field.many:
            read = [self._one(iri, field, value) for value in values]
            return tuple(one for one in read if one is not MISSING)
        if len(values) > 1:
            self.refuse(
                "repeated-statement",
                iri,
                f"{quoted(iri)} states {field.predicate} {len(values)} times",
                "one is allowed; remove the others",
            )
            return MISSING
        return self._one(iri, field, values[0])

    def _one(self, iri: str, field: Field, value: Value) -> Any:
        """Return one object as a plain value."""
        if field.form == "ref":
            return self._reference(iri, field, value)
        if field.form == "column":
            return self._column(iri, field, value)
        read = read_literal(field.form, value) if isinstance(value, ox.Literal) else MISSING
        if read is MISSING:
            self.refuse(
                "wrong-datatype",
                iri,
                f"{field.predicate} of {quoted(iri)} is {value}, not {DATATYPES[field.form]}",
                "write it so",
            )
            return MISSING
        return self._checked(iri, field, read)

    def _checked(self, iri: str, field: Field, read: Any) -> Any:
        """Return a value that is in range and a known word."""
        if field.interval is not None and read not in field.interval:
            self.refuse(
                "out-of-range",
                iri,
                f"{field.predicate} of {quoted(iri)} is {read}, outside {field.interval}",
                "correct the number",
                field.predicate,
            )
            return MISSING
        if field.words and read not in field.words:
            words = ", ".join(field.words)
            self.refuse(
                "unknown-word",
                iri,
                f"{field.predicate} of {quoted(iri)} is {read!r}, which is not one of its words",
                nearest(read, field.words, otherwise=f"allowed: {words}"),
            )
            return MISSING
        return read

    def _reference(self, iri: str, field: Field, value: Value) -> Any:
        """Return an id, and remember to look it up when all ids are known."""
        term = term_of(value.value) if isinstance(value, ox.NamedNode) else ""
        if not (term.startswith(field.before) and term.endswith(field.after) and term):
            self.refuse(
                "wrong-datatype",
                iri,
                f"{field.predicate} of {quoted(iri)} is {value}, not "
                f"an id{f' ending in {field.after}' if field.after else ''}",
                "write it so",
            )
            return MISSING
        bare = term.removeprefix(field.before).removesuffix(field.after)
        if bare not in field.words:
            self.references.append((iri, field, TERMS + term))
        return bare

    def _column(self, iri: str, field: Field, value: Value) -> Any:
        """Return the numbers of a list."""
        if isinstance(value, ox.Literal):
            cells: list[Any] = [MISSING]
        else:
            cells = [
                read_literal("number", cell) if isinstance(cell, ox.Literal) else MISSING
                for cell in self.statements.column(value.value)
            ]
        if MISSING in cells:
            self.refuse(
                "wrong-datatype",
                iri,
                f"{field.predicate} of {quoted(iri)} is not a list of xsd:decimal",
                "write it as ( 0.1 0.2 )",
            )
            return MISSING
        checked = [self._checked(iri, field, cell) for cell in cells]
        return MISSING if MISSING in checked else tuple(checked)

    def _parts(self, iri: str, field: Field, part: Part, values: list[Value]) -> Any:
        """Return the parts of a term as a tuple, or as a mapping when they are rows."""
        read = []
        for value in values:
            resource = self.statements.resources.get(value.value)
            if resource is None or TERMS + part.name not in _types(resource):
                self.refuse(
                    "unknown-term",
                    iri,
                    f"{quoted(iri)} names the {part.name} {value}, which is not described",
                    "describe it below its parent",
                )
                continue
            self.used_parts.add(value.value)
            self._unknown_predicates(value.value, resource, ALLOWED[part.name])
            found = self._fields(value.value, resource, part.fields, part.type)
            if part.type is None:
                if len(found) == len(part.fields):
                    read.append(tuple(found.values()))
            elif (made := _made(part.type, found)) is not None:
                read.append(made)
        if part.type is not None:
            return tuple(read)
        return {row[0] if len(row) == 2 else row[:-1]: row[-1] for row in read}

    def _release(self, iri: str, resource: Resource) -> None:
        """Read what is said of the release as a whole."""
        self._unknown_predicates(iri, resource, ALLOWED["Release"])
        self.out.release.update(self._fields(iri, resource, RELEASE, Knowledge))

    def _unknown_predicates(self, iri: str, resource: Resource, allowed: frozenset[str]) -> None:
        """Refuse predicates that this kind does not have."""
        for predicate in resource.said.keys() - allowed:
            known = [compact(one) for one in sorted(allowed - {TYPE})]
            self.refuse(
                "unknown-predicate",
                iri,
                f"{quoted(iri)} uses {compact(predicate)}, which its kind does not have",
                nearest(compact(predicate), known, otherwise=f"known: {', '.join(known)}"),
            )

    def check_references(self) -> None:
        """Refuse ids that point nowhere or to the wrong kind; name the nearest."""
        for iri, field, target in self.references:
            if any(target in self.known.get(kind, ()) for kind in field.refers):
                continue
            known = sorted(
                term_of(one) for kind in field.refers for one in self.known.get(kind, ())
            )
            hint = f"it must be one of the {len(known)} known: {', '.join(field.refers)}"
            self.refuse(
                "unknown-term",
                iri,
                f"{field.predicate} of {quoted(iri)} names "
                f"{term_of(target)!r}, which is not there as a {' or '.join(field.refers)}",
                nearest(term_of(target), known, otherwise=hint),
                field.predicate,
            )

    def check_strays(self) -> None:
        """Refuse parts that no term owns: they would be lost."""
        for iri, resource in self.statements.resources.items():
            part = next((PART_BY_IRI[one] for one in _types(resource) if one in PART_BY_IRI), None)
            if part is not None and iri not in self.used_parts:
                self.refuse(
                    "stray-part",
                    iri,
                    f"no term owns the {part.name} {quoted(iri)}",
                    "name it from its parent, or remove it",
                )


def _types(resource: Resource) -> list[str]:
    """Return the IRIs of the kinds of a subject."""
    return [value.value for value in resource.said.get(TYPE, ()) if isinstance(value, ox.NamedNode)]


def _empty(field: Field, default: Any) -> Any:
    """Return what an unsaid field holds; a mapping when its parts are rows."""
    if field.part is not None and field.part.type is None:
        return {}
    return default


def _made(holder: Any, found: dict[str, Any]) -> Any:
    """Return the value, or None when a field that it needs could not be read."""
    return holder(**found) if _needed(holder) <= found.keys() else None


@cache
def _needed(holder: Any) -> frozenset[str]:
    """Return the names of the fields that a value cannot do without."""
    return frozenset(
        field.name
        for field in dataclasses.fields(holder)
        if field.default is MISSING and field.default_factory is MISSING
    )
