"""Where a record came from: the catalogue, its review, or the safety notes."""

from __future__ import annotations

from graph.terms import Provenance

__all__ = ["DATE", "catalogue", "review", "safety"]

#: Day on which both texts were taken over.
DATE = "2026-11-25"


def catalogue(where: str, note: str = "") -> Provenance:
    """Return the provenance of something the catalogue says in section `where`."""
    return Provenance("estimate", "src-catalogue", "ag-first-draft", DATE, _note(where, note))


def review(where: str, note: str = "") -> Provenance:
    """Return the provenance of something the review says in section `where`."""
    return Provenance("estimate", "src-review", "ag-second-review", DATE, _note(where, note))


def safety(where: str, note: str = "") -> Provenance:
    """Return the provenance of a gate: the safety notes of the first draft."""
    return Provenance("estimate", "src-safety", "ag-first-draft", DATE, _note(where, note))


def _note(where: str, note: str) -> str:
    return f"section {where}; {note}" if note else f"section {where}"
