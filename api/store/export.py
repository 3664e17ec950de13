"""One job written out: JSON lines for programs, CSV for spreadsheets."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence

from sqlalchemy import select

from api.store.database import Database
from api.store.errors import JobNotFoundError
from api.store.events import Recorded, canonical
from api.store.fold import HistoryRow
from api.store.tables import jobs

__all__ = ["as_csv", "as_json_lines", "harmless", "shop_of"]

_COLUMNS = (
    "seq",
    "server time",
    "device time",
    "who",
    "role",
    "kind",
    "taken back",
    "check",
    "place",
    "about",
    "at",
    "result",
    "value",
    "unit",
    "words",
    "knowledge",
    "hash",
    "body",
)


def shop_of(database: Database, job: str) -> str:
    """Return the shop that a job belongs to; for the owner of the database, who sees all.

    Raises
    ------
    JobNotFoundError
        If there is no such job.
    """
    with database.reading() as connection:
        shop = connection.execute(select(jobs.c.shop).where(jobs.c.id == job)).scalar_one_or_none()
    if shop is None:
        raise JobNotFoundError(job)
    return str(shop)


def as_json_lines(rows: Sequence[HistoryRow]) -> str:
    """Return a job's history, one event a line, each a JSON object."""
    return "".join(json.dumps(_plain(row), ensure_ascii=True) + "\n" for row in rows)


def _plain(row: HistoryRow) -> dict[str, object]:
    told = row.recorded
    return {
        "seq": told.seq,
        "job": told.job,
        "id": told.id,
        "who": {"id": told.who.id, "name": told.who.name, "role": told.who.role},
        "device_time": told.device_time.isoformat(),
        "server_time": told.server_time.isoformat(),
        "knowledge": told.knowledge,
        "taken_back": row.taken_back,
        "body": json.loads(canonical(told.body)),
        "hash": told.hash,
    }


def harmless(text: str) -> str:
    """Return a cell that no spreadsheet takes for a formula.

    Examples
    --------
    >>> harmless("=1+1"), harmless("left rear")
    ("'=1+1", 'left rear')
    """
    return (
        f"'{text}"
        if text.lstrip()[:1] in ("=", "+", "-", "@") or text[:1] in ("\t", "\r")
        else text
    )


def as_csv(rows: Sequence[HistoryRow]) -> str:
    """Return a job's history as CSV with a line of headings; every cell is quoted."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    for row in rows:
        writer.writerow([harmless(c) if isinstance(c, str) else c for c in _cells(row)])
    return out.getvalue()


def _cells(row: HistoryRow) -> list[str | int | float]:
    told = row.recorded
    said = _said(told)
    return [
        told.seq,
        told.server_time.isoformat(),
        told.device_time.isoformat(),
        told.who.name,
        told.who.role,
        told.body.kind,
        row.by if row.taken_back else "",
        *(
            said.get(key, "")
            for key in ("check", "place", "about", "at", "result", "value", "unit")
        ),
        said.get("words", ""),
        told.knowledge,
        told.hash,
        canonical(told.body),
    ]


#: Where a kind of event keeps what a person wrote.
_WORDS = (
    "complaint",
    "raw",
    "note",
    "words",
    "text",
    "caption",
    "because",
    "reason",
    "waiting_for",
    "outcome",
)


def _said(told: Recorded) -> dict[str, str | float]:
    """Return what an event says, by column."""
    body = json.loads(canonical(told.body))
    inner = {**body, **body["verdict"]} if body["kind"] == "verdict" else body
    if body["kind"] == "finding":
        seen = body["finding"]
        return {"about": seen["id"], "place": seen["place"] or "", "result": seen["state"]}
    said: dict[str, str | float] = {
        "check": inner.get("check") or "",
        "place": inner.get("place") or "",
        "at": inner.get("at") or "",
        "about": inner.get("cause") or body.get("gate") or body.get("event") or "",
        "result": str(inner.get("verdict") or body.get("answer") or ""),
        "words": next((str(body[key]) for key in _WORDS if body.get(key)), ""),
    }
    if body["kind"] == "gate-answered":
        said["about"] = body["finding"]
    reading = inner.get("reading")
    if reading:
        said |= {"value": reading["value"], "unit": reading["unit"]}
    return said
