"""Role and route: the table is walked, route by route, role by role."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.routing import APIRoute

from api.accounts.permissions import ALL, OPEN, ROLES, TABLE, Row, look_up
from api.app import routes_of
from tests.api.web.shop import Client, Shop, open_shop

ASKERS = (None, *ROLES)
#: After these the walk needs another browser.
ENDS_A_SESSION = {("POST", "/sign-out"), ("DELETE", "/api/session")}
_FILLED = {"job": "no-such-job", "photo": "0" * 64, "term": "ck-dry-park", "name": "ca.pem"}


@pytest.fixture(scope="module")
def walked(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[Shop, dict[str | None, Client]]]:
    """Return a shop for the whole walk, with a browser for each role and for nobody."""
    with open_shop(Path(tmp_path_factory.mktemp("walk"))) as shop:
        yield shop, {None: shop.anybody(), **{role: shop.as_role(role) for role in ROLES}}


def filled(path: str) -> str:
    """Return a path with something in the place of its parameters."""
    return re.sub(r"\{(\w+)(?::\w+)?\}", lambda m: _FILLED.get(m[1], "nothing"), path)


def routes(shop: Shop) -> set[tuple[str, str]]:
    """Return method and path of every route of the application."""
    found = set()
    for route in routes_of(shop.app):
        path = str(getattr(route, "path", ""))
        if isinstance(route, APIRoute):
            found |= {(method, path) for method in route.methods or ()}
        else:
            found.add(("GET", f"{path}/{{path:path}}"))  # the folder of static files
    return found


def test_every_route_is_in_the_table(walked: tuple[Shop, dict[str | None, Client]]) -> None:
    """A route that nobody thought about must not be open."""
    table = {(row.method, row.path) for row in TABLE}

    assert routes(walked[0]) - table == set()


def test_every_row_of_the_table_is_a_route(walked: tuple[Shop, dict[str | None, Client]]) -> None:
    """A row without a route is a right that somebody may fill by accident."""
    table = {(row.method, row.path) for row in TABLE}

    assert table - routes(walked[0]) == set()


def test_no_row_hides_another() -> None:
    """The first row that fits counts; a later one for the same request would never be read."""
    assert [row for row in TABLE if look_up(row.method, filled(row.path)) is not row] == []


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row.method} {row.path}")
def test_a_role_gets_where_the_table_lets_it(
    walked: tuple[Shop, dict[str | None, Client]], row: Row
) -> None:
    """Every route, asked by nobody and by each role: let in exactly where the table says so."""
    shop, clients = walked
    for role in ASKERS:
        client = clients[role]
        if (row.method, row.path) in ENDS_A_SESSION:
            client = shop.as_role(role) if role else shop.anybody()
        answer = client.send(row.method, filled(row.path))
        refused = answer.status_code == 401 if role is None else _by_role(answer)

        allowed = row.who == OPEN or role in row.who
        assert refused != allowed or (allowed and _own_reason(row, answer)), (role, answer.text)


def _by_role(answer: object) -> bool:
    """Return whether an answer refuses the role, rather than what was sent."""
    return getattr(answer, "status_code", 0) == 403 and "may not do this" in getattr(
        answer, "text", ""
    )


def _own_reason(row: Row, answer: object) -> bool:
    """Return whether a route open to anybody refuses for a reason of its own."""
    return row.path in ("/api/session", "/sign-in") and getattr(answer, "status_code", 0) == 401


def test_the_walk_is_as_long_as_the_table() -> None:
    """Partner of the walk: nothing was left out, and each kind of right occurs."""
    assert len(TABLE) >= 50
    assert len({(row.method, row.path) for row in TABLE}) == len(TABLE)
    assert {row.who for row in TABLE} >= {OPEN, ALL, frozenset({"owner"})}
    assert all(row.who == OPEN or row.who <= ALL for row in TABLE)


def test_what_is_not_in_the_table_does_not_exist(shop: Shop) -> None:
    """Neither for anybody nor for the owner; a wrong method is told what is possible."""
    owner = shop.as_role("owner")

    assert owner.get("/api/nothing").status_code == 404
    wrong = owner.send("PUT", "/api/jobs")
    assert (wrong.status_code, wrong.headers["allow"]) == (405, "GET, POST")


def test_a_browser_is_sent_to_the_sign_in_page(shop: Shop) -> None:
    """A person without a session wants the way in, not a document for programs."""
    answer = shop.anybody().get("/jobs/abc", headers={"accept": "text/html"})

    assert answer.status_code == 303
    assert answer.headers["location"] == "/sign-in?next=/jobs/abc"


@pytest.mark.parametrize(
    ("role", "body", "status"),
    [
        ("trainee", {"kind": "note", "text": "looked at it"}, 200),
        (
            "trainee",
            {"kind": "verdict", "verdict": {"check": "ck-dry-park", "verdict": "found"}},
            200,
        ),
        ("trainee", {"kind": "gate-closed", "gate": "sg-wheel-separation"}, 403),
        ("trainee", {"kind": "closed", "outcome": "done"}, 403),
        ("technician", {"kind": "gate-closed", "gate": "sg-wheel-separation"}, 200),
        (
            "technician",
            {"kind": "gate-overruled", "gate": "sg-srs", "reason": "r", "instead": "i"},
            403,
        ),
        ("owner", {"kind": "gate-overruled", "gate": "sg-srs", "reason": "r", "instead": "i"}, 403),
        (
            "senior",
            {"kind": "gate-overruled", "gate": "sg-srs", "reason": "r", "instead": "i"},
            200,
        ),
        ("senior", {"kind": "gate-opened", "gate": "sg-srs", "because": "b", "level": "none"}, 403),
    ],
    ids=lambda value: value["kind"] if isinstance(value, dict) else str(value),
)
def test_what_a_role_may_write_into_a_job(
    shop: Shop, role: str, body: dict[str, object], status: int
) -> None:
    """A signature counts only where the role may sign; opening a gate by hand is nobody's."""
    from tests.api.web.shop import event

    job = shop.as_role("technician").new_job()

    answer = shop.as_role(role).post(f"/api/jobs/{job}/events", [event(body)])

    assert answer.status_code == status, answer.text
