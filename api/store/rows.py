"""Events as rows of the table, and rows as events."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, Connection, RowMapping, select

from api.store.events import Recorded, Who, body_from, canonical
from api.store.tables import events

__all__ = ["recorded_from", "recorded_of", "recorded_where", "row_of"]


def row_of(shop: str, event: Recorded) -> dict[str, Any]:
    """Return an event as a row of the table."""
    return {
        "position": event.position,
        "shop": shop,
        "job": event.job,
        "seq": event.seq,
        "id": event.id,
        "kind": event.body.kind,
        "body": canonical(event.body),
        "who_id": event.who.id,
        "who_name": event.who.name,
        "who_role": event.who.role,
        "device_time": event.device_time,
        "server_time": event.server_time,
        "knowledge": event.knowledge,
        "hash": event.hash,
    }


def recorded_from(row: RowMapping) -> Recorded:
    """Return a row of the table as an event."""
    return Recorded(
        seq=row["seq"],
        job=row["job"],
        id=row["id"],
        body=body_from(row["body"]),
        who=Who(row["who_id"], row["who_name"], row["who_role"]),
        device_time=row["device_time"],
        server_time=row["server_time"],
        knowledge=row["knowledge"],
        position=row["position"],
        hash=row["hash"],
    )


def recorded_of(connection: Connection, job: str) -> list[Recorded]:
    """Return the events of a job in order."""
    asked = select(events).where(events.c.job == job).order_by(events.c.seq)
    return [recorded_from(row) for row in connection.execute(asked).mappings()]


def recorded_where(
    connection: Connection, *conditions: ColumnElement[bool], most: int | None = None
) -> list[Recorded]:
    """Return the events for which all conditions hold, in the order of the whole record."""
    asked = select(events).where(*conditions).order_by(events.c.position).limit(most)
    return [recorded_from(row) for row in connection.execute(asked).mappings()]
