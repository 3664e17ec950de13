"""How a page is made from its template.

The one idea: what every page needs (who is signed in, whether this is the invented shop, the
theme and the keys of this device) is added here and nowhere else, and numbers become words by
the filters that are named here.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from fastapi.templating import Jinja2Templates
from starlette.requests import Request
from starlette.responses import Response

from api.pages.forms import new_event_id
from api.words import (
    GATE_LEVELS,
    evidence_words,
    minutes_words,
    percent_words,
    place_words,
    probability_words,
)

__all__ = ["ROLE_WORDS", "STATIC", "THEMES", "make_templates", "page"]

_HERE = Path(__file__).resolve().parent.parent
STATIC = _HERE / "static"

#: Value of the cookie, and its word on the page.
THEMES: Final = {
    "": "As the device says",
    "light": "Light",
    "dark": "Dark",
    "bay": "Bay, bright",
    "bay-dark": "Bay, dark",
}
#: The knowledge writes VM for the vehicle maker and what it states.
_MAKER: Final = re.compile(r"\bVM\b")
ROLE_WORDS: Final = {
    "technician": "technician",
    "senior": "senior technician",
    "trainee": "trainee",
    "owner": "owner",
}


def make_templates() -> Jinja2Templates:
    """Return the environment of all pages; everything put into a page is escaped."""
    templates = Jinja2Templates(directory=_HERE / "templates", context_processors=[_everywhere])
    templates.env.trim_blocks = templates.env.lstrip_blocks = True
    templates.env.filters |= {
        "percent": percent_words,
        "likely": probability_words,
        "evidence": evidence_words,
        "minutes": minutes_words,
        "place": place_words,
        "level": lambda level: GATE_LEVELS.get(level, level),
        "role": lambda role: ROLE_WORDS.get(role, role),
        "clock": _clock,
        "day": lambda when: f"{when.astimezone():%-d %b}",
        "first": _first_big,
        "maker": _spoken,
        "figure": lambda number: "" if number is None else f"{number:g}",
    }
    templates.env.globals["new_event"] = new_event_id
    return templates


def _spoken(text: str) -> str:
    """Return a text of the knowledge with its short forms written out."""
    return _MAKER.sub("vehicle maker", text).replace(" -> ", " \u2192 ")


def _clock(when: datetime) -> str:
    """Return the time of day on this machine's clock."""
    return when.astimezone().strftime("%H:%M")


def _first_big(text: str) -> str:
    """Return a text that begins with a capital."""
    return text[:1].upper() + text[1:]


def _everywhere(request: Request) -> dict[str, Any]:
    """Return what every page knows."""
    theme = request.cookies.get("theme", "")
    return {
        "person": request.scope.get("drypark.person"),
        "demo": request.app.state.settings.demo,
        "theme": theme if theme in THEMES else "",
        "now": datetime.now(UTC),
        "keys_off": request.cookies.get("keys") == "off",
    }


def page(request: Request, template: str, *, status: int = 200, **values: Any) -> Response:
    """Return a page."""
    made: Response = request.app.state.templates.TemplateResponse(
        request, template, values, status_code=status
    )
    return made
