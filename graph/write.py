"""The canonical writer: knowledge as Turtle text that never depends on who wrote it.

Writing what was read gives the same bytes, so a difference between two versions of
a file is a difference in what is known. The rules: a fixed list of prefixes;
subjects sorted by id; statements in the order of `graph.kinds`; one statement a
line; a part on one line of its own, below its parent; who, when and from what on
one line at the end of every term; numbers as the shortest decimal that reads back
as the same number.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from graph.kinds import KINDS, PROVENANCE, RELEASE
from graph.namespaces import PREFIXES, compact, iri_of
from graph.schema import Field, Kind, Part, default_of
from graph.terms import Knowledge, Provenance

__all__ = ["file_name", "id_of", "part_ids", "write_knowledge"]

_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}
_NEEDS_ESCAPE = re.compile(r'["\\\x00-\x1f\x7f]')
_PREFIX_IN_FILE = ("", "dcterms", "owl", "prov", "skos", "xsd")


def write_knowledge(knowledge: Knowledge) -> dict[str, str]:
    """Return every knowledge file as canonical text, by file name.

    Parameters
    ----------
    knowledge : Knowledge
        What is to be written; `sha256` is not written, it is made from the text.

    Returns
    -------
    dict of file name to Turtle text
        Sorted by name. Reading it gives the same knowledge, its tuples of terms
        (links, curves, ...) sorted by id.
    """
    blocks: dict[str, list[tuple[str, str]]] = {}
    for kind in KINDS:
        for item in _items(knowledge, kind):
            term = id_of(kind, item)
            name = file_name(knowledge, kind, item)
            blocks.setdefault(name, []).append((term, _block(kind, item, term)))
    files = {name: _file(text for _, text in sorted(rows)) for name, rows in blocks.items()}
    files["release.ttl"] = _file([_release(knowledge)])
    return dict(sorted(files.items()))


def id_of(kind: Kind, item: Any) -> str:
    """Return the id under which a value stands in the files."""
    if kind.id_of:
        values = {field.name: getattr(item, field.name) for field in kind.fields}
        return (kind.prefix + kind.id_of.format(**values)).lower()
    return kind.before + str(item.id)


def file_name(knowledge: Knowledge, kind: Kind, item: Any) -> str:
    """Return the file that a value belongs in: its kind and its subject area."""
    if "{group}" not in kind.file:
        return f"{kind.file}.ttl"
    area = _area(knowledge, kind, item)
    return f"{kind.file.format(group=area)}.ttl" if area else f"{kind.file[: -len('-{group}')]}.ttl"


def part_ids(part: Part, values: Iterable[Any], parent: str) -> list[str]:
    """Return the ids of the parts of one term, in order; a repeated name gets a number."""
    seen: dict[str, int] = {}
    names = []
    for number, value in enumerate(values, start=1):
        words = [str(getattr(value, name)) for name in part.named_by] if part.named_by else []
        name = ".".join(word for word in words if word) if words else f"t{number}"
        seen[name] = seen.get(name, 0) + 1
        names.append(f"{parent}.{name}" + (f".{seen[name]}" if seen[name] > 1 else ""))
    return names


def _items(knowledge: Knowledge, kind: Kind) -> Iterable[Any]:
    """Return all values of a kind."""
    held = getattr(knowledge, kind.attribute)
    return held.values() if isinstance(held, Mapping) else held


def _area(knowledge: Knowledge, kind: Kind, item: Any) -> str:
    """Return the subject area of a value, as part of a file name."""
    if kind.name == "Check":
        area = item.setup.removeprefix("su-")
    elif kind.name == "Link":
        holder = (
            knowledge.causes.get(item.source)
            or knowledge.states.get(item.source)
            or knowledge.findings.get(item.source)
        )
        area = (holder.group if holder else "") or "general"
    else:
        area = item.group
    return re.sub(r"[^a-z0-9]+", "-", area.lower()).strip("-")


def _file(blocks: Iterable[str]) -> str:
    """Return a whole file."""
    head = [f"@prefix {prefix}: <{PREFIXES[prefix]}> ." for prefix in _PREFIX_IN_FILE]
    return "\n".join(head) + "\n\n" + "\n".join(blocks)


def _release(knowledge: Knowledge) -> str:
    """Return the statements about the release as a whole."""
    lines = [
        line
        for field in RELEASE
        for line in _statements(field, getattr(knowledge, field.name), default_of(Knowledge, field))
    ]
    return _joined(":release", "Release", lines)


def _block(kind: Kind, item: Any, term: str) -> str:
    """Return one term with its parts."""
    subject = compact(iri_of(term))
    lines: list[str] = []
    below: list[str] = []
    for field in kind.fields:
        if field.part:
            values = _part_values(field, getattr(item, field.name))
            for name, value in zip(part_ids(field.part, values, term), values, strict=True):
                lines.append(f"{field.predicate} {compact(iri_of(name))}")
                below.append(_part_line(field.part, name, value))
        else:
            lines.extend(
                _statements(field, getattr(item, field.name), default_of(kind.type, field))
            )
    if kind.provenance:
        lines.append(_provenance(item.provenance))
    return _joined(subject, kind.name, lines) + "".join(below)


def _joined(subject: str, kind: str, lines: list[str]) -> str:
    """Return a subject with its statements, one a line."""
    return f"{subject}\n    " + " ;\n    ".join([f"a :{kind}", *lines]) + " .\n"


def _statements(field: Field, value: Any, default: Any) -> Iterator[str]:
    """Return the statements of one field; none when it holds its default."""
    if default is not dataclasses.MISSING and value == default:
        return
    for one in value if field.many else (value,):
        if field.form == "reason":
            yield "owl:deprecated true"
        yield f"{field.predicate} {_object(field, one)}"


def _part_values(field: Field, held: Any) -> list[Any]:
    """Return the parts of a field; the rows of a mapping sorted by key."""
    assert field.part is not None
    if not isinstance(held, Mapping):
        return list(held)
    names = [inner.name for inner in field.part.fields]
    row = dataclasses.make_dataclass(field.part.name, names)
    return [row(*(key if isinstance(key, tuple) else (key,)), held[key]) for key in sorted(held)]


def _part_line(part: Part, name: str, value: Any) -> str:
    """Return one part on one line."""
    said = [f"a :{part.name}"]
    for field in part.fields:
        said.extend(_statements(field, getattr(value, field.name), default_of(part.type, field)))
    return f"{compact(iri_of(name))} {' ; '.join(said)} .\n"


def _provenance(provenance: Provenance) -> str:
    """Return who, when and from what, on one line."""
    return " ; ".join(
        statement
        for field in PROVENANCE
        for statement in _statements(
            field, getattr(provenance, field.name), default_of(Provenance, field)
        )
    )


def _object(field: Field, value: Any) -> str:
    """Return a value as Turtle writes it."""
    match field.form:
        case "text" | "reason":
            return f"{_quoted(value)}@en"
        case "word":
            return _quoted(value)
        case "ref":
            return compact(iri_of(f"{field.before}{value}{field.after}"))
        case "number":
            return number(value)
        case "integer":
            return str(int(value))
        case "flag":
            return "true" if value else "false"
        case "date":
            return f"{_quoted(value)}^^xsd:date"
        case "column":
            return _column(value)
    raise AssertionError(field.form)


def number(value: float) -> str:
    """Return a number as an xsd:decimal; infinity, which has none, as an xsd:double.

    Examples
    --------
    >>> number(0.00001), number(4.0), number(float("inf"))
    ('0.00001', '4.0', '"INF"^^xsd:double')
    """
    if math.isinf(value):
        return '"INF"^^xsd:double'
    text = format(Decimal(str(float(value))), "f")
    return text if "." in text else f"{text}.0"


def _column(values: Iterable[float]) -> str:
    """Return a list of numbers."""
    return "( " + " ".join(number(value) for value in values) + " )"


def _quoted(text: str) -> str:
    """Return a string literal without its tag."""
    return '"' + _NEEDS_ESCAPE.sub(_escape, text) + '"'


def _escape(match: re.Match[str]) -> str:
    """Return one character as an escape."""
    char = match.group()
    return _ESCAPES.get(char) or f"\\u{ord(char):04X}"
