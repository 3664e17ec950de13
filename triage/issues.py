"""What is wrong with something a person put in: collected, never thrown.

An error stops the work; an issue is written down beside what could be read, so that
everything wrong with one paste is told at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Issue", "Level", "Position"]

#: error: something was left unread; question: somebody must say which; note: good to know.
Level = Literal["error", "question", "note"]


@dataclass(frozen=True, slots=True, order=True)
class Position:
    """A place in a text; line and column count from 1."""

    line: int
    column: int

    def __str__(self) -> str:
        return f"line {self.line}, column {self.column}"


@dataclass(frozen=True, slots=True)
class Issue:
    """One thing to tell the person: what, where, and what to do about it."""

    level: Level
    message: str
    where: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.message} ({self.where}); {self.remedy}"
