"""Problem details (RFC 9457): one shape for everything that goes wrong.

The one idea: whoever notices what is wrong raises an error that knows its sentence; this
module alone turns errors into answers, for programs as `application/problem+json` and for
people as a page with the same sentence. An error that nobody foresaw says nothing of what was
inside, only a number by which it is found in the log.
"""

from __future__ import annotations

import http
from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import FastAPI, Request
from fastapi import HTTPException as RouteError
from fastapi.exceptions import RequestValidationError
from jinja2 import TemplateNotFound
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from api.documents import DocumentRefusedError
from triage.errors import KnowledgeError, TriageError

__all__ = [
    "MEDIA_TYPE",
    "Problem",
    "ProblemError",
    "ProblemRow",
    "add_handlers",
    "problem_answer",
    "problem_of",
    "refused",
    "wants_page",
]

MEDIA_TYPE = "application/problem+json"
#: A name that never resolves; it identifies the kind of problem, nothing fetches it.
_KINDS = "https://drypark.example/problems/"


class ProblemRow(BaseModel):
    """One of several things that are wrong."""

    where: str = Field(description="where it stands, such as body.events[0].id")
    detail: str = Field(description="what is wrong there, and what to do")


class Problem(BaseModel):
    """What went wrong, for programs and people alike (RFC 9457)."""

    type: str = Field(description="an id of the kind of problem; it is not to be fetched")
    title: str
    status: int = Field(ge=400, le=599)
    detail: str = Field(description="one sentence: what is wrong, what is safe, what to do")
    instance: str = Field(description="the path that was asked for")
    request: str = Field(description="number of the request, as it stands in the log")
    errors: list[ProblemRow] = Field(default=[], description="each thing that is wrong")


class ProblemError(RouteError):
    """Something is wrong, and this is what the answer says."""

    def __init__(
        self,
        status: int,
        detail: str,
        *,
        kind: str = "",
        errors: Sequence[ProblemRow] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(status, detail, dict(headers or {}))
        self.kind, self.rows = kind, tuple(errors)


def add_handlers(app: FastAPI, statuses: Mapping[type[Exception], int]) -> None:
    """Let the application answer errors in the one shape.

    Parameters
    ----------
    statuses : error class -> status, for errors that carry their own sentence
    """
    app.state.statuses = dict(statuses)
    for error in (HTTPException, RequestValidationError, TriageError, *statuses):
        app.add_exception_handler(error, _handle)


async def _handle(request: Request, error: Exception) -> Response:
    """Answer an error."""
    problem, headers = problem_of(request, error)
    return problem_answer(request, problem, headers)


def problem_of(request: Request, error: Exception) -> tuple[Problem, dict[str, str]]:
    """Return the problem that an error is, and the headers that belong to it."""
    statuses: Mapping[type[Exception], int] = getattr(request.app.state, "statuses", {})
    told = next((status for kind, status in statuses.items() if isinstance(error, kind)), None)
    if told is not None:
        return _made(request, told, str(error)), {}
    if isinstance(error, ProblemError):
        made = _made(request, error.status_code, error.detail, error.kind, error.rows)
        return made, dict(error.headers or {})
    if isinstance(error, HTTPException):
        return _made(request, error.status_code, _plain(request, error)), dict(error.headers or {})
    if isinstance(error, RequestValidationError):
        return problem_of(request, refused(error.errors()))
    if isinstance(error, TriageError) and not isinstance(error, KnowledgeError):
        return _by_sentence(request, error), {}
    return _made(request, 500, _unforeseen(request)), {}


def _made(
    request: Request,
    status: int,
    detail: str,
    kind: str = "",
    errors: Sequence[ProblemRow] = (),
) -> Problem:
    """Return a problem about this request."""
    title = http.HTTPStatus(status).phrase
    return Problem(
        type=_KINDS + (kind or title.lower().replace(" ", "-").replace("'", "")),
        title=title,
        status=status,
        detail=detail,
        instance=request.url.path,
        request=str(request.scope.get("drypark.request", "")),
        errors=list(errors),
    )


def _plain(request: Request, error: HTTPException) -> str:
    """Return a sentence for what the framework itself refuses."""
    if error.status_code == 404:
        return "there is nothing at this address; the board lists every open job"
    if error.status_code == 405:
        allowed = (error.headers or {}).get("allow") or (error.headers or {}).get("Allow", "")
        return f"{request.method} is not possible here; allowed: {allowed or 'another method'}"
    if error.status_code == 400:
        return "the body of the request can't be read; nothing was written; send it again as JSON"
    return str(error.detail)


def _unforeseen(request: Request) -> str:
    number = request.scope.get("drypark.request", "")
    return (
        "Drypark itself is wrong here; what was acknowledged before is kept; try again, and if "
        f"it stays so report request {number}"
    )


def _by_sentence(request: Request, error: TriageError) -> Problem:
    """Return the problem of an error that carries its sentence, or several."""
    if isinstance(error, DocumentRefusedError):
        rows = [
            ProblemRow(where=str(getattr(one, "where", "")), detail=str(one))
            for one in error.problems
        ]
        detail = rows[0].detail if len(rows) == 1 else f"{len(rows)} things in it can't stand"
        return _made(request, 422, detail, "not-as-described", rows)
    return _made(request, 422, str(error))


def refused(found: Sequence[Mapping[str, Any]]) -> ProblemError:
    """Return the error for a request that isn't as described.

    Parameters
    ----------
    found : rows as pydantic gives them
    """
    if any(row["type"] == "json_invalid" for row in found):
        detail = "the body is not JSON; nothing was written; correct it and send it again"
        return ProblemError(400, detail, kind="not-json")
    rows = [ProblemRow(where=_where(row["loc"]), detail=_said(row)) for row in found[:50]]
    one = rows[0]
    detail = f"{one.where or 'the body'}: {one.detail}; nothing was written"
    if len(found) > 1:
        detail = f"{len(found)} things in the request are not as described; nothing was written"
    return ProblemError(422, detail, kind="not-as-described", errors=rows)


def _said(row: Mapping[str, Any]) -> str:
    """Return what pydantic says, without the value itself: it may be the customer's words."""
    return str(row["msg"])[:1].lower() + str(row["msg"])[1:]


def _where(steps: Sequence[str | int]) -> str:
    text = ""
    for step in steps:
        text += f"[{step}]" if isinstance(step, int) else f".{step}"
    return text.lstrip(".")[:200]


def wants_page(request: Request) -> bool:
    """Return whether a person's browser asks, rather than a program."""
    path = request.url.path
    if path.startswith(("/api/", "/livez", "/readyz", "/metrics", "/openapi.json")):
        return False
    return "text/html" in request.headers.get("accept", "")


def problem_answer(
    request: Request, problem: Problem, headers: Mapping[str, str] | None = None
) -> Response:
    """Return the answer that tells a problem, as a page or as JSON."""
    templates = getattr(request.app.state, "templates", None)
    if templates is not None and wants_page(request):
        try:
            page: Response = templates.TemplateResponse(
                request, "problem.html", {"problem": problem}, problem.status, dict(headers or {})
            )
        except TemplateNotFound:
            pass
        else:
            return page
    return JSONResponse(
        problem.model_dump(mode="json"),
        problem.status,
        headers=dict(headers or {}),
        media_type=MEDIA_TYPE,
    )
