"""The description of the interface, read without a connection, and true."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from api.accounts.permissions import OPEN, TABLE
from api.routes.common import BODIES
from tests.api.web.shop import Shop

METHODS = ("get", "post", "put", "patch", "delete")


def operations(shop: Shop) -> dict[tuple[str, str], dict[str, object]]:
    """Return every operation of the description."""
    made = shop.anybody().get("/openapi.json").json()
    return {
        (method.upper(), path): entry[method]
        for path, entry in made["paths"].items()
        for method in METHODS
        if method in entry
    }


def test_every_route_for_programs_is_described(shop: Shop) -> None:
    """And nothing else: pages are for people."""
    wanted = {
        (row.method, row.path)
        for row in TABLE
        if row.path.startswith("/api/") or row.path in ("/livez", "/readyz", "/metrics")
    } - {("GET", "/api/")}

    assert set(operations(shop)) == wanted
    assert len(wanted) >= 25


def test_every_problem_is_declared_in_its_one_shape(shop: Shop) -> None:
    """Whatever a program may be told is in the description, 400 for a body that can't be read."""
    for (method, path), told in operations(shop).items():
        answers = dict(told["responses"])  # type: ignore[call-overload]
        assert {"500", "503"} <= set(answers)
        assert ("400" in answers) == ("requestBody" in told), (method, path)
        row = next(row for row in TABLE if (row.method, row.path) == (method, path))
        if row.who != OPEN:
            assert {"401", "403"} <= set(answers)
        for status, answer in answers.items():
            if int(status) >= 400 and path != "/readyz":
                assert list(answer["content"]) == ["application/problem+json"], (path, status)


def test_every_body_is_described_by_the_model_that_reads_it(shop: Shop) -> None:
    """The sizes and patterns that refuse a body stand in the description."""
    found = operations(shop)
    made = shop.anybody().get("/openapi.json").text

    assert all("requestBody" in found[key] for key in BODIES)
    assert len(BODIES) >= 8
    assert "^[A-Za-z0-9_-]{16,64}$" in made


def test_every_reference_leads_somewhere(shop: Shop) -> None:
    """A description with holes can't be used by any program."""
    answer = shop.anybody().get("/openapi.json")
    schemas = answer.json()["components"]["schemas"]

    named = set(re.findall(r'"#/components/schemas/([^"]+)"', answer.text))

    assert named
    assert named <= set(schemas)


class _Reader(HTMLParser):
    """Collects what a page loads and what stands in its cells."""

    def __init__(self) -> None:
        super().__init__()
        self.loads: list[str] = []
        self.rows = 0
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take in a tag."""
        self.tags.add(tag)
        self.rows += tag == "tr"
        self.loads += [value or "" for name, value in attrs if name in ("src", "href")]


def test_the_page_needs_no_other_machine(shop: Shop) -> None:
    """A bay without a connection reads it all the same; the framework's own page would be blank."""
    reader = _Reader()
    reader.feed(shop.anybody().get("/api/").text)

    assert reader.rows == len(operations(shop)) + 1
    assert "script" not in reader.tags
    assert reader.loads
    assert all(re.match(r"/(?!/)|#", where) for where in reader.loads)


@pytest.mark.parametrize("path", ["/docs", "/redoc", "/docs/oauth2-redirect"])
def test_the_frameworks_own_pages_are_off(shop: Shop, path: str) -> None:
    """They load a script from another machine."""
    assert shop.as_role("owner").get(path).status_code == 404
