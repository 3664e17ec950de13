"""The pages: what a person sees."""

from __future__ import annotations

from fastapi import APIRouter

from api.pages import board, events, history, offline, photos, sheet, small, why, write_up

__all__ = ["router"]

router = APIRouter()
for part in (board, sheet, events, photos, write_up, history, why, small, offline):
    router.include_router(part.router)
