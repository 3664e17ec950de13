"""The pages: what a person sees."""

from __future__ import annotations

from fastapi import APIRouter

__all__ = ["router"]

router = APIRouter()
