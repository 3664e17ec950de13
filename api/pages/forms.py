"""What every form of a page carries and how it is read.

The one idea: a form brings the id of its event, made when the page was made. Sent twice it is
one event; an answer that takes several events numbers them behind that id.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from api.problems import ProblemError
from api.store.events import NewEvent

__all__ = [
    "field",
    "fields",
    "new_event_id",
    "number",
    "numbered",
    "onward",
    "safe_back",
    "stem_of",
]

_EVENT = re.compile(r"[A-Za-z0-9_]{16,48}")


def new_event_id() -> str:
    """Return an id for an event; letters and digits only, so that a number can follow."""
    return secrets.token_hex(12)


def field(form: FormData, name: str) -> str:
    """Return the text of a field without spaces around it; empty where there is none."""
    value = form.get(name, "")
    return value.strip().replace("\r\n", "\n") if isinstance(value, str) else ""


def fields(form: FormData, name: str) -> list[str]:
    """Return every non-empty text of a field that may be there more than once."""
    return [value for value in form.getlist(name) if isinstance(value, str) and value]


def number(form: FormData, name: str, what: str) -> float:
    """Return a number; a decimal comma is taken as such.

    Raises
    ------
    ProblemError
        If there is no number, or one that can be read two ways.
    """
    text = field(form, name).replace("\u2212", "-")
    if re.fullmatch(r"[-+]?\d{1,3}(?:[.,]\d{3}){1,}", text) and not text.lstrip("+-").startswith(
        "0"
    ):
        raise ProblemError(
            422,
            f"{what} {text!r} can be read two ways; nothing was written; type it without a "
            "mark for thousands, or with another digit behind the point",
        )
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e9:
        raise ProblemError(
            422, f"{what} {text[:20]!r} is no number; nothing was written; type it such as 0.19"
        )
    return value


def numbered(form: FormData, bodies: Iterable[object]) -> Sequence[NewEvent]:
    """Return the events of a form, numbered behind the id that it brings.

    Raises
    ------
    ProblemError
        If it brings no id.
    """
    stem, when = field(form, "event"), _device_time(form)
    if not _EVENT.fullmatch(stem):
        raise ProblemError(
            422, "this form carries no event id; nothing was written; open the page again"
        )
    made = list(bodies)
    ids = [stem] if len(made) == 1 else [f"{stem}-{n}" for n in range(1, len(made) + 1)]
    return [
        NewEvent(id=key, device_time=when, body=body)  # type: ignore[arg-type]
        for key, body in zip(ids, made, strict=True)
    ]


def stem_of(event: str) -> str:
    """Return the id that the events of one answer share.

    Examples
    --------
    >>> stem_of("0123456789abcdef0123-2"), stem_of("0123456789abcdef0123")
    ('0123456789abcdef0123', '0123456789abcdef0123')
    """
    stem, dash, count = event.rpartition("-")
    return stem if dash and count.isdecimal() and _EVENT.fullmatch(stem) else event


def _device_time(form: FormData) -> datetime:
    """Return the time on the device where it told one, else the server's."""
    told = field(form, "device_time")
    try:
        when = datetime.fromisoformat(told)
    except ValueError:
        when = datetime.now(UTC)
    return when if when.tzinfo else when.replace(tzinfo=UTC)


def onward(request: Request, go: str, needs: str = "") -> Response:
    """Send a browser on; tell the queue where to go, and whether something is still needed."""
    if request.headers.get("accept") == "application/json":
        return JSONResponse({"go": go, "needs": needs})
    return RedirectResponse(go, 303)


def safe_back(form: FormData, otherwise: str) -> str:
    """Return where to go after a form: a path of our own, never another machine."""
    back = field(form, "back")
    return back if re.fullmatch(r"/(?![/\\])[^\x00-\x1f\\]{0,300}", back) else otherwise
