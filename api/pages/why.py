"""Why: the reasoning about one cause as a picture, as a table, and in words.

The one idea: picture and table are the same rows. What can be said in numbers about a cause
(what each statement added, against whom, what would change it) stands here and nowhere else. The
answer brings that for its first cause; for any other one it is made when the page is asked for,
while the picture is read already.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from typing import Annotated, Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Depends, Request
from markupsafe import Markup
from starlette.responses import RedirectResponse, Response

from api.accounts.session import current_person
from api.answering.reasons import path_sentence
from api.documents import Answer
from api.jobs.answering import nothing_known
from api.jobs.desk import Desk
from api.jobs.explaining import Explainer
from api.labels import labels_in
from api.pages.forms import field
from api.pages.rendering import page
from api.picture.column import draw_column
from api.picture.paths import draw
from api.picture.reasoning import PathNode, Reasoning, reasoning
from api.problems import ProblemError
from api.store.fold import JobState
from api.store.people import Person
from graph.build import compile_case
from triage.errors import TriageError

__all__ = ["router", "table_rows"]

router = APIRouter(include_in_schema=False)
#: How long the page waits for the answer before it says that it is being made.
PATIENCE = 0.9


@router.get("/jobs/{job}/why")
async def why(
    request: Request,
    job: str,
    person: Annotated[Person, Depends(current_person)],
    cause: str = "",
    stopped: bool = False,
) -> Response:
    """Show why a cause stands where it stands; without a cause, the first one.

    Where the account of the list was left out it is made when it is asked for.
    """
    store, desk = request.app.state.store, request.app.state.desk
    state = await asyncio.to_thread(store.jobs.state, person.shop, job)
    known = not nothing_known(state.case)
    want = request.query_params.get("account") == "yes"
    answer = await _answer(desk, state, want=want) if known else None
    if answer is None or not answer.causes or answer.account != "made":
        waits = answer is None or answer.account == "being-made"
        told: dict[str, Any] = {
            "work": desk.progress(state) if known and waits else None,
            "listed": answer is not None and bool(answer.causes),
            "cause": cause,
        }
        return page(request, "why.html", state=state, answer=None, here="job", **told)
    chosen = cause or (answer.why.cause if answer.why else answer.causes[0].id)
    values = await asyncio.to_thread(_values, desk, state, answer, chosen)
    told = await _told(request.app.state.explainer, state, answer, chosen, idle=stopped)
    return page(
        request, "why.html", state=state, work=None, answer=answer, here="job", **values, **told
    )


@router.post("/jobs/{job}/why/stop")
async def stop(
    request: Request, job: str, person: Annotated[Person, Depends(current_person)]
) -> Response:
    """Stop making the account of a cause; picture and table are there all the same."""
    state = await asyncio.to_thread(request.app.state.store.jobs.state, person.shop, job)
    cause = field(await request.form(), "cause")
    await asyncio.to_thread(request.app.state.explainer.stop, state, cause)
    where = urlencode({"cause": cause, "stopped": "true"})
    return RedirectResponse(f"/jobs/{quote(job)}/why?{where}", 303)


async def _told(
    explainer: Explainer, state: JobState, answer: Answer, cause: str, *, idle: bool
) -> dict[str, Any]:
    """Return the account of a cause, or how far it is, or what stands in its way."""
    out: dict[str, Any] = {"account": None, "making": None, "trouble": "", "label": answer.label}
    if answer.why and answer.why.cause == cause and answer.why.incremental:
        return out | {"account": answer.why}
    if idle or not answer.exact:
        return out
    task = explainer.start(state, answer, cause)
    try:
        async with asyncio.timeout(PATIENCE):
            why = await asyncio.shield(asyncio.wrap_future(task.future))
    except TimeoutError:
        return out | {"making": task}
    except (ProblemError, TriageError) as error:
        return out | {"trouble": str(getattr(error, "detail", error))}
    words = labels_in(explainer.knowledge, (why.model_dump_json(),))
    whole = answer.model_copy(update={"labels": {**words, **answer.labels}})
    return out | {"account": why, "label": whole.label}


async def _answer(desk: Desk, state: JobState, *, want: bool) -> Answer | None:
    """Return the whole answer if it comes soon, else its list, else nothing."""
    answer = None
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(PATIENCE):
            work = await asyncio.to_thread(desk.start, state)
            answer = await asyncio.shield(asyncio.wrap_future(work.future))
            account = await asyncio.to_thread(desk.account, state, want=want)
            if answer.account != "made" and account is not None:
                answer = await asyncio.shield(asyncio.wrap_future(account.future))
    return desk.as_it_is(desk.key(state), answer, state) if answer else None


def _values(desk: Desk, state: JobState, answer: Answer, cause: str) -> dict[str, Any]:
    """Return what the page shows of one cause."""
    compiled = compile_case(desk.knowledge, state.case.to_input())
    node = compiled.network.nodes.get(cause)
    if node is None or node.kind != "cause":
        raise ProblemError(
            404, "this car has no such cause; the bay sheet lists those that it can have"
        )
    listed = [
        row.id if row.place == "vehicle" else f"{row.id}@{row.place}" for row in answer.checks
    ]
    made = reasoning(desk.knowledge, compiled, cause, listed=listed)
    href = _hrefs(state.job, made)
    row = next((one for one in answer.causes if one.id == cause), None)
    first = answer.why if answer.why and answer.why.cause == cause else None
    weights = sorted(row.evidence if row else (), key=lambda one: -abs(one.decibans))
    return {
        "cause": cause,
        "ways": [path_sentence(desk.knowledge, row) for row in made.ways],
        "name": made.label(cause),
        "row": row,
        "first": first,
        "weighed": any(one.evidence for one in answer.causes),
        "weights": [one for one in weights if abs(one.decibans) >= 0.05],
        "rows": table_rows(made),
        "left_out": made.left_out,
        "wide": Markup(draw(made, href, name="w")),  # noqa: S704 -- drawn and escaped here
        "tall": Markup(draw_column(made, href, name="t")),  # noqa: S704 -- the same
        "others": [one.id for one in answer.causes if one.id != cause][:6],
    }


def _hrefs(job: str, made: Reasoning) -> Callable[[PathNode], str]:
    """Return where each box leads: a check to its sheet, others to their row of the table."""
    rows = {line.target: k for k, line in reversed(list(enumerate(made.lines)))}
    rows |= {
        line.source: k
        for k, line in reversed(list(enumerate(made.lines)))
        if line.source not in rows
    }

    def href(node: PathNode) -> str:
        if node.kind == "check":
            check, place = node.id.partition("@")[0], node.place or "vehicle"
            return f"/jobs/{quote(job)}?check={quote(check)}&place={quote(place)}#next"
        return f"#row-{rows[node.id]}" if node.id in rows else "#table"

    return href


def table_rows(made: Reasoning) -> list[dict[str, Any]]:
    """Return the rows of the table: every link of the picture, in its order."""
    return [
        {
            "id": f"row-{k}",
            "source": made.label(line.source),
            "target": made.label(line.target),
            "strength": line.strength,
            "mechanism": line.mechanism,
            "origin": line.origin,
            "review": line.review,
            "on": line.on,
        }
        for k, line in enumerate(made.lines)
    ]
