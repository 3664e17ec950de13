"""Codes that were typed, pasted or read as bytes: each with its reading, and what is asked."""

from __future__ import annotations

from dataclasses import dataclass

from graph.code_meanings import meanings_of
from graph.terms import Knowledge
from triage.decode import decode
from triage.failure_type import category_name, meaning
from triage.seen_codes import CodeSeen

__all__ = ["CodeRow", "CodeView", "read_view"]

_STATUS = {
    "active": "fails now",
    "pending": "failed lately, not matured",
    "history": "stored, has passed since",
    "intermittent": "stored, not failing now",
    "not-tested": "its test has not run: says nothing yet",
    "passed": "its test has run and passed",
}
_LAYOUT = {"current": "in the current layout", "earlier": "in the earlier layout", "both": ""}


@dataclass(frozen=True, slots=True)
class CodeRow:
    """One code as it was read.

    Attributes
    ----------
    meanings : dtc- id, words, layout; several = somebody must say which
    why_not : why it has no meaning here
    """

    code: str
    kind: str
    kind_words: str
    status: str
    status_words: str
    meanings: tuple[tuple[str, str, str], ...]
    why_not: str


@dataclass(frozen=True, slots=True)
class CodeView:
    """Everything that was read from one text."""

    raw: str
    rows: tuple[CodeRow, ...]
    issues: tuple[str, ...]


def read_view(knowledge: Knowledge, text: str) -> CodeView:
    """Return the reading of a text.

    Raises
    ------
    CodeFormatError
        If it is longer than can be read.
    """
    decoded = decode(text)
    rows = tuple(_row(knowledge, seen) for seen in decoded.codes)
    return CodeView(text, rows, tuple(str(issue) for issue in decoded.issues))


def _row(knowledge: Knowledge, seen: CodeSeen) -> CodeRow:
    """Return one code in words."""
    byte = seen.code.failure_type
    kind = "" if byte is None else f"{byte:02X}"
    words = "" if byte is None else f"{category_name(byte)}: {meaning(byte) or 'not known here'}"
    meanings = tuple(
        (key, knowledge.codes[key].watched, _LAYOUT[layout])
        for key, layout in meanings_of(knowledge, seen.code.notation)
    )
    return CodeRow(
        seen.code.notation,
        kind,
        words,
        str(seen.status) if seen.status is not None else "",
        _STATUS.get(seen.label or "", ""),
        meanings,
        "" if meanings else _why_not(seen),
    )


def _why_not(seen: CodeSeen) -> str:
    """Return why a code has no meaning here."""
    return {
        "maker": "its meaning is fixed by the vehicle maker: kept as text, it carries no weight",
        "reserved": "a reserved range: was it read right?",
    }.get(seen.code.control, "no entry here: kept as text, it carries no weight")
