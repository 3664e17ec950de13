"""Typed and pasted codes: every trouble code in free text, wherever it stands.

Read are C0051, C0051-64, C0051:64, C005164 and C0051-64-2F (with the status byte), in either
case, with any words around. A status beside a code, on its line, belongs to it: see
`triage.status_words`. A status word before the first code of a line leads: it holds for the
codes that follow until the next such word. What only looks like a code (the letter O for a
zero, a digit too many) is not read and not corrected; it is named.

Every step is linear in the length of the text.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from triage.codes import TroubleCode
from triage.errors import CodeFormatError
from triage.failure_type import CATEGORIES
from triage.issues import Issue, Position
from triage.seen_codes import Mention
from triage.status import Status
from triage.status_words import Beside, read_beside, words_before

__all__ = ["MAX_CHARACTERS", "Lines", "check_size", "find_mentions"]

#: Longest text that is read unless the caller says otherwise.
MAX_CHARACTERS = 8_000_000

_SEPARATOR = "[-:\u2010-\u2014]"
_CODE = re.compile(
    rf"(?<![0-9A-Za-z])([PCBUpcbu])([0-3][0-9A-Fa-f]{{3}})"
    rf"(?:{_SEPARATOR}?([0-9A-Fa-f]{{2}})(?:{_SEPARATOR}([0-9A-Fa-f]{{2}}))?)?(?![0-9A-Za-z])"
)
_BAD_TAIL = re.compile(rf"{_SEPARATOR}([0-9][0-9A-Za-z]*)")
_NEAR_MISS = re.compile(
    r"(?<![0-9A-Za-z/])(?=[A-Za-z]{0,4}[0-9])[PCBUpcbu](?:[0-9OoIiLl][0-9A-Fa-fOoIiLl]{3}"
    r"|0[0-9A-Fa-f]{2}|0[0-9A-Fa-f]{4})(?![0-9A-Za-z/])"
)
_CONTINUED = re.compile(r"\s*(?i:status|state|failure type|ftb)\b")


class Lines:
    """Turns an offset into a line and a column."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._ends = [match.start() for match in re.finditer("\n", text)]

    def position(self, offset: int) -> Position:
        """Return the place of one character, counted from 1."""
        line = bisect_right(self._ends, offset - 1)
        return Position(line + 1, offset - (self._ends[line - 1] if line else -1))

    def end(self, offset: int) -> int:
        """Return where the line of this offset ends."""
        line = bisect_right(self._ends, offset - 1)
        return self._ends[line] if line < len(self._ends) else len(self._text)


@dataclass(frozen=True, slots=True)
class _Row:
    """The codes of one line and the stretches of text before, between and after them."""

    matches: list[re.Match[str]]
    stretches: list[str]


def check_size(text: str, limit: int) -> None:
    """Refuse a text that is longer than `limit` characters.

    Raises
    ------
    CodeFormatError
        If it is.
    """
    if len(text) > limit:
        raise CodeFormatError(
            f"{len(text):,} characters",
            where="the pasted text",
            allowed=f"up to {limit:,} characters",
            remedy="paste the part with the trouble codes, or paste it in pieces",
        )


def find_mentions(
    text: str, *, limit: int = MAX_CHARACTERS
) -> tuple[tuple[Mention, ...], tuple[Issue, ...]]:
    """Return every place where a code stands in free text, and what could not be read.

    Parameters
    ----------
    text : str
        Anything: one code, a list, a whole report.
    limit : int
        Longest text accepted, in characters.

    Returns
    -------
    mentions, issues : tuples
        In reading order.

    Raises
    ------
    CodeFormatError
        If the text is longer than `limit`.

    Examples
    --------
    >>> mentions, _ = find_mentions("lamp on, c0051:64 pending and U0126 history")
    >>> [(str(m.code), sorted(m.words)) for m in mentions]
    [('C0051-64', ['pending']), ('U0126', ['history'])]
    """
    check_size(text, limit)
    lines = Lines(text)
    mentions: list[Mention] = []
    issues: list[Issue] = []
    taken: set[int] = set()
    for row in _rows(text, lines):
        taken.update(match.start() for match in row.matches)
        issues.extend(_read_row(row, lines, mentions))
    issues.extend(
        _near_miss(match[0], lines.position(match.start()))
        for match in _NEAR_MISS.finditer(text)
        if match.start() not in taken and sum(char.isdigit() for char in match[0]) > 1
    )
    return tuple(mentions), tuple(issues)


