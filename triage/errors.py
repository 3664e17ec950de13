"""The errors Drypark raises, drawn as a tree.

::

    TriageError
    ├── ParameterError            a number is outside its legal range
    ├── CodeFormatError           a trouble code or response bytes cannot be read
    ├── DocumentError             a document's shape is wrong
    ├── UnknownTermError          an id nobody knows (names the nearest ones)
    ├── PlaceError                a place that the thing cannot have
    ├── ContradictionError        two statements about one finding that cannot both hold
    ├── ImpossibleEvidenceError   P(evidence) = 0; carries the smallest conflicting set
    ├── InferenceTooLargeError    exact answer over budget; carries estimate and budget
    └── KnowledgeError            (graph) a file cannot be read or breaks its rules

Every message is one sentence: what is wrong, where, what is allowed, what to
do. The exception carries the same facts as attributes, so that an edge (command
line, web page) can show them its own way. A caller catches the base class::

    try:
        answer = triage.posterior(network, evidence)
    except triage.TriageError as error:
        print(error)
"""

from __future__ import annotations

import difflib
from collections.abc import Collection, Sequence

__all__ = [
    "CodeFormatError",
    "ContradictionError",
    "DocumentError",
    "ImpossibleEvidenceError",
    "InferenceTooLargeError",
    "KnowledgeError",
    "ParameterError",
    "PlaceError",
    "TriageError",
    "UnknownTermError",
]

#: So many known ids are all named where none comes near.
_FEW = 8


class TriageError(Exception):
    """Base of every error that Drypark raises on purpose."""


class ParameterError(TriageError):
    """A number lies outside its legal range."""

    def __init__(
        self,
        what: str,
        value: object,
        *,
        allowed: str = "[0, 1]",
        where: str = "",
        remedy: str = "correct it where it is stated",
    ) -> None:
        self.what, self.value, self.allowed, self.where = what, value, allowed, where
        at = f" of {where}" if where else ""
        super().__init__(f"{what}{at} is {value!r}, outside {allowed}; {remedy}")


class CodeFormatError(TriageError):
    """A trouble code, failure type, status or response cannot be read."""

    def __init__(self, what: str, *, where: str, allowed: str, remedy: str) -> None:
        self.what, self.where, self.allowed, self.remedy = what, where, allowed, remedy
        super().__init__(f"{what} in {where}; allowed: {allowed}; {remedy}")


class DocumentError(TriageError):
    """A document is not in the shape that its format states."""

    def __init__(self, what: str, *, where: str, allowed: str, remedy: str) -> None:
        self.what, self.where, self.allowed, self.remedy = what, where, allowed, remedy
        super().__init__(f"{what} at {where}; allowed: {allowed}; {remedy}")


class UnknownTermError(TriageError):
    """An id is not known; the nearest known ones are named."""

    def __init__(self, kind: str, term: str, known: Collection[str], *, where: str = "") -> None:
        self.kind, self.term, self.where = kind, term, where
        self.nearest: Sequence[str] = difflib.get_close_matches(
            term, sorted(known), n=3, cutoff=0.5
        )
        at = f" at {where}" if where else ""
        if self.nearest:
            remedy = "did you mean " + " or ".join(repr(near) for near in self.nearest)
        else:
            few = len(known) <= _FEW
            names = f"known: {', '.join(sorted(known)) or 'none'}" if few else ""
            remedy = names or f"no known id comes near; {len(known)} are known"
        super().__init__(f"unknown {kind} {term!r}{at}; {remedy}")


class PlaceError(TriageError):
    """A thing was put where it cannot be."""

    def __init__(self, term: str, place: str, allowed: Collection[str], *, where: str = "") -> None:
        self.term, self.place, self.allowed, self.where = term, place, tuple(allowed), where
        at = f" at {where}" if where else ""
        super().__init__(
            f"{term!r} cannot be at place {place!r}{at}; allowed: {', '.join(self.allowed)}; "
            "correct the place or leave it out"
        )


class ContradictionError(TriageError):
    """Two statements about one thing cannot both hold."""

    def __init__(self, term: str, first: str, second: str, *, where: str = "") -> None:
        self.term, self.first, self.second, self.where = term, first, second, where
        at = f" at {where}" if where else ""
        super().__init__(
            f"{term!r} is stated as {first} and as {second}{at}; one state each is allowed; "
            "remove the one that is wrong"
        )


class ImpossibleEvidenceError(TriageError):
    """The evidence has probability zero under the network."""

    def __init__(self, conflicting: Sequence[str]) -> None:
        self.conflicting = tuple(conflicting)
        super().__init__(
            f"these {len(self.conflicting)} statements cannot all hold: "
            f"{', '.join(self.conflicting)}; no state of the causes explains them together; "
            "correct or withdraw one of them"
        )


class InferenceTooLargeError(TriageError):
    """The exact answer would need more room than the budget allows."""

    def __init__(self, width: int, budget: int) -> None:
        self.width, self.budget = width, budget
        super().__init__(
            f"exact inference would need tables of 2^{width} numbers, the budget is 2^{budget}; "
            "ask for bounds, or state more findings as absent"
        )


class KnowledgeError(TriageError):
    """A knowledge file cannot be read or breaks a rule; carries the issues."""

    def __init__(self, message: str, issues: Sequence[object] = ()) -> None:
        self.issues = tuple(issues)
        super().__init__(message)
