"""Decode: everything that can be read from what a person pasted, words or bytes.

The text is taken line by line. Lines of nothing but hexadecimal digits are bytes; a label before
them that ends in a colon, ">" or "=" is dropped. Neighbouring byte lines are one response, or one
response a line where only that fits; a blank line always parts them. Everything else is read for
typed codes. Where words and bytes are mixed, bytes count only if they begin like a response: a
year or a short word such as "added" is no code.

What has two good readings is returned as such and asked about; it is never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from triage.bare_bytes import begins_response, read_bytes
from triage.errors import CodeFormatError
from triage.hex_text import HexBytes, is_hex, read_hex
from triage.issues import Issue
from triage.responses import AmbiguousResponse, CodeResponse, Response
from triage.seen_codes import CodeSeen, Mention, merge_mentions
from triage.typed_codes import MAX_CHARACTERS, Lines, check_size, find_mentions

__all__ = ["Decoded", "decode"]

_LABELLED = re.compile(r"[^:>=\n]*[:>=]+[ \t]*(?=(?:0[xX])?[0-9A-Fa-f]{2})")
_PART = ", and put a blank line between responses"
_NOT_LINE_END = re.compile(r"[^\n]")
_RESPONSE_START = re.compile(r"(?:0[xX])?(?:59|43|47|4[Aa]|7[Ff])\b")


@dataclass(frozen=True, slots=True)
class Decoded:
    """What was read.

    Attributes
    ----------
    codes : tuple of CodeSeen
        Each code once, in the order first seen; none from a response with two readings.
    responses : tuple of Response
        Every response or run of code bytes, in reading order.
    issues : tuple of Issue
        What was not read, what somebody must say, what is good to know.
    """

    codes: tuple[CodeSeen, ...]
    responses: tuple[Response, ...]
    issues: tuple[Issue, ...]


@dataclass(frozen=True, slots=True)
class _Block:
    """Neighbouring byte lines: start and end of each in the text."""

    lines: tuple[tuple[int, int], ...]

    @property
    def span(self) -> tuple[int, int]:
        """From the first byte to the end of the last."""
        return self.lines[0][0], self.lines[-1][1]


def decode(text: str, *, limit: int = MAX_CHARACTERS) -> Decoded:
    """Return everything that can be read from pasted text.

    Parameters
    ----------
    text : str
        Typed codes with any words around, bytes in hexadecimal, or both.
    limit : int
        Longest text accepted, in characters.

    Returns
    -------
    Decoded

    Raises
    ------
    CodeFormatError
        If the text is longer than `limit`. Everything else becomes an issue.

    Examples
    --------
    >>> [(str(seen.code), seen.label) for seen in decode("59 02 FF 40 31 1F 2F").codes]
    [('C0031-1F', 'active')]
    >>> [str(seen.code) for seen in decode("found c0051-64 and U0126").codes]
    ['C0051-64', 'U0126']
    """
    check_size(text, limit)
    lines = Lines(text)
    blocks, alone = _blocks(text)
    responses: list[Response] = []
    mentions: list[Mention] = []
    issues: list[Issue] = []
    words: list[str] = []  # the text with the bytes blanked out, so that places stay
    done = 0
    for block in blocks:
        found, its_issues = _read_block(text, block, lines, alone)
        if found is None:
            continue
        issues.extend(its_issues)
        for response, source in found:
            responses.append(response)
            mentions.extend(_mentions(response, source, lines))
        start, end = block.span
        words += [text[done:start], _NOT_LINE_END.sub(" ", text[start:end])]
        done = end
    typed, typed_issues = find_mentions("".join([*words, text[done:]]), limit=limit)
    codes, merge_issues = merge_mentions(sorted([*mentions, *typed], key=_place))
    issues += [*typed_issues, *merge_issues]
    if not (codes or responses or issues):
        issues.append(_nothing())
    return Decoded(codes, tuple(responses), tuple(issues))


def _place(mention: Mention) -> tuple[int, int]:
    """Sort key: where a mention stands."""
    return mention.position.line, mention.position.column


def _nothing() -> Issue:
    """Return the issue for a text without any code."""
    return Issue(
        "error",
        "there is no trouble code in it",
        "the pasted text",
        "type a code such as C0051-64, or paste a response such as 59 02 FF 40 31 1F 2F",
    )


def _blocks(text: str) -> tuple[list[_Block], bool]:
    """Return the blocks of byte lines, and whether the text holds nothing else, no label."""
    blocks: list[_Block] = []
    current: list[tuple[int, int]] = []
    alone, at = True, 0
    for line in text.split("\n"):
        label = _LABELLED.match(line)
        skip = label.end() if label and is_hex(line[label.end() :]) else 0
        if is_hex(line[skip:]):
            current.append((at + skip, at + len(line)))
            alone = alone and not skip
        else:
            alone = alone and not line.strip()
            if current:
                blocks.append(_Block(tuple(current)))
            current = []
        at += len(line) + 1
    if current:
        blocks.append(_Block(tuple(current)))
    return blocks, alone


_Found = list[tuple[Response, HexBytes]]


def _read_block(
    text: str, block: _Block, lines: Lines, alone: bool
) -> tuple[_Found | None, list[Issue]]:
    """Return the responses of a block and its issues; None = leave it to the typed codes."""
    try:
        parts = [read_hex(text[start:end], start=start) for start, end in block.lines]
        joined = _join(parts)
    except CodeFormatError as error:
        start, end = block.span
        if alone or _RESPONSE_START.match(text, start, end):
            return [], [_issue(error, str(lines.position(start)))]
        return None, []
    number = len(joined.first_byte) == 1 and len(joined.data) < 4  # a year, a mileage
    if not alone and (number or not begins_response(joined.data)):
        return None, []
    where = str(lines.position(joined.character(0)))
    whole = _try(joined)
    single = [_try(part) if begins_response(part.data) else None for part in parts]
    each = [
        (response, part)
        for response, part in zip(single, parts, strict=True)
        if response is not None and not isinstance(response, CodeFormatError)
    ]
    split = len(parts) > 1 and len(each) == len(parts)
    if split and isinstance(whole, CodeFormatError):
        return each, [issue for pair in each for issue in _remarks(*pair, lines)]
    if split:
        return [], [_one_or_several(len(parts), where)]
    if isinstance(whole, CodeFormatError):
        return [], [_issue(whole, where, _PART if len(parts) > 1 else "")]
    return [(whole, joined)], list(_remarks(whole, joined, lines))


def _join(parts: list[HexBytes]) -> HexBytes:
    """Return the bytes of all lines as one; lines of equal width count as groups."""
    data = bytearray()
    first_byte: list[int] = []
    first_character: list[int] = []
    for part in parts:
        first_byte += [len(data) + at for at in part.first_byte]
        first_character += part.first_character
        data += part.data
    groups = {part.group for part in parts}
    if groups == {None} and len(parts) > 1:  # single bytes: the lines are the groups
        groups = {len(part.data) if len(part.data) in (2, 3, 4) else None for part in parts}
    group = groups.pop() if len(groups) == 1 else None
    return HexBytes(bytes(data), tuple(first_byte), tuple(first_character), group)


def _try(source: HexBytes) -> Response | CodeFormatError:
    """Return what the bytes say, or the error that tells why nothing."""
    try:
        return read_bytes(source.data, width=source.group)
    except CodeFormatError as error:
        return error


def _mentions(response: Response, source: HexBytes, lines: Lines) -> Iterable[Mention]:
    """Yield the codes of a response that has one reading."""
    if isinstance(response, CodeResponse):
        words = frozenset({response.word} - {""})
        for record in response.records:
            place = lines.position(source.character(record.offset))
            yield Mention(record.code, place, record.status, words)


def _issue(error: CodeFormatError, where: str, more: str = "") -> Issue:
    """Return an error as an issue at its place, with more to do where there is."""
    message = f"{error.what} in {error.where}"
    return Issue("error", message, where, f"allowed: {error.allowed}; {error.remedy}{more}")


def _one_or_several(count: int, where: str) -> Issue:
    """Return the question whether several lines are one response."""
    return Issue(
        "question",
        f"these {count} lines can be one response or {count}",
        where,
        "nothing was read; put a blank line between responses, or write one response on one line",
    )


def _remarks(response: Response, source: HexBytes, lines: Lines) -> Iterable[Issue]:
    """Yield what a person should know about a response that was read."""
    where = str(lines.position(source.character(0)))
    if isinstance(response, AmbiguousResponse):
        yield Issue(
            "question",
            response.why,
            where,
            "nothing was taken from it; type the right code or codes, such as C0051-64",
        )
    elif isinstance(response, CodeResponse):
        if response.padding:
            yield Issue(
                "note",
                f"{response.padding} zero bytes at the end were taken as padding",
                where,
                "nothing to do",
            )
    else:
        yield Issue(
            "note",
            f"the module refused {response.service_name}: {response.reason}",
            where,
            "wait for its real answer" if response.still_pending else "meet the reason, ask again",
        )
