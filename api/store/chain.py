"""The chain over a job's events: who changes one must change all that follow.

Each event carries the SHA-256 of the hash before it and of everything that it says. The first
of a job starts from its shop and id, so that no job can be put in place of another.
"""

from __future__ import annotations

import hashlib
import json

from api.store.events import Recorded, canonical

__all__ = ["link", "start"]


def start(shop: str, job: str) -> str:
    """Return what the first event of a job is chained to, 64 hex digits."""
    return _sha(["drypark-record/1", shop, job])


def link(before: str, event: Recorded) -> str:
    """Return the hash of an event after the one before it, 64 hex digits."""
    return _sha(
        [
            before,
            event.position,
            event.seq,
            event.id,
            canonical(event.body),
            [event.who.id, event.who.name, event.who.role],
            event.device_time.isoformat(timespec="microseconds"),
            event.server_time.isoformat(timespec="microseconds"),
            event.knowledge,
        ]
    )


def _sha(parts: list[object]) -> str:
    told = json.dumps(parts, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(told.encode("ascii")).hexdigest()
