"""The history of a job: every event, who, when, and a way to take each back.

The one idea: nothing is ever gone. What was taken back stays on the page, struck through, with
the name of whoever took it back, and any past answer can be shown again as it was.
"""

from __future__ import annotations

import asyncio
from itertools import groupby
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from api.accounts.session import current_person
from api.jobs.opened import PROGRAM
from api.pages.bay_view import bay_view
from api.pages.forms import stem_of
from api.pages.rendering import page
from api.pages.telling import told
from api.store.events import TakenBack
from api.store.fold import JobState
from api.store.people import Person
from graph.terms import Knowledge

__all__ = ["router", "rows_of"]

router = APIRouter(include_in_schema=False)


def rows_of(knowledge: Knowledge, state: JobState) -> list[dict[str, object]]:
    """Return one row for each event, the latest first."""
    by_id = {row.recorded.id: row.recorded for row in state.history}
    rows = []
    for row in reversed(state.history):
        made = row.recorded
        words = told(knowledge, made)
        if isinstance(made.body, TakenBack):
            aim = by_id.get(made.body.event)
            words = f"Taken back: {told(knowledge, aim)}" if aim else words
        rows.append(
            {
                "seq": made.seq,
                "words": words,
                "who": made.who.name,
                "role": "" if made.who.id == PROGRAM.id else made.who.role,
                "device_time": made.device_time,
                "server_time": made.server_time,
                "late": abs((made.server_time - made.device_time).total_seconds()) > 120,
                "knowledge": made.knowledge,
                "taken": row.taken_back,
                "by": row.by,
                "stem": stem_of(made.id),
                "fixed": made.seq == 1 or made.body.kind == "gate-opened",
            }
        )
    return rows


@router.get("/jobs/{job}/history")
async def history(
    request: Request, job: str, person: Annotated[Person, Depends(current_person)]
) -> Response:
    """Show everything that happened to a job."""
    store, desk = request.app.state.store, request.app.state.desk
    state = await asyncio.to_thread(store.jobs.state, person.shop, job)
    answer = await asyncio.to_thread(desk.now, state)
    view = bay_view(desk.knowledge, state, answer)
    rows = rows_of(desk.knowledge, state)
    groups = [list(group) for _stem, group in groupby(rows, lambda row: row["stem"])]
    return page(request, "history.html", state=state, view=view, groups=groups, here="job")
