"""One Turtle literal to one plain value, or the plain statement that it does not fit."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from typing import Any, Final

import pyoxigraph as ox

from graph.namespaces import expand

__all__ = ["DATATYPES", "MISSING", "read_literal"]

#: Stands for "no value": nothing was said, or what was said does not fit.
MISSING: Final = dataclasses.MISSING
#: What each form must look like, for sentences to people.
DATATYPES: Final[Mapping[str, str]] = {
    "text": 'a string in English ("..."@en)',
    "reason": 'a string in English ("..."@en)',
    "word": "a plain string",
    "ref": "an id",
    "number": "an xsd:decimal",
    "integer": "an xsd:integer",
    "flag": "true or false",
    "date": "an xsd:date",
    "column": "a list of xsd:decimal",
    "parts": "an id",
}
_STRING, _DECIMAL, _INTEGER, _DOUBLE, _BOOLEAN, _DATE = (
    expand(f"xsd:{name}") for name in ("string", "decimal", "integer", "double", "boolean", "date")
)
_DAY = re.compile(r"^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$")


def read_literal(form: str, value: ox.Literal) -> Any:
    """Return a literal as a plain value, `MISSING` when it has the wrong datatype.

    Examples
    --------
    >>> read_literal("word", ox.Literal("lf"))
    'lf'
    >>> read_literal("number", ox.Literal("lf")) is MISSING
    True
    """
    text, datatype = value.value, value.datatype.value
    fits: Any = MISSING
    if form in ("text", "reason"):
        fits = text if value.language == "en" else MISSING
    elif form == "word":
        fits = text if datatype == _STRING else MISSING
    elif form == "number":
        fits = _number(text, datatype)
    elif form == "integer" and datatype == _INTEGER:
        fits = int(text)
    elif form == "flag" and datatype == _BOOLEAN:
        fits = text in ("true", "1")
    elif form == "date" and datatype == _DATE and _DAY.match(text):
        fits = text
    return fits


def _number(text: str, datatype: str) -> Any:
    """Return a decimal, an integer, or the one double there may be: infinity."""
    if datatype in (_DECIMAL, _INTEGER):
        return float(text)
    return float("inf") if datatype == _DOUBLE and text == "INF" else MISSING
