"""Measures for a monitoring program."""

from __future__ import annotations

import hmac

from fastapi import APIRouter, Request
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest
from starlette.responses import Response

from api.problems import ProblemError
from api.routes.common import DeskDep, MeasuresDep, SettingsDep
from api.settings import is_loopback

__all__ = ["router"]

router = APIRouter(tags=["health"])


@router.get(
    "/metrics",
    response_class=Response,
    responses={200: {"content": {"text/plain": {}}, "description": "text for a monitor"}},
)
def metrics(
    request: Request, settings: SettingsDep, measures: MeasuresDep, desk: DeskDep
) -> Response:
    """Return the counters, to this machine or to whoever has the token."""
    token = settings.metrics_token.get_secret_value()
    given = request.headers.get("authorization", "").removeprefix("Bearer ")
    here = request.client is None or is_loopback(request.client.host)
    if not here and not (token and hmac.compare_digest(given.encode(), token.encode())):
        raise ProblemError(
            403, "measures are shown to this machine, or with the token of DRYPARK_METRICS_TOKEN"
        )
    measures.waiting.set(desk.waiting())
    measures.thinking.set(desk.thinks_ahead())
    return Response(generate_latest(measures.registry), media_type=CONTENT_TYPE_LATEST)
