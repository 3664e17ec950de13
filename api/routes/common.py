"""What the routes share: what they are given, how a body is read, how an answer is written.

The one idea: a body is read by the same strict models as a document from a file, straight from
its bytes, and refused by the same sentences; the description of the interface is made from
those models too.
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Mapping
from typing import Annotated, Any, TypeVar

from fastapi import Depends, Path, Request
from pydantic import BaseModel, TypeAdapter, ValidationError
from starlette.responses import Response

from api.accounts.session import current_person
from api.edge.measures import Measures
from api.jobs.desk import Desk
from api.problems import ProblemError, refused
from api.settings import Settings
from api.store.engine import Store
from api.store.people import Person

__all__ = [
    "BODIES",
    "DeskDep",
    "JobId",
    "MeasuresDep",
    "PersonDep",
    "SettingsDep",
    "StoreDep",
    "body_of",
    "etag_of",
    "json_answer",
    "need_match",
    "not_changed",
    "takes",
]

_T = TypeVar("_T")

#: (method, path) -> what its body is; the description is completed from it.
BODIES: dict[tuple[str, str], TypeAdapter[Any]] = {}


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


def _desk(request: Request) -> Desk:
    desk: Desk = request.app.state.desk
    return desk


def _settings(request: Request) -> Settings:
    settings: Settings = request.app.state.settings
    return settings


def _measures(request: Request) -> Measures:
    measures: Measures = request.app.state.measures
    return measures


StoreDep = Annotated[Store, Depends(_store)]
DeskDep = Annotated[Desk, Depends(_desk)]
SettingsDep = Annotated[Settings, Depends(_settings)]
MeasuresDep = Annotated[Measures, Depends(_measures)]
PersonDep = Annotated[Person, Depends(current_person)]
JobId = Annotated[str, Path(max_length=64, description="id of the job, made by the server")]


def takes(method: str, path: str, kind: Any) -> None:
    """State what the body of a route is."""
    BODIES[method, path] = TypeAdapter(kind)


def body_of(method: str, path: str) -> Callable[[Request], Coroutine[Any, Any, Any]]:
    """Return a dependency that reads the body of a route stated with `takes`."""
    adapter = BODIES[method, path]

    async def read(request: Request) -> Any:
        kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
        if kind != "application/json":
            raise ProblemError(415, "the body is not marked as JSON; send it as application/json")
        try:
            return adapter.validate_json(await request.body())
        except ValidationError as error:
            raise refused(error.errors(include_url=False, include_input=False)) from None

    return read


def json_answer(
    value: BaseModel | bytes,
    *,
    status: int = 200,
    etag: str = "",
    headers: Mapping[str, str] | None = None,
) -> Response:
    """Return an answer as JSON, with its version where it has one."""
    content = value if isinstance(value, bytes) else value.model_dump_json(by_alias=True).encode()
    more = {**(headers or {}), **({"etag": etag} if etag else {})}
    return Response(content, status, headers=more, media_type="application/json")


def etag_of(version: object) -> str:
    """Return a version as the header writes it.

    Examples
    --------
    >>> etag_of(7)
    '"7"'
    """
    return f'"{version}"'


def not_changed(request: Request, etag: str) -> Response | None:
    """Return 304 where the asker has this version already."""
    known = request.headers.get("if-none-match", "")
    if known and etag in _tags(known):
        return Response(status_code=304, headers={"etag": etag})
    return None


def need_match(request: Request, etag: str, *, always: bool = False) -> None:
    """Refuse to write over what the writer has not seen.

    Parameters
    ----------
    always : refuse as well where no version was named

    Raises
    ------
    ProblemError
        412 for another version, 428 for none.
    """
    known = request.headers.get("if-match", "")
    if not known:
        if always:
            raise ProblemError(
                428,
                "say which version you have seen (If-Match with the ETag you were given), so that "
                "nobody's change is lost; nothing was written",
            )
        return
    if known.strip() != "*" and etag not in _tags(known):
        raise ProblemError(
            412,
            "somebody else has written here since you looked; nothing of yours was written; look "
            "again, then decide",
            kind="changed-meanwhile",
            headers={"etag": etag},
        )


def _tags(header: str) -> set[str]:
    """Return the versions that a header names; a weak one is as good."""
    return {tag.strip().removeprefix("W/") for tag in header.split(",")}
