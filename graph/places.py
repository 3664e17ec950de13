"""Where a thing can be on a car, and who said what: two values that every term shares."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["FIRST_DRAFT", "PLACES", "SCOPES", "Place", "Provenance"]

Place = str
#: Every place a thing can be at; left is the driver's left when seated.
PLACES: tuple[Place, ...] = ("lf", "rf", "lr", "rr", "front", "rear", "left", "right", "vehicle")
#: The places each scope expands to, in reading order.
SCOPES: Mapping[str, tuple[Place, ...]] = {
    "corner": ("lf", "rf", "lr", "rr"),
    "front-corner": ("lf", "rf"),
    "rear-corner": ("lr", "rr"),
    "axle": ("front", "rear"),
    "front-axle": ("front",),
    "rear-axle": ("rear",),
    "vehicle": ("vehicle",),
}


@dataclass(frozen=True, slots=True)
class Provenance:
    """Who said it, from what, on which basis, when."""

    basis: str = "estimate"  # estimate | published | measured | derived
    source: str = "src-memory"  # id of a record in sources.ttl
    author: str = "ag-first-draft"  # id of an agent in sources.ttl
    date: str = "2026-11-25"  # ISO date
    note: str = ""


#: What every starting estimate says of itself.
FIRST_DRAFT = Provenance()
