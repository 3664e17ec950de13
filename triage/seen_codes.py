"""Codes as they were seen: each once, with all that was said about it.

A paste often names one code several times: in a heading, in a table, in the raw bytes. Here
the mentions of a code become one value that keeps every status, every word and every place.
A code read with and without failure type is one code when only one failure type was seen with
it; with several, the bare mention stays by itself, for nothing tells to which it belongs.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, get_args

from triage.codes import TroubleCode
from triage.issues import Issue, Position
from triage.status import CheckIn, Label, Status

__all__ = ["STATUS_WORDS", "CodeSeen", "Mention", "merge_mentions"]

#: Words that a scan tool puts beside a code. Those after the check-in classes tell that the
#: code is kept, not whether it fails now.
STATUS_WORDS: Final = (*get_args(CheckIn), "confirmed", "stored", "permanent")


@dataclass(frozen=True, slots=True)
class Mention:
    """One place where a code stands, with what stands beside it."""

    code: TroubleCode
    position: Position
    status: Status | None = None
    words: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class CodeSeen:
    """A code with everything that was said about it.

    Attributes
    ----------
    code : TroubleCode
    statuses : tuple of Status
        Every different status byte, in the order seen.
    words : tuple of str
        Status words in the order of `STATUS_WORDS`.
    positions : tuple of Position
        Where it stands, in reading order.
    """

    code: TroubleCode
    statuses: tuple[Status, ...] = ()
    words: tuple[str, ...] = ()
    positions: tuple[Position, ...] = ()

    @property
    def status(self) -> Status | None:
        """The status byte; None where none was given, or several that differ."""
        return self.statuses[0] if len(self.statuses) == 1 else None

    @property
    def label(self) -> Label | None:
        """What the status byte amounts to, else the words; None where they don't tell.

        Examples
        --------
        >>> CodeSeen(TroubleCode.parse("C0051"), words=("history", "confirmed")).label
        'history'
        """
        if self.status is not None:
            return self.status.label
        if self.statuses:
            return None
        classes = [label for label in get_args(CheckIn) if label in self.words]
        if len(classes) != 1 or ("pending" in classes and len(self.words) > 1):
            return None
        found: CheckIn = classes[0]
        return found


def merge_mentions(mentions: Iterable[Mention]) -> tuple[tuple[CodeSeen, ...], tuple[Issue, ...]]:
    """Return each code once, in the order first seen, and what does not agree about it.

    Parameters
    ----------
    mentions : iterable of Mention

    Returns
    -------
    codes, issues : tuples

    Notes
    -----
    Linear in the number of mentions, apart from sorting the places of each code.
    """
    by_code: dict[TroubleCode, list[Mention]] = {}
    for mention in mentions:
        by_code.setdefault(mention.code, []).append(mention)
    typed: dict[int, list[TroubleCode]] = {}
    for code in by_code:
        if code.failure_type is not None:
            typed.setdefault(code.value, []).append(code)
    merged: dict[TroubleCode, list[Mention]] = {}
    issues: list[Issue] = []
    for code, group in by_code.items():
        others = typed.get(code.value, [])
        if code.failure_type is None and len(others) > 1:
            issues.append(_which_one(code, others, group[0].position))
        home = others[0] if code.failure_type is None and len(others) == 1 else code
        merged.setdefault(home, []).extend(group)
    seen = tuple(_join(code, group) for code, group in merged.items())
    issues.extend(issue for one in seen for issue in _disagreements(one))
    return seen, tuple(issues)


def _join(code: TroubleCode, group: list[Mention]) -> CodeSeen:
    """Return one value of all mentions of one code."""
    said = frozenset[str]().union(*(mention.words for mention in group))
    return CodeSeen(
        code,
        tuple(dict.fromkeys(m.status for m in group if m.status is not None)),
        tuple(word for word in STATUS_WORDS if word in said),
        tuple(sorted({mention.position for mention in group})),
    )


def _which_one(code: TroubleCode, others: list[TroubleCode], position: Position) -> Issue:
    """Return the question to which of several failure types a bare mention belongs."""
    return Issue(
        "note",
        f"{code} stands alone and also as {', '.join(map(str, others))}",
        str(position),
        "it is kept as a code without failure type; remove it if it is one of these",
    )


def _disagreements(seen: CodeSeen) -> Iterable[Issue]:
    """Yield what was said about one code and cannot hold together."""
    where = str(seen.positions[0])
    classes = [word for word in seen.words if word in get_args(CheckIn)]
    if len(seen.statuses) > 1:
        yield Issue(
            "question",
            f"{seen.code} has {len(seen.statuses)} status bytes: "
            + ", ".join(map(str, seen.statuses)),
            where,
            "none is used; keep the one that was read before anything was cleared",
        )
    elif seen.status is not None and classes and classes != [seen.status.label]:
        yield Issue(
            "question",
            f"{seen.code} is called {' and '.join(classes)}, "
            f"its status byte {seen.status} means {seen.status.label}",
            where,
            "the byte is used; correct it if the word is right",
        )
    elif seen.status is None and len(classes) > 1:
        yield Issue(
            "question",
            f"{seen.code} is called {' and '.join(classes)}",
            where,
            "no status is used; keep the word that the scan tool shows",
        )
    for status in seen.statuses:
        for contradiction in status.contradictions:
            yield Issue(
                "note",
                f"the status byte {status} of {seen.code} {contradiction}",
                where,
                "it is kept as sent; read the module again if it matters",
            )
