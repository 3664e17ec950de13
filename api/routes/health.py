"""Whether the service runs, and whether it can do its work.

The one idea: a line for each thing that must be right, with a sentence for a person; the
command `drypark doctor` shows the same lines.
"""

from __future__ import annotations

from fastapi import APIRouter
from pydantic import BaseModel, Field
from starlette.responses import Response

from api.jobs.health import checks_of
from api.routes.common import DeskDep, SettingsDep, StoreDep, json_answer

__all__ = ["router"]

router = APIRouter(tags=["health"])


class Alive(BaseModel):
    """The process answers."""

    alive: bool = True


class CheckLine(BaseModel):
    """One thing that must be right."""

    check: str
    ok: bool
    says: str = Field(description="one sentence")


class Ready(BaseModel):
    """Whether the service can do its work."""

    ready: bool
    checks: list[CheckLine]


@router.get("/livez")
async def livez() -> Alive:
    """Say that the process answers; nothing else is looked at."""
    return Alive()


@router.get(
    "/readyz",
    response_model=Ready,
    responses={503: {"model": Ready, "description": "something is not right"}},
)
def readyz(store: StoreDep, desk: DeskDep, settings: SettingsDep) -> Response:
    """Look at everything that must be right: 200 if it all is, else 503."""
    lines = [
        CheckLine(check=row.check, ok=row.ok, says=row.says)
        for row in checks_of(settings, store, desk.knowledge)
    ]
    made = Ready(ready=all(line.ok for line in lines), checks=lines)
    return json_answer(made, status=200 if made.ready else 503)
