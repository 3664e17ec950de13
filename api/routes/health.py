"""Whether the service runs, and whether it can do its work."""

from __future__ import annotations

from fastapi import APIRouter
from pydantic import BaseModel

__all__ = ["router"]

router = APIRouter(tags=["health"])


class Alive(BaseModel):
    """The process answers."""

    alive: bool = True


@router.get("/livez")
async def livez() -> Alive:
    """Say that the process answers; nothing else is looked at."""
    return Alive()
