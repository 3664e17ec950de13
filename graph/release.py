"""Release notes written by the program: what differs between two knowledge folders.

Counts first, then every term that was added, changed (old -> new) or deprecated, by name.
Compared are statements, not lines: the order of a file and the file itself mean nothing.
A part of a term (what a check shows, an odds factor) counts to its term and is named by
the part of its id behind the dot. A term that is gone is shown as an error of the release:
nothing is ever deleted, only deprecated.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import pyoxigraph as ox

from graph.kinds import KINDS
from graph.load import fingerprint, load_knowledge
from graph.lookup import TYPE
from graph.namespaces import TERMS, compact, expand, term_of
from graph.statistics import statistics
from graph.terms import Knowledge
from graph.triples import Folder, Statements, Value, read_statements, turtle_files

__all__ = ["Change", "Release", "compare", "first_notes", "notes"]

_DEPRECATED, _REASON = expand("owl:deprecated"), expand(":deprecatedBecause")
_REPLACED = expand("dcterms:isReplacedBy")
#: Statements that together say "deprecated"; they have a heading of their own.
_OF_DEPRECATION = frozenset({_DEPRECATED, _REASON, _REPLACED})
_LABELS = tuple(expand(name) for name in ("skos:prefLabel", ":watched", ":condition"))
_FROM, _TO, _VERSION = expand(":from"), expand(":to"), expand("owl:versionInfo")

#: Subject -> predicate -> what it says, each value as text.
_Said = Mapping[str, Mapping[str, frozenset[str]]]


@dataclass(frozen=True, slots=True)
class Change:
    """One statement about one term that is not what it was."""

    term: str
    what: str  # e.g. "strength", or "rc-bearing-play sensitivity" inside a check
    old: str  # "" = it was not stated
    new: str  # "" = it is no longer stated

    def __str__(self) -> str:
        return f"{self.what} {self.old or 'nothing'} -> {self.new or 'nothing'}"


@dataclass(frozen=True, slots=True)
class Release:
    """Everything that differs between two releases; ids sorted."""

    old_version: str
    new_version: str
    sha256: str
    kinds: Mapping[str, str]  # id -> name of its kind, of every term of both
    names: Mapping[str, str]  # id -> words
    before: Mapping[str, int]  # name of a kind -> terms
    added: tuple[str, ...]
    changed: tuple[Change, ...]
    deprecated: Mapping[str, tuple[str, str]]  # id -> reason, id of the replacement or ""
    gone: tuple[str, ...]


def compare(old: Folder, new: Folder) -> Release:
    """Return what differs between two knowledge folders.

    Raises
    ------
    KnowledgeError
        If one of them cannot be read; notes on broken knowledge would be wrong.
    """
    old_version = load_knowledge(old).version
    new_version = load_knowledge(new).version
    content = turtle_files(new)
    was, now = read_statements(turtle_files(old)), read_statements(content)
    kinds = {**_kinds(was), **_kinds(now)}
    before, after = _kinds(was), _kinds(now)
    old_said, new_said = _said(was), _said(now)
    counts = {kind.name: list(before.values()).count(kind.name) for kind in KINDS}
    return Release(
        old_version,
        new_version,
        fingerprint(content),
        kinds,
        {key: _name(new_said.get(key) or old_said[key]) for key in kinds},
        counts,
        tuple(sorted(after.keys() - before.keys())),
        tuple(_changes(old_said, new_said, kinds)),
        dict(_deprecations(old_said, new_said)),
        tuple(sorted(before.keys() - after.keys())),
    )


def notes(release: Release) -> str:
    """Return the notes as text (Markdown): counts, added, changed, deprecated, gone."""
    lines = [
        f"# Knowledge release {release.new_version}",
        "",
        f"Compared with release {release.old_version}. SHA-256 {release.sha256}",
        "",
        *_counts(release),
    ]
    lines += _section("Added", (_entry(release, key) for key in release.added))
    by_term: dict[str, list[str]] = {}
    for change in release.changed:
        by_term.setdefault(change.term, []).append(str(change))
    lines += _section(
        "Changed",
        (f"{_entry(release, key)}: {'; '.join(what)}" for key, what in by_term.items()),
    )
    lines += _section(
        "Deprecated",
        (
            f"{_entry(release, key)}: {reason}{f'; use {other}' if other else ''}"
            for key, (reason, other) in release.deprecated.items()
        ),
    )
    lines += _section(
        "Gone, which must not be (deprecate instead)",
        (_entry(release, key) for key in release.gone),
    )
    return "\n".join(lines) + "\n"


def first_notes(knowledge: Knowledge) -> str:
    """Return the notes of a first release: counts, and the names of the families.

    A line for each of 2,000 terms would be read by nobody; `knowledge show` tells each.
    """
    seen = statistics(knowledge)
    lines = [
        f"# Knowledge release {knowledge.version}",
        "",
        f"The first release: all of it is added. SHA-256 {knowledge.sha256}",
        "",
        "| kind | terms |",
        "|---|---|",
        *(f"| {_plain(name)} | {count} |" for name, count in seen.counts.items() if count),
    ]
    if seen.deprecated:
        lines += ["", f"Beside them {seen.deprecated} links that were rejected stay on record."]
    lines += ["", "| family of codes | codes | causes that lead to them | checks | repairs |"]
    lines += ["|---|---|---|---|---|"]
    lines += [
        f"| {row.group} | {row.codes} | {row.causes} | {row.checks} | {row.repairs} |"
        for row in seen.by_code
    ]
    lines += ["", "| area of causes | causes | checks | repairs |", "|---|---|---|---|"]
    lines += [
        f"| {row.group} | {row.causes} | {row.checks} | {row.repairs} |" for row in seen.by_cause
    ]
    lines += ["", "| it rests on | terms |", "|---|---|"]
    lines += [f"| {source} | {count} |" for source, count in _sources(seen.sources)]
    return "\n".join(lines) + "\n"


def _sources(counts: Mapping[str, int]) -> list[tuple[str, int]]:
    """Return sources, the most used one first."""
    return sorted(counts.items(), key=lambda row: (-row[1], row[0]))


def _section(heading: str, entries: Iterator[str]) -> list[str]:
    """Return a heading with a line for each entry; nothing when there is none."""
    rows = [f"* {entry}" for entry in entries]
    return ["", f"## {heading} ({len(rows)})", "", *rows] if rows else []


def _counts(release: Release) -> list[str]:
    """Return the table of counts: kinds in their order, those that have no terms left out."""
    rows = ["| kind | before | added | changed | deprecated | gone |", "|---|---|---|---|---|---|"]
    touched = {change.term for change in release.changed}
    for kind in KINDS:
        figures = [
            release.before[kind.name],
            *(
                sum(release.kinds.get(key) == kind.name for key in keys)
                for keys in (release.added, touched, release.deprecated, release.gone)
            ),
        ]
        if any(figures):
            rows.append(f"| {_plain(kind.name)} | {' | '.join(map(str, figures))} |")
    return rows


def _plain(kind: str) -> str:
    """Return the name of a kind in words.

    Examples
    --------
    >>> _plain("FailureByte")
    'failure byte'
    """
    return "".join(f" {char.lower()}" if char.isupper() else char for char in kind).strip()


def _entry(release: Release, key: str) -> str:
    """Return an id with its words."""
    name = release.names.get(key, "")
    return f"{key} ({name})" if name else key


def _name(said: Mapping[str, frozenset[str]]) -> str:
    """Return the words for a term: its label, or the two ends of a link."""
    if _FROM in said and _TO in said:
        return f"{_joined(said[_FROM])} -> {_joined(said[_TO])}"
    return next((_joined(said[label]) for label in _LABELS if label in said), "")


def _kinds(statements: Statements) -> dict[str, str]:
    """Return id -> name of the kind, of every term."""
    names = {TERMS + kind.name: kind.name for kind in KINDS}
    return {
        term_of(iri): names[kind.value]
        for iri, resource in statements.resources.items()
        for kind in resource.said.get(TYPE, ())
        if kind.value in names
    }


def _said(statements: Statements) -> _Said:
    """Return what is said of every subject, values as text."""
    return {
        term_of(iri): {
            predicate: frozenset(_text(value, statements) for value in values)
            for predicate, values in resource.said.items()
            if predicate != TYPE
        }
        for iri, resource in statements.resources.items()
    }


def _text(value: Value, statements: Statements) -> str:
    """Return a value as people read it."""
    if isinstance(value, ox.BlankNode):
        return f"({' '.join(_text(one, statements) for one in statements.column(value.value))})"
    if isinstance(value, ox.NamedNode):
        return term_of(value.value) or compact(value.value)
    return " ".join(value.value.split())


def _joined(values: frozenset[str]) -> str:
    """Return values in one line, sorted."""
    return ", ".join(sorted(values))


def _changes(old: _Said, new: _Said, kinds: Mapping[str, str]) -> Iterator[Change]:
    """Yield every statement that differs, of terms that are in both, term by term."""
    for key in sorted(old.keys() | new.keys()):
        term, part = _owner(key, kinds)
        if term not in old or term not in new:
            continue
        if part and (key not in old or key not in new):
            yield Change(term, part, _whole(old.get(key, {})), _whole(new.get(key, {})))
            continue
        skipped = _OF_DEPRECATION if _newly_deprecated(old, new, key) else {_VERSION, _DEPRECATED}
        was, now = old[key], new[key]
        for predicate in [*was, *(name for name in now if name not in was)]:
            before, after = was.get(predicate, frozenset()), now.get(predicate, frozenset())
            # Of its parts, each says for itself that it came or went.
            if before == after or predicate in skipped or _names_parts(before ^ after, key):
                continue
            what = f"{part} {compact(predicate).rpartition(':')[2]}".strip()
            yield Change(term, what, _joined(before - after), _joined(after - before))


def _whole(said: Mapping[str, frozenset[str]]) -> str:
    """Return everything that is said of a part, on one line."""
    return ", ".join(
        f"{compact(predicate).rpartition(':')[2]} {_joined(values)}"
        for predicate, values in said.items()
    )


def _newly_deprecated(old: _Said, new: _Said, key: str) -> bool:
    """Say whether a term is deprecated now and was not before."""
    return _DEPRECATED in new.get(key, {}) and _DEPRECATED not in old.get(key, {})


def _owner(key: str, kinds: Mapping[str, str]) -> tuple[str, str]:
    """Return the term that a subject belongs to, and the name of the part, "" for itself."""
    if key in kinds:
        return key, ""
    term, _, part = key.partition(".")
    return term, part


def _names_parts(values: frozenset[str], key: str) -> bool:
    """Say whether values are nothing but the names of the subject's own parts."""
    return all(value.startswith(f"{key}.") for value in values)


def _deprecations(old: _Said, new: _Said) -> Iterator[tuple[str, tuple[str, str]]]:
    """Yield the terms that are deprecated now and were not, with reason and replacement."""
    for key, said in sorted(new.items()):
        if _newly_deprecated(old, new, key):
            reason, other = (_joined(said.get(name, frozenset())) for name in (_REASON, _REPLACED))
            yield key, (reason, other)
