"""Reading tables out of Markdown: a section number gives the tables under it."""

from __future__ import annotations

import re
from pathlib import Path

__all__ = ["Row", "ids_in", "names", "number", "plain", "read_sections", "section"]

#: A table row: column heading -> cell text.
Row = dict[str, str]

_HEADING = re.compile(r"^#{2,3} \(?([0-9a-z]+(?:\.[0-9a-z]+)?)[).]? ")
_ID = re.compile(r"\b(?:dtc|sy|st|rc|ck|rp|su|sg|cx|vf|fg|ss)-[a-z0-9]+(?:-[a-z0-9]+)*(?:-\*)?")


def names(text: str) -> dict[str, str]:
    """Return id -> label from lines that read ``id | label``.

    Examples
    --------
    >>> names("st-lash | Steering lash")
    {'st-lash': 'Steering lash'}
    """
    pairs = (line.split(" | ", 1) for line in text.strip().splitlines())
    return {key.strip(): label.strip() for key, label in pairs}


def plain(cell: str) -> str:
    """Return a cell's text without Markdown emphasis; a lone dash is empty.

    Examples
    --------
    >>> plain("**never** clear first"), plain("-")
    ('never clear first', '')
    """
    text = cell.replace("**", "").replace("`", "").strip()
    return "" if text == "-" else text


def number(cell: str) -> float:
    """Return the number of a cell such as ``.95``.

    Examples
    --------
    >>> number(".05")
    0.05
    """
    return float(cell.strip())


def ids_in(text: str) -> tuple[str, ...]:
    """Return the term ids that a text names, in order, each once.

    Examples
    --------
    >>> ids_in("rc-tone-ring-cracked, dtc-wss-* (not rc-tone-ring-cracked)")
    ('rc-tone-ring-cracked', 'dtc-wss-*')
    """
    return tuple(dict.fromkeys(_ID.findall(text)))


def read_sections(path: Path) -> dict[str, list[list[Row]]]:
    """Return section number -> the tables of that section, in order."""
    sections: dict[str, list[list[Row]]] = {}
    current, header = "", None
    for line in path.read_text(encoding="utf-8").splitlines():
        heading = _HEADING.match(line)
        if heading:
            current, header = heading.group(1), None
        elif not line.startswith("|"):
            header = None
        elif header is None:
            header = _cells(line)
            sections.setdefault(current, []).append([])
        elif not line.startswith("|---"):
            sections[current][-1].append(dict(zip(header, _cells(line), strict=True)))
    return sections


def section(sections: dict[str, list[list[Row]]], *keys: str) -> list[Row]:
    """Return the rows of all tables in the named sections, in order."""
    return [row for key in keys for table in sections[key] for row in table]


def _cells(line: str) -> list[str]:
    """Return the cells of one table line."""
    return [cell.strip() for cell in line.strip().strip("|").split("|")]
