"""One term in words: what it says, what leads to it, what it leads to, who says so.

For people who browse the knowledge: the command line, the page of a term, the
review of a proposal. Nothing is computed; every line is a statement of the files.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from graph.kinds import KINDS
from graph.schema import Kind
from graph.terms import Knowledge, Link, Provenance
from graph.write import id_of
from triage.errors import UnknownTermError

__all__ = ["LinkLine", "TermView", "view", "view_text"]

_HIDDEN = frozenset({"id", "provenance"})


@dataclass(frozen=True, slots=True)
class LinkLine:
    """One link as seen from the term: the other end, and all that is said of the link."""

    other: str  # id at the other end
    other_label: str
    link: Link

    def __str__(self) -> str:
        state = f"no longer used: {self.link.deprecated}" if self.link.deprecated else ""
        end = f" [{state}]" if state else ""
        return (
            f"{self.other_label} ({self.other}), {self.link.reach}, strength "
            f"{self.link.strength:g}: {self.link.mechanism} ({self.link.id}){end}"
        )


@dataclass(frozen=True, slots=True)
class TermView:
    """Everything that the files say about one term."""

    id: str
    kind: str
    label: str
    stated: tuple[tuple[str, str], ...]  # (what, value in words)
    links_in: tuple[LinkLine, ...]  # strongest first
    links_out: tuple[LinkLine, ...]  # strongest first
    named_by: tuple[tuple[str, str], ...]  # (id, in which statement) elsewhere
    provenance: Provenance | None


def view(knowledge: Knowledge, term: str) -> TermView:
    """Return what is said about a term, in words.

    Parameters
    ----------
    knowledge : Knowledge
        Where to look.
    term : id
        Of any kind, e.g. ``rc-bearing-play``, ``ck-dry-park``, ``lk-0001``.

    Raises
    ------
    UnknownTermError
        If no term has this id; the nearest ones are named.

    Notes
    -----
    O(size of the knowledge): every statement that names the term is looked for.
    """
    terms = _terms(knowledge)
    if term not in terms:
        raise UnknownTermError("term", term, terms)
    kind, value = terms[term]
    ends = {term, f"{value.family}-*"} if kind.name == "Code" and value.family else {term}
    into = [(link.source, link) for link in knowledge.links if link.target in ends]
    out = [(link.target, link) for link in knowledge.links if link.source == term]
    return TermView(
        term,
        kind.name,
        _label(term, terms),
        tuple(_stated(value)),
        _lines(into, terms),
        _lines(out, terms),
        tuple(_named_by(term, terms)),
        getattr(value, "provenance", None),
    )


def view_text(knowledge: Knowledge, term: str) -> str:
    """Return what is said about a term as plain text, ready to print."""
    seen = view(knowledge, term)
    lines = [f"{seen.label} ({seen.id}, {seen.kind.lower()})"]
    lines += [f"  {what}: {value}" for what, value in seen.stated]
    for heading, links in (("made by", seen.links_in), ("makes", seen.links_out)):
        if links:
            lines += ["", f"{heading} ({len(links)}):", *(f"  {line}" for line in links)]
    if seen.named_by:
        lines += ["", f"named by ({len(seen.named_by)}):"]
        lines += [f"  {other}: {what}" for other, what in seen.named_by]
    if seen.provenance is not None:
        said = seen.provenance
        note = f"; {said.note}" if said.note else ""
        lines += ["", f"{said.basis}, {said.author}, {said.date}, from {said.source}{note}"]
    return "\n".join(lines) + "\n"


def _terms(knowledge: Knowledge) -> Mapping[str, tuple[Kind, Any]]:
    """Return every value by the id under which it stands in the files."""
    found: dict[str, tuple[Kind, Any]] = {}
    for kind in KINDS:
        held = getattr(knowledge, kind.attribute)
        for value in held.values() if isinstance(held, Mapping) else held:
            found[id_of(kind, value)] = (kind, value)
    return found


def _label(term: str, terms: Mapping[str, tuple[Kind, Any]]) -> str:
    """Return the words for a term; its id when it has none, as star families have."""
    if term not in terms:
        return term
    value = terms[term][1]
    words = getattr(value, "label", "") or getattr(value, "watched", "")
    return words or getattr(value, "reason", "") or term


def _stated(value: Any) -> Iterable[tuple[str, str]]:
    """Yield the fields of a value that say something."""
    for field in dataclasses.fields(value):
        held = getattr(value, field.name)
        if field.name not in _HIDDEN and not _says_nothing(held):
            yield field.name.replace("_", " "), _words(held)


def _says_nothing(held: Any) -> bool:
    """Say whether a held value is empty; a number never is, not even 0."""
    return held is None or held is False or (not isinstance(held, int | float) and not held)


def _words(held: Any) -> str:
    """Return a held value in words."""
    if isinstance(held, Mapping):
        return ", ".join(f"{_words(key)} {_words(value)}" for key, value in sorted(held.items()))
    if dataclasses.is_dataclass(held):
        return " ".join(value for _, value in _stated(held))
    if isinstance(held, tuple):
        return ", ".join(_words(one) for one in held)
    if held is True:
        return "yes"
    return f"{held:g}" if isinstance(held, float) else str(held)


def _lines(
    ends: Iterable[tuple[str, Link]], terms: Mapping[str, tuple[Kind, Any]]
) -> tuple[LinkLine, ...]:
    """Return links seen from one end, those in use first, the strongest first."""
    lines = [LinkLine(other, _label(other, terms), link) for other, link in ends]
    return tuple(
        sorted(
            lines, key=lambda line: (bool(line.link.deprecated), -line.link.strength, line.other)
        )
    )


def _named_by(term: str, terms: Mapping[str, tuple[Kind, Any]]) -> Iterable[tuple[str, str]]:
    """Yield where else the term is named: checks, repairs, gates, contexts, facts..."""
    for other, (kind, value) in terms.items():
        if kind.name == "Link" or other == term:
            continue
        for field in dataclasses.fields(value):
            if field.name not in _HIDDEN and _names(getattr(value, field.name), term):
                yield other, field.name.replace("_", " ")


def _names(held: Any, term: str) -> bool:
    """Say whether a held value names a term, at any depth."""
    if isinstance(held, str):
        return held == term
    if isinstance(held, Mapping):
        return term in held
    if isinstance(held, tuple):
        return any(_names(one, term) for one in held)
    if dataclasses.is_dataclass(held):
        return any(_names(getattr(held, field.name), term) for field in dataclasses.fields(held))
    return False
