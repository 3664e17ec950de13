"""Everything that is wrong with a document, told together.

The one idea: a person corrects a file once, not once for each mistake. Each problem is a
`triage.errors` error with its one sentence; a refusal holds them all and shows the first few.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from triage.errors import DocumentError, TriageError, UnknownTermError

__all__ = ["SHOWN", "DocumentRefusedError", "json_path", "problems_of"]

#: How many problems are shown; the rest are counted.
SHOWN = 20


class DocumentRefusedError(DocumentError):
    """A document with one or more problems; one line each in the message.

    Attributes
    ----------
    problems : tuple of TriageError
        All of them, in the order of the document.
    """

    def __init__(self, problems: Sequence[TriageError]) -> None:
        self.problems = tuple(problems)
        super().__init__(
            f"{len(self.problems)} problems",
            where="the document",
            allowed="none",
            remedy="correct them",
        )
        lines = [str(problem) for problem in self.problems[:SHOWN]]
        if len(self.problems) > SHOWN:
            lines.append(f"and {len(self.problems) - SHOWN} more like these; correct them alike")
        self.args = ("\n".join(lines),)


def json_path(steps: Iterable[str | int]) -> str:
    """Return where in a document something stands.

    Examples
    --------
    >>> json_path(("codes", 3, "failure_type")), json_path(())
    ('codes[3].failure_type', 'the top')
    """
    text = ""
    for step in steps:
        text += f"[{step}]" if isinstance(step, int) else f".{step}"
    return text.lstrip(".") or "the top"


def problems_of(error: ValidationError, model: type[BaseModel]) -> list[TriageError]:
    """Return what a model refused, each problem as an error with its sentence."""
    return [
        _problem(row["type"], row["loc"], row, model) for row in error.errors(include_url=False)
    ]


def _problem(
    kind: str, loc: tuple[int | str, ...], row: Mapping[str, Any], model: type[BaseModel]
) -> TriageError:
    """Return one problem in words."""
    if loc and loc[-1] == "[key]":
        loc = loc[:-2]
    if kind == "extra_forbidden":
        return _unknown_field(str(loc[-1]), _fields(model, loc[:-1]), json_path(loc[:-1]))
    if kind == "missing":
        return DocumentError(
            f"{loc[-1]!r} is missing",
            where=json_path(loc[:-1]),
            allowed=_allowed(model, loc),
            remedy="add it",
        )
    return DocumentError(
        _what(kind, row),
        where=json_path(loc),
        allowed=_allowed(model, loc),
        remedy="correct it there",
    )


def _unknown_field(name: str, known: Sequence[str], where: str) -> TriageError:
    """Return the error for a field that nobody knows: the nearest one, else all of them."""
    error = UnknownTermError("field", name[:80], known, where=where)
    if error.nearest:
        return error
    return DocumentError(
        f"unknown field {name[:80]!r}",
        where=where,
        allowed=", ".join(known),
        remedy="remove it, or use one of these",
    )


def _what(kind: str, row: Mapping[str, Any]) -> str:
    """Return what is wrong, with the value as far as it helps."""
    value = row["input"]
    if kind == "too_long" and isinstance(value, list | tuple | dict):
        return f"{row['ctx'].get('actual_length') or len(value)} entries"
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "an object"
    if isinstance(value, str) and len(value) > 40:
        return f"{value[:40]!r}... ({len(value)} characters)"
    if isinstance(value, bool) or value is None:
        return {True: "true", False: "false", None: "null"}[value]
    return repr(value)


def _names(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """Return the fields of a model by the names that the document uses."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _model_in(annotation: object) -> type[BaseModel] | None:
    """Return the model inside an annotation such as ``tuple[Model, ...] | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in get_args(annotation):
        found = _model_in(part)
        if found is not None:
            return found
    return None


def _fields(model: type[BaseModel], loc: Sequence[int | str]) -> list[str]:
    """Return the fields known where a path leads to."""
    for step in loc:
        if isinstance(step, str) and step in _names(model):
            model = _model_in(_names(model)[step].annotation) or model
    return list(_names(model))


def _allowed(model: type[BaseModel], loc: Sequence[int | str]) -> str:
    """Return what the field at a path says that it allows."""
    field: FieldInfo | None = None
    for step in loc:
        if isinstance(step, str) and step in _names(model):
            field = _names(model)[step]
            model = _model_in(field.annotation) or model
    listed = bool(loc) and isinstance(loc[-1], int)
    if field is not None and field.description:
        return ("an entry of " if listed else "") + field.description
    return "an object with " + ", ".join(_names(model))
