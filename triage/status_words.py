"""What stands beside a typed code: failure type, status byte, status words.

A word counts only where it can mean nothing but the status: it fills a field of its own (between
commas, brackets, bars, tabs, a spaced dash or the ends), or it stands right beside the code and a
small word or nothing follows. "C0051 sensor supply current low" says nothing about the status;
"C0051, current" does.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from triage.status import Status

__all__ = ["HEX_BYTE", "Beside", "read_beside", "words_before"]

#: Two hexadecimal digits that are not a short word: "be" and "ad" are no bytes.
HEX_BYTE = "(?:[0-9][0-9A-Fa-f]|[A-Fa-f][0-9]|[A-F]{2})"

_END = "(?![0-9A-Za-z])"
_GAP = r"[ \t]{0,9}"  # bounded, so that a long run of blanks costs no more than its length
_STATUS = re.compile(
    rf"(?i:\bstat(?:us|e)(?: byte)?){_GAP}(?:[:=]|\bis\b)?{_GAP}(?:0[xX]([0-9A-Fa-f]{{2}})"
    rf"|({HEX_BYTE})){_END}|\b0[xX]([0-9A-Fa-f]{{2}}){_END}"
)
_FAILURE_TYPE = re.compile(
    rf"(?i:\b(?:failure|fault) type(?: byte)?|\bftb){_GAP}[:=]?{_GAP}(?:0[xX])?({HEX_BYTE}){_END}"
)
_LONE_BYTE = re.compile(rf"(?:[ \t]+[(\[]?|[(\[])({HEX_BYTE}){_END}(?!\.\d)")
_FIELD = re.compile(r"[,;|\t\n()\[\]/:=]| [-\u2013\u2014] | {2,}")
_NOT_TESTED = re.compile(
    r"(?i:\b(?:test +)?not +(?:tested|run|completed?)\b|\buntested\b|\btest +incomplete\b)"
)
_WORD = re.compile(r"[A-Za-z][A-Za-z-]*|\S")

_SYNONYMS = {
    "active": "active",
    "pending": "pending",
    "history": "history",
    "historic": "history",
    "historical": "history",
    "intermittent": "intermittent",
    "sporadic": "intermittent",
    "not-tested": "not-tested",
    "confirmed": "confirmed",
    "stored": "stored",
    "permanent": "permanent",
}
#: The last two mean the status only when they fill a field: "supply current low" is something else.
_FIELD_WORDS = _SYNONYMS | {"current": "active", "present": "active"}
_FILLERS = frozenset(
    {"status", "state", "code", "codes", "dtc", "dtcs", "fault", "faults"}
    | {"is", "are", "was", "and", "byte", "now"}
)
_FOLLOWERS = frozenset(
    {"in", "on", "at", "after", "when", "with", "again", "but", "since", "this", "the"}
    | {"while", "for", "today", ".", "!", "?"}
)
_NEGATIONS = frozenset(("not", "no", "non", "never", "without"))


@dataclass(frozen=True, slots=True)
class Beside:
    """What one stretch of text says about the code it follows."""

    status: Status | None = None
    failure_type: int | None = None
    words: frozenset[str] = frozenset()
    #: Two digits that could be a failure type or a status byte; "" = none.
    unclear: str = ""


def read_beside(text: str) -> Beside:
    """Return what the text right after a code says about it.

    Parameters
    ----------
    text : str
        From the end of the code to the next code or the end of the line.

    Returns
    -------
    Beside
        Two digits right after the code are its failure type when a status byte or a status
        word follows; alone they are unclear and not read.

    Examples
    --------
    >>> read_beside(" steering angle sensor, status 2F").status
    Status(byte=47, supported=255)
    >>> read_beside(" 64").unclear
    '64'
    """
    failure = _FAILURE_TYPE.search(text)
    failure_type = int(failure[1], 16) if failure else None
    rest = _FAILURE_TYPE.sub(",", text)
    status = _status_in(rest)
    rest = _STATUS.sub(",", rest)
    lone = _LONE_BYTE.match(rest)
    if lone is None or failure_type is not None:
        return Beside(status, failure_type, _words_after(rest))
    after = rest[lone.end() :]
    words = _words_after(after)
    if status is not None or words:
        return Beside(status, int(lone[1], 16), words)
    alone = not after.strip() or _FIELD.match(after.lstrip(" ")) is not None
    return Beside(status, None, words, lone[1] if alone else "")


def words_before(text: str) -> frozenset[str]:
    """Return the status words that lead a line of codes, such as "Pending codes:".

    Examples
    --------
    >>> sorted(words_before("Pending codes: "))
    ['pending']
    """
    fields = [_tokens(field) for field in _FIELD.split(_NOT_TESTED.sub("not-tested", text))]
    found = {word for field in fields for word in _whole_field(field)}
    last = next((field for field in reversed(fields) if field), [])
    run: set[str] = set()
    for token in reversed(last):
        if token in _NEGATIONS:
            return frozenset(found)
        if token in _SYNONYMS:
            run.add(_SYNONYMS[token])
        elif token not in _FILLERS:
            break
    return frozenset(found | run)


def _status_in(text: str) -> Status | None:
    """Return the status byte named in the text, None where there is none."""
    match = _STATUS.search(text)
    return None if match is None else Status(int(next(filter(None, match.groups())), 16))


def _words_after(text: str) -> frozenset[str]:
    """Return the status words of the fields, and of the first field's beginning."""
    fields = [_tokens(field) for field in _FIELD.split(_NOT_TESTED.sub("not-tested", text))]
    found = {word for field in fields for word in _whole_field(field)}
    run: set[str] = set()
    for token in fields[0]:
        if token in _SYNONYMS:
            run.add(_SYNONYMS[token])
        elif token in _FOLLOWERS:
            break
        elif token not in _FILLERS:
            return frozenset(found)
    return frozenset(found | run)


def _tokens(field: str) -> list[str]:
    """Return the words and signs of a field in lower case."""
    return [token.lower() for token in _WORD.findall(field)]


def _whole_field(tokens: list[str]) -> set[str]:
    """Return the status words of a field that holds nothing else, else none."""
    content = [word for word in tokens if word not in _FILLERS and word != "."]
    if all(word in _FIELD_WORDS for word in content):
        return {_FIELD_WORDS[word] for word in content}
    return set()
