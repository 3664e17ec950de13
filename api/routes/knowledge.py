"""The knowledge: one term, and what there is."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from pydantic import BaseModel, Field
from starlette.responses import Response

from api.labels import label_of
from api.problems import ProblemError
from api.routes.common import DeskDep, etag_of, json_answer, not_changed
from graph.terms import Knowledge
from triage.errors import UnknownTermError

__all__ = ["router"]

router = APIRouter(prefix="/api/knowledge", tags=["knowledge"])

_TABLES = (
    "codes", "findings", "states", "causes", "checks", "setups", "repairs", "gates", "contexts",
    "facts",
)  # fmt: skip


class Contents(BaseModel):
    """Which knowledge is in force, and how much it holds."""

    version: str
    sha256: str
    counts: dict[str, int]


class LinkRow(BaseModel):
    """One link from or to a term."""

    id: str
    source: str
    reach: str
    target: str
    strength: float
    mechanism: str
    review: str


class Term(BaseModel):
    """What the knowledge says about one term."""

    id: str
    table: str = Field(description="the kind of thing: causes, checks, and so on")
    label: str
    says: dict[str, Any]
    links: list[LinkRow]


@router.get("", response_model=Contents, responses={304: {"description": "nothing is new"}})
def contents(request: Request, desk: DeskDep) -> Response:
    """Say which knowledge is in force."""
    known = desk.knowledge
    etag = etag_of(known.sha256[:32])
    counts = {table: len(getattr(known, table)) for table in _TABLES} | {"links": len(known.links)}
    made = Contents(version=known.version, sha256=known.sha256, counts=counts)
    return not_changed(request, etag) or json_answer(made, etag=etag)


@router.get("/{term}", response_model=Term, responses={304: {"description": "nothing is new"}})
def show(
    request: Request,
    desk: DeskDep,
    term: Annotated[str, Path(max_length=80, description="an id; a place behind it is left aside")],
) -> Response:
    """Return what the knowledge says about a term, with its links."""
    known = desk.knowledge
    etag = etag_of(known.sha256[:32])
    kind = term.partition("@")[0]
    table = next((name for name in _TABLES if kind in getattr(known, name)), None)
    if table is None:
        every = [key for name in _TABLES for key in getattr(known, name)]
        raise ProblemError(404, str(UnknownTermError("term", kind, every)))
    says = {
        field.name: _plain(getattr(getattr(known, table)[kind], field.name))
        for field in dataclasses.fields(getattr(known, table)[kind])
    }
    made = Term(
        id=kind, table=table, label=label_of(known, kind), says=says, links=_links(known, kind)
    )
    return not_changed(request, etag) or json_answer(made, etag=etag)


def _links(known: Knowledge, kind: str) -> list[LinkRow]:
    """Return the links from and to a term that are in use."""
    return [
        LinkRow(
            id=link.id,
            source=link.source,
            reach=link.reach,
            target=link.target,
            strength=link.strength,
            mechanism=link.mechanism,
            review=link.review,
        )
        for link in known.links
        if kind in (link.source, link.target) and not link.deprecated
    ]


def _plain(value: Any) -> Any:
    """Return a value as JSON knows it; a table keyed by several things becomes rows."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        if all(isinstance(key, str) for key in value):
            return {key: _plain(inner) for key, inner in value.items()}
        return [[_plain(key), _plain(inner)] for key, inner in value.items()]
    if isinstance(value, list | tuple | set | frozenset):
        return [_plain(inner) for inner in value]
    return value if value is None or isinstance(value, str | int | float) else str(value)