def _rows(text: str, lines: Lines) -> Iterator[_Row]:
    """Yield the lines that hold codes, cut up at the codes."""
    pending: list[re.Match[str]] = []
    end = -1
    for match in _CODE.finditer(text):
        if pending and match.start() > end:
            yield _cut(text, pending, _stretch_end(text, lines, end, match.start()))
            pending = []
        if not pending:
            end = lines.end(match.start())
        pending.append(match)
    if pending:
        yield _cut(text, pending, _stretch_end(text, lines, end, len(text) + 1))


def _stretch_end(text: str, lines: Lines, end: int, next_code: int) -> int:
    """Return where the text about a line's last code ends: a status line may follow it."""
    while end < len(text) and _CONTINUED.match(text, end):
        further = lines.end(_skip_blank(text, end))
        if further >= next_code:
            break
        end = further
    return end


def _skip_blank(text: str, at: int) -> int:
    """Return the offset of the first character from `at` on that is no blank."""
    while text[at].isspace():
        at += 1
    return at


def _cut(text: str, matches: list[re.Match[str]], end: int) -> _Row:
    """Return the row of these codes up to `end`."""
    start = text.rfind("\n", 0, matches[0].start()) + 1
    edges = [start, *(edge for match in matches for edge in match.span()), end]
    return _Row(matches, [text[a:b] for a, b in zip(edges[::2], edges[1::2], strict=True)])


def _read_row(row: _Row, lines: Lines, mentions: list[Mention]) -> list[Issue]:
    """Add the mentions of one line, and return what is unclear about it."""
    issues: list[Issue] = []
    beside = [read_beside(stretch) for stretch in row.stretches[1:]]
    words = _assign_words(words_before(row.stretches[0]), beside)
    if words is None:
        issues.append(
            Issue(
                "question",
                "status words stand before the first code and after the last",
                str(lines.position(row.matches[0].start())),
                "none is used; write one code a line with its status behind it",
            )
        )
        words = [frozenset()] * len(beside)
    for match, said, its_words in zip(row.matches, beside, words, strict=True):
        position = lines.position(match.start())
        mention = _mention(match, said, its_words, position)
        mentions.append(mention)
        issues.extend(_doubts(match, said, mention))
    return issues


def _assign_words(leading: frozenset[str], beside: list[Beside]) -> list[frozenset[str]] | None:
    """Return the status words of each code, or None where it can't be told whose they are."""
    if not leading:
        return [said.words for said in beside]
    if len(beside) == 1:
        return [leading | beside[0].words]
    if beside[-1].words:
        return None
    words = [leading]
    for said in beside[:-1]:
        words.append(said.words or words[-1])
    return words


def _mention(
    match: re.Match[str], said: Beside, words: frozenset[str], position: Position
) -> Mention:
    """Return one code with what stands in and beside it."""
    code = TroubleCode.from_parts(match[1], match[2], match[3])
    if code.failure_type is None:
        code = TroubleCode(code.value, said.failure_type)
    status = Status(int(match[4], 16)) if match[4] else said.status
    return Mention(code, position, status, words)


def _doubts(match: re.Match[str], said: Beside, mention: Mention) -> Iterator[Issue]:
    """Yield what is unclear about one code."""
    code, where = mention.code, str(mention.position)
    tail = _BAD_TAIL.match(match.string, match.end())
    if tail and match[4] is None:
        yield Issue(
            "error",
            f"{tail[1]!r} after {code} is not a byte",
            where,
            "a failure type has two hexadecimal digits, such as C0051-64; it was not read",
        )
    if said.unclear:
        known = code.failure_type is not None
        choice = "" if known else f"{code.notation}-{said.unclear} or "
        yield Issue(
            "question",
            f"{said.unclear} after {code} can be a "
            + ("status byte or a count" if known else "failure type or a status byte"),
            where,
            f"it was not read; write {choice}status {said.unclear}",
        )
    if match[3] and said.failure_type not in (None, code.failure_type):
        yield Issue(
            "question",
            f"{code} is also said to have failure type {said.failure_type:02X}",
            where,
            "the one written in the code is used; correct it if the other is right",
        )
    if code.category is not None and code.category >= len(CATEGORIES):
        yield Issue(
            "note",
            f"failure type {code.failure_type:02X} of {code} is in no assigned category",
            where,
            "check that it is the failure type and not another word or number",
        )


def _near_miss(token: str, position: Position) -> Issue:
    """Return the issue for something that looks like a code and is none."""
    return Issue(
        "error",
        f"{token!r} looks like a trouble code but is none",
        str(position),
        "it was not read; a code is P, C, B or U, a digit 0 to 3 and three more hexadecimal "
        "digits (0 to 9, A to F, never the letter O)",
    )
