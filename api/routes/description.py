"""The description of the interface: OpenAPI for programs, a table for people.

The one idea: both are made from the routes and the table of permissions, on this machine, and
read without a connection. The page loads no script, from here or elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.openapi.utils import get_openapi
from starlette.applications import Starlette
from starlette.responses import JSONResponse, Response

from api.accounts.permissions import OPEN, look_up
from api.problems import MEDIA_TYPE, Problem
from api.routes.common import BODIES

__all__ = ["description", "router"]

router = APIRouter(tags=["description"])

_METHODS: Final = ("get", "post", "put", "patch", "delete")
_REF: Final = "#/components/schemas/{model}"
_SENTENCES: Final = {
    400: "the request can't be read",
    401: "nobody is signed in",
    403: "this role may not, or the request comes from another page",
    404: "there is no such thing in this shop",
    405: "the method is not possible here",
    413: "larger than allowed",
    415: "not marked as JSON",
    421: "another machine was asked for",
    422: "not as described, or unknown to the knowledge",
    500: "Drypark itself is wrong",
    503: "the records can't be reached",
    507: "there is no room left to write",
}


@router.get("/openapi.json", include_in_schema=False)
def openapi(request: Request) -> Response:
    """Return the description for programs."""
    return JSONResponse(description(request.app))


@router.get("/api/", include_in_schema=False)
def table(request: Request) -> Response:
    """Return the description for people: one table, no script."""
    rows = _rows(description(request.app))
    made: Response = request.app.state.templates.TemplateResponse(
        request, "interface.html", {"rows": rows}
    )
    return made


def description(app: Starlette) -> dict[str, Any]:
    """Return the OpenAPI document of an application; made once."""
    made: dict[str, Any] | None = getattr(app.state, "description", None)
    if made is None:
        made = get_openapi(
            title="Drypark",
            version="1",
            summary="What to check before replacing the sensor that a trouble code names.",
            description="JSON under /api. Every error has one shape (RFC 9457).",
            routes=app.routes,
        )
        schemas = made.setdefault("components", {}).setdefault("schemas", {})
        problem = Problem.model_json_schema(ref_template=_REF)
        schemas.update(problem.pop("$defs", {}))
        schemas["Problem"] = problem
        for path, entry in made["paths"].items():
            for method in _METHODS:
                if method in entry:
                    _complete(path, method.upper(), entry[method], schemas)
        schemas.pop("HTTPValidationError", None)
        schemas.pop("ValidationError", None)
        app.state.description = made
    return made


def _complete(path: str, method: str, entry: dict[str, Any], schemas: dict[str, Any]) -> None:
    """Add to one operation its body, who may ask, and every problem it can answer with."""
    adapter = BODIES.get((method, path))
    if adapter is not None:
        schema = adapter.json_schema(by_alias=True, ref_template=_REF)
        schemas.update(schema.pop("$defs", {}))
        entry["requestBody"] = {
            "required": True,
            "content": {"application/json": {"schema": schema}},
        }
    row = look_up(method, path)
    if row is not None:
        entry["x-roles"] = sorted(row.who)
    answers = entry["responses"]
    for status in _possible(path, method, entry, signed_in=row is not None and row.who != OPEN):
        answers.setdefault(str(status), {"description": _SENTENCES[status]})
    for status, told in answers.items():
        schema = told.get("content", {}).get("application/json", {}).get("schema", {})
        is_problem = not schema or "Problem" in str(schema) or "HTTPValidation" in str(schema)
        if int(status) >= 400 and is_problem:
            told["content"] = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
            told["description"] = told.get("description") or _SENTENCES.get(int(status), "")


def _possible(path: str, method: str, entry: Mapping[str, Any], *, signed_in: bool) -> list[int]:
    """Return the statuses of the problems that an operation can answer with."""
    out = [421, 500, 503]
    if signed_in:
        out += [401, 403]
    if method != "GET":
        out += [403, 507]
    if "{" in path:
        out += [404]
    if "requestBody" in entry:
        out += [400, 413, 415, 422]
    if entry.get("parameters"):
        out += [422]
    return sorted(set(out))


def _rows(made: Mapping[str, Any]) -> list[dict[str, str]]:
    """Return one row for each operation: what it is, who may, what it answers with."""
    return [
        {
            "request": f"{method.upper()} {path}",
            "what": str(entry[method].get("description") or entry[method].get("summary", "")),
            "who": ", ".join(entry[method].get("x-roles", ())) or "anybody",
            "answers": ", ".join(entry[method]["responses"]),
        }
        for path, entry in made["paths"].items()
        for method in _METHODS
        if method in entry
    ]
