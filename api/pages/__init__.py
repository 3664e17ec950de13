"""The pages: what a person sees."""

from __future__ import annotations

from fastapi import APIRouter

from api.pages import board, events, history, offline, photos, sheet, small, trust, why, write_up

__all__ = ["router"]

router = APIRouter()
for part in (board, sheet, events, photos, write_up, history, why, small, trust, offline):
    router.include_router(part.router)
