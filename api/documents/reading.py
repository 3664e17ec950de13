"""From a file, or bytes, to a case document, or to everything that is wrong with it.

The one idea: cheap questions first. The size is asked before anything is read, the encoding
before the syntax, the syntax before the shape; so a wrong file costs next to nothing.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, NoReturn

from pydantic import ValidationError

from api.documents.case import Case
from api.documents.refusal import DocumentRefusedError, problems_of
from triage.errors import DocumentError

__all__ = ["MAX_BYTES", "read_case"]

#: Largest document accepted, in bytes.
MAX_BYTES = 2_000_000


def read_case(source: Path | str | bytes) -> Case:
    """Return the case in a file, or in bytes that were read already.

    Parameters
    ----------
    source : path, or bytes
        UTF-8, with or without byte order mark; at most `MAX_BYTES`. A larger file is
        refused without being read.

    Returns
    -------
    Case
        Its shape is right; whether its ids are known is asked by
        `api.documents.check_terms`.

    Raises
    ------
    DocumentRefusedError
        If fields are missing, unknown or hold what they may not; it carries all problems.
    DocumentError
        If it cannot be read as JSON at all.

    Examples
    --------
    >>> read_case(b'{"format": "drypark-case/1", "case": "demo"}').case
    'demo'
    """
    data = source if isinstance(source, bytes) else _file_bytes(Path(source))
    if len(data) > MAX_BYTES:
        raise _too_large(f"at least {len(data)} bytes")
    text = _text(data)
    _check_syntax(text)
    try:
        return Case.model_validate_json(text)
    except ValidationError as error:
        raise DocumentRefusedError(problems_of(error, Case)) from None


def _file_bytes(path: Path) -> bytes:
    """Return the bytes of a file, never more than one too many."""
    try:
        with path.open("rb") as file:
            size = path.stat().st_size
            if size > MAX_BYTES:
                raise _too_large(f"{size} bytes")
            return file.read(MAX_BYTES + 1)
    except OSError as error:
        raise DocumentError(
            f"the file cannot be read ({(error.strerror or 'unknown reason').lower()})",
            where=str(path),
            allowed="a case document, or - for standard input",
            remedy="correct the name",
        ) from None


def _too_large(size: str) -> DocumentError:
    return DocumentError(
        size,
        where="the document",
        allowed=f"at most {MAX_BYTES} bytes",
        remedy="keep one car in one document, and readings instead of logs",
    )


def _text(data: bytes) -> str:
    """Return the text of the bytes."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DocumentError(
            f"a byte that is not UTF-8 (0x{data[error.start]:02X})",
            where=f"byte {error.start + 1}",
            allowed="UTF-8 text",
            remedy="save the file as UTF-8",
        ) from None


def _check_syntax(text: str) -> None:
    """Refuse what is not JSON, or says one thing twice."""
    if not text.strip():
        raise _not_json("nothing stands in it", "the document")
    try:
        json.loads(text, parse_constant=_no_constant, object_pairs_hook=_once)
    except json.JSONDecodeError as error:
        raise _not_json(error.msg.lower(), f"line {error.lineno}, column {error.colno}") from None
    except RecursionError:
        raise _not_json("lists or objects nested too deeply", "the document") from None
    except ValueError:  # a number with thousands of digits
        raise _not_json("a number that is too long", "the document") from None


def _not_json(what: str, where: str) -> DocumentError:
    return DocumentError(
        f"not JSON: {what}",
        where=where,
        allowed="one JSON object",
        remedy="correct it there",
    )


def _no_constant(name: str) -> NoReturn:
    """Refuse NaN and the infinities: JSON has no such numbers, and no car has such a value."""
    raise DocumentError(
        f"{name} is no number in JSON",
        where="the document",
        allowed="finite numbers",
        remedy="leave the field out where the value is not known",
    )


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return an object; refuse a field that stands in it twice."""
    made: dict[str, Any] = {}
    for key, value in pairs:
        if key in made:
            raise DocumentError(
                f"the field {key[:40]!r} stands twice in one object",
                where="the document",
                allowed="each field once",
                remedy="remove the one that is wrong",
            )
        made[key] = value
    return made
