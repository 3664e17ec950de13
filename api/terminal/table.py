"""Rows and columns on a terminal: aligned, without lines, folded where they do not fit.

The one idea: a column of numbers is read downwards, so numbers stand right-aligned and
nothing is cut off. In a pipe a row stays one line, however long, so that other tools can
take it apart.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

from api.terminal.page import Page, plain

__all__ = ["show_table"]

#: Wider than any row.
_UNBOUNDED = 1_000_000


def show_table(
    page: Page, heads: Sequence[str], rows: Iterable[Sequence[str]], *, numbers: Iterable[int] = ()
) -> None:
    """Write a table.

    Parameters
    ----------
    page : where to
    heads : names of the columns
    rows : cells; control characters in them are replaced
    numbers : indices of the columns that hold numbers
    """
    right = set(numbers)
    table = Table(box=None, show_edge=False, pad_edge=False, header_style="bold")
    for index, head in enumerate(heads):
        side = "right" if index in right else "left"
        table.add_column(Text(plain(head)), justify=side, overflow="fold")  # type: ignore[arg-type]
    for row in rows:
        table.add_row(*(Text(plain(cell)) for cell in row))
    if page.console.is_terminal:
        page.console.print(table, width=page.width)
        return
    options = page.console.options.update(width=_UNBOUNDED)
    width = Measurement.get(page.console, options, table).maximum
    text = io.StringIO()
    Console(file=text, width=max(width, 1)).print(table)
    for row in text.getvalue().splitlines():
        page.console.file.write(f"{row.rstrip()}\n")
