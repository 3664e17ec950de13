"""The application: the parts put together.

The one idea: everything it needs is handed in (settings, store, desk), so that a test or a
second shop in the same process is one more call.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import APIRouter, FastAPI
from starlette.routing import BaseRoute
from starlette.staticfiles import StaticFiles

from api import pages
from api.accounts.gatekeeper import Gatekeeper
from api.accounts.limits import Tries
from api.edge.body import BodyLimit
from api.edge.headers import SafeHeaders
from api.edge.measures import Measures
from api.edge.outer import Outer
from api.jobs.desk import Desk
from api.jobs.explaining import Explainer
from api.pages.rendering import STATIC, make_templates
from api.problems import add_handlers
from api.routes import (
    answers,
    description,
    health,
    jobs,
    knowledge,
    metrics,
    people,
    photos,
    reading,
    session,
)
from api.settings import Settings
from api.store.engine import Store
from api.store.errors import (
    EventConflictError,
    EventRefusedError,
    JobNotFoundError,
    RecordsFullError,
    StoreError,
)
from api.store.people import PersonError
from api.store.photos import PhotoError

__all__ = ["create_app", "routes_of"]

_ROUTERS: tuple[APIRouter, ...] = (
    health.router,
    metrics.router,
    description.router,
    session.router,
    people.router,
    jobs.router,
    answers.router,
    photos.router,
    reading.router,
    knowledge.router,
)
#: Errors of the records and what they are over HTTP; the first that fits counts.
_STATUSES: dict[type[Exception], int] = {
    JobNotFoundError: 404,
    PhotoError: 404,
    EventConflictError: 409,
    EventRefusedError: 422,
    PersonError: 409,
    RecordsFullError: 507,
    StoreError: 503,
}


def create_app(
    settings: Settings, store: Store, desk: Desk, *, explainer: Explainer | None = None
) -> FastAPI:
    """Return the application.

    Parameters
    ----------
    settings : what it was started with
    store : the open records; whoever opened it closes it
    desk : works out the answers; closed when the application stops
    explainer : makes the accounts of single causes; None = by the engine
    """
    app = FastAPI(
        title="Drypark",
        summary="What to check before replacing the sensor that a trouble code names.",
        docs_url=None,  # the framework's own page loads its script from another machine
        redoc_url=None,
        openapi_url=None,
        lifespan=_lifespan,
    )
    app.state.settings, app.state.store, app.state.desk = settings, store, desk
    app.state.explainer = explainer or Explainer(desk)
    app.state.templates, app.state.tries, app.state.measures = make_templates(), Tries(), Measures()
    desk.observe = app.state.measures.answers.observe
    desk.met = lambda how: app.state.measures.lists.labels(how).inc()
    add_handlers(app, _STATUSES)
    for router in _ROUTERS:
        app.include_router(router)
    app.include_router(pages.router, include_in_schema=False)
    app.mount("/static", StaticFiles(directory=STATIC, check_dir=False), "static")
    # The last one added is the first one to see a request.
    app.add_middleware(BodyLimit)
    app.add_middleware(Gatekeeper, settings=settings, store=store)
    app.add_middleware(Outer, measures=app.state.measures)
    app.add_middleware(SafeHeaders)
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    """Close desk and explainer when the application stops."""
    yield
    app.state.explainer.close()
    app.state.desk.close()


def routes_of(app: FastAPI) -> list[BaseRoute]:
    """Return every route of the application, those of included routers too."""
    found: list[BaseRoute] = []
    waiting: list[BaseRoute] = list(app.routes)
    while waiting:
        route = waiting.pop(0)
        inner = getattr(route, "original_router", None)
        if inner is None:
            found.append(route)
        else:
            waiting[:0] = inner.routes
    return found
