"""Lines on a terminal: bold and indentation carry the meaning, colour never does.

The one idea: the same lines come out of a pipe as on a screen. Text is wrapped to the
terminal, at most `WIDEST` columns, 80 when nobody says; a screen adds bold and reverse. What
came from outside is stripped of control characters before it is shown.
"""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterable
from typing import TextIO

from rich.console import Console
from rich.text import Text

__all__ = ["WIDEST", "Page", "plain"]

WIDEST = 100
_PIPED = 80


def plain(text: str) -> str:
    r"""Return a text on one line, without characters that could steer a terminal.

    Examples
    --------
    >>> plain("a\tb\x1b[31mred")
    'a b?[31mred'
    """
    return "".join(char if char.isprintable() else "?" for char in " ".join(text.split()))


class Page:
    """Writes headings, lines and labelled lines, wrapped with hanging indents.

    Parameters
    ----------
    file : text stream, optional
        Standard output where none is given.
    width : int, optional
        Columns; otherwise the terminal's, at most `WIDEST`, and 80 in a pipe.
    """

    def __init__(self, file: TextIO | None = None, *, width: int | None = None) -> None:
        stream = file or sys.stdout
        self.console = Console(file=stream, highlight=False, markup=False, emoji=False)
        on_screen = self.console.is_terminal
        self.width = width or (min(self.console.width, WIDEST) if on_screen else _PIPED)
        encoding = getattr(stream, "encoding", None) or "utf-8"
        self._blocks = encoding.lower().replace("-", "").startswith("utf")

    def block(self, fine: str, coarse: str) -> str:
        """Return a drawing character, or its plain stand-in where the stream cannot show it."""
        return fine if self._blocks else coarse

    def gap(self) -> None:
        """Leave one line empty."""
        self._write("")

    def heading(self, text: str, beside: str = "", *, indent: int = 0) -> None:
        """Write a heading after an empty line, with a lighter remark beside it."""
        self.gap()
        if beside and len(text) + len(beside) + indent + 2 <= self.width:
            row = Text(" " * indent).append(plain(text), "bold").append(f"  {plain(beside)}")
            self.console.print(row, soft_wrap=True)
            return
        self.line(text, indent=indent, style="bold")
        if beside:
            self.line(beside, indent=indent + 2)

    def line(self, text: str, *, indent: int = 0, style: str = "") -> None:
        """Write a paragraph."""
        for row in self._wrapped(text, " " * indent, " " * indent):
            self._write(row, style)

    def item(
        self, label: str, text: str, *, indent: int = 2, column: int = 12, style: str = ""
    ) -> None:
        """Write a label and a text that hangs beside it; nothing where there is no text."""
        if text:
            first = f"{' ' * indent}{label:<{column}}"
            for row in self._wrapped(text, first, " " * (indent + column)):
                self._write(row, style)

    def items(self, label: str, texts: Iterable[str], *, indent: int = 2, column: int = 12) -> None:
        """Write one label and several texts under one another."""
        for text in texts:
            self.item(label, text, indent=indent, column=column)
            label = ""

    def points(self, texts: Iterable[str], *, indent: int = 2) -> None:
        """Write a list, a dash before each entry."""
        for text in texts:
            self.item("-", text, indent=indent, column=2)

    def bar(self, title: str, rows: Iterable[tuple[str, str]]) -> None:
        """Write a filled bar with a title, and labelled lines under its edge."""
        edge = self.block("█", "#")
        for part in textwrap.wrap(plain(title), self.width - 6, break_on_hyphens=False):
            filled = f"{edge * 2} {part} "
            self._write(filled + edge * (self.width - len(filled)), "bold")
        for label, text in rows:
            start = f"{edge} {label:<11}"
            for row in self._wrapped(text, start, f"{edge} {' ' * 11}") if text else ():
                self._write(row)

    def range_bar(self, low: float, here: float, high: float, *, columns: int = 24) -> str:
        """Return a thin bar from 0 to 1 that shows a range and a point in it."""
        dot, dash, mark = self.block("·", "."), self.block("─", "-"), self.block("●", "o")
        cells = [dot] * columns
        if low < high:
            for at in range(int(low * (columns - 1)), int(high * (columns - 1)) + 1):
                cells[at] = dash
        cells[round(here * (columns - 1))] = mark
        return "".join(cells)

    def _wrapped(self, text: str, first: str, rest: str) -> list[str]:
        """Return a text in rows that fit."""
        return textwrap.wrap(
            plain(text),
            self.width,
            initial_indent=first,
            subsequent_indent=rest,
            break_on_hyphens=False,
        ) or [first.rstrip()]

    def _write(self, row: str, style: str = "") -> None:
        self.console.print(Text(row, style), soft_wrap=True)
