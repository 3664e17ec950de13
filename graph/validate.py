"""Is the knowledge fit to be used? Every stage adds rows, none stops the next.

The stages: can it be read, does it keep the shapes, does it keep the rules, can it
be drawn on a car without a loop. What two stages would say of the same statement is
said once, by the stage that has the better words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from importlib.resources import files

from graph.decode import Decoded
from graph.load import examine, shipped_folder
from graph.looping import loops
from graph.rdf import graph_of
from graph.report import ERROR, INFO, WARN, Report, Row
from graph.ruling import broken_rules
from graph.shaping import broken_shapes
from graph.triples import Folder, turtle_files

__all__ = ["validate", "validate_files"]

_LEVELS = (ERROR, WARN, INFO)
#: Rules of reading that a shape or a rule may put into better words.
_ALSO_READING = frozenset({"missing-statement", "out-of-range", "unknown-term"})
#: The stages, in their order.
_STAGES = ("files read", "shapes kept", "rules kept", "loops looked for")

#: Is told what is done, how many stages that are, and of how many.
Told = Callable[[str, int, int], None]


def _quiet(_what: str, _done: int, _of: int) -> None:
    """Tell nobody."""


def validate(folder: Folder | None = None, told: Told = _quiet) -> Report:
    """Return what is wrong with the files of a folder (default: the shipped knowledge).

    Parameters
    ----------
    folder : path, optional
    told : called before each stage

    Notes
    -----
    About 3 s for 41,000 triples: 1 s to read them into rdflib, 1 s of rules, half a
    second of shapes.
    """
    return validate_files(turtle_files(shipped_folder() if folder is None else folder), told)


def validate_files(content: Mapping[str, bytes], told: Told = _quiet) -> Report:
    """Return what is wrong with files that are at hand, by name.

    Parameters
    ----------
    content : mapping of file name to bytes
        All files of a knowledge folder. Where one cannot be read, the rows say so
        and nothing else is asked: half the terms would seem to be missing.
    told : called before each stage

    Returns
    -------
    Report
        Rows sorted by level, rule and term.
    """
    _tell(told, 0)
    decoded = examine(content)
    rows = list(decoded.rows)
    if not any(row.rule == "unreadable-file" for row in rows):
        rows = _said_once(_subject_matter(content, decoded, told), rows)
    rows.sort(key=lambda row: (_LEVELS.index(row.level), row.rule, row.entity, row.where))
    looked_at = Counter({kind: len(terms) for kind, terms in sorted(decoded.values.items())})
    return Report(tuple(rows), dict(looked_at))


def _tell(told: Told, stage: int) -> None:
    told(f"knowledge: {_STAGES[stage]}", stage + 1, len(_STAGES))


def _subject_matter(content: Mapping[str, bytes], decoded: Decoded, told: Told) -> list[Row]:
    """Return the rows of the shapes, the rules and the drawing."""
    statements = decoded.statements
    _tell(told, 1)
    rows = list(broken_shapes(graph_of(content), statements))
    sources = files("graph").joinpath("sources.ttl").read_bytes()
    _tell(told, 2)
    rows += broken_rules({"../sources.ttl": sources, **content}, statements)
    _tell(told, 3)
    if not decoded.rows:
        rows = _said_once(rows, loops(decoded.knowledge(), statements))
    return rows


def _said_once(better: list[Row], others: Iterable[Row]) -> list[Row]:
    """Return all rows but those of `others` that `better` has about the same statement."""
    said = {(_owner(row), row.property) for row in better}
    return better + [
        row
        for row in others
        if row.rule not in _ALSO_READING | {"link-without-meaning"}
        or (_owner(row), row.property) not in said
    ]


def _owner(row: Row) -> str:
    """Return the term that a row is about; of a part, the term that owns it."""
    return row.entity.partition(".")[0]
