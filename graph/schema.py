"""The vocabulary in which `graph.kinds` says how values become triples.

Three devices keep the files plain:

* A field with several values is several statements, in the order of the tuple. The
  order is for reading only: nothing may depend on it. Where the order carries the
  meaning (the columns of a curve) it is an RDF list.
* A value inside a value (what a check detects, a gate's trigger, an odds factor) is
  a resource of its own, named after its parent: ``:ck-dry-park.rc-bearing-play``.
  So a proposal can add or remove one of them, and a report can name it.
* A field that may be left out is left out when it holds its default.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cache
from typing import Any

__all__ = ["Field", "Interval", "Kind", "Part", "default_of"]


@dataclass(frozen=True, slots=True)
class Interval:
    """The legal range of a number; `open_low` and `open_high` leave the ends out.

    Examples
    --------
    >>> 1.0 in Interval(0.0, 1.0), 1.0 in Interval(0.0, 1.0, open_high=True)
    (True, False)
    """

    low: float
    high: float
    open_low: bool = False
    open_high: bool = False

    def __contains__(self, value: float) -> bool:
        low = self.low < value if self.open_low else self.low <= value
        return low and (value < self.high if self.open_high else value <= self.high)

    def __str__(self) -> str:
        left, right = "(" if self.open_low else "[", ")" if self.open_high else "]"
        return f"{left}{self.low:g}, {self.high:g}{right}"


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a value and the predicate that carries it.

    `form` is one of: text (a string in English), word (a plain string), ref (an id),
    number (xsd:decimal), integer, flag (xsd:boolean), date (xsd:date), column (a list
    of numbers), parts (resources of their own), reason (a text that also sets
    owl:deprecated).
    """

    name: str
    predicate: str
    form: str = "text"
    many: bool = False
    required: bool = True
    words: tuple[str, ...] = ()  # the only words allowed; () = any
    interval: Interval | None = None
    refers: tuple[str, ...] = ()  # names of the kinds that a ref may point to
    before: str = ""  # an id "wss" is written as the IRI before + "wss" + after
    after: str = ""
    part: Part | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """A value inside a value: a dataclass, or one row of a mapping (`type` is None).

    `named_by` lists the fields that make up its name; () numbers them t1, t2, ...
    In a row of a mapping every field but the last belongs to the key.
    """

    name: str
    fields: tuple[Field, ...]
    named_by: tuple[str, ...] = ()
    type: Any = None  # the dataclass


@dataclass(frozen=True, slots=True)
class Kind:
    """A dataclass with an id, and where it lies in `Knowledge` and on disk.

    `file` is the name of its file; ``{group}`` in it stands for the subject area.
    `id_of` makes the id of a value that has none, from its fields.
    """

    name: str
    type: Any  # the dataclass
    attribute: str
    prefix: str  # every id begins with it
    file: str
    fields: tuple[Field, ...]
    id_of: str = ""
    before: str = ""  # the id "wss" is written as before + "wss"
    provenance: bool = True


@cache
def default_of(holder: Any, field: Field) -> Any:
    """Return what a field holds when the file says nothing, `MISSING` if it must say it."""
    if field.required or holder is None:
        return dataclasses.MISSING
    for stated in dataclasses.fields(holder):
        if stated.name == field.name and stated.default is not dataclasses.MISSING:
            return stated.default
    return () if field.many or field.part else ""
