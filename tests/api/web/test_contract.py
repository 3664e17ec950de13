"""The interface against its own description: requests made up by schemathesis, always the same.

Every operation is asked as the owner with made-up parameters and bodies, right ones and wrong
ones. No answer may be a 5xx, an undeclared status, an undeclared content type or a document
that its schema does not allow.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import requests
import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from schemathesis import GenerationMode
from schemathesis.checks import CHECKS

from api.routes.description import description
from tests.api.web.shop import Client, Shop, event, open_shop

#: Signing out would end the walk; /metrics answers text.
LEFT_OUT = {("DELETE", "/api/session"), ("POST", "/api/session"), ("DELETE", "/api/device")}
ASKED = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_schema_conformance",
    "response_headers_conformance",
)


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Shop, Client, str]]:
    """Return a shop with one job, and the owner's browser."""
    with open_shop(Path(tmp_path_factory.mktemp("contract"))) as shop:
        owner = shop.as_role("owner")
        yield shop, owner, owner.new_case()


def _operations() -> list[Any]:
    """Return the operations that are asked, in order."""
    from api.app import create_app
    from api.settings import Settings

    class _Nothing:
        """Stands for store and desk while the description is made."""

        observe = None

    made = description(create_app(Settings(), _Nothing(), _Nothing()))  # type: ignore[arg-type]
    schema = schemathesis.openapi.from_dict(json.loads(json.dumps(made)))
    found: list[Any] = [one.ok() for one in schema.get_all_operations()]  # type: ignore[union-attr]
    return [one for one in found if (one.method.upper(), one.path) not in LEFT_OUT]


OPERATIONS = _operations()
#: Every operation with right requests, and with wrong ones where anything can be wrong.
ASKED_FOR = [(one, GenerationMode.POSITIVE) for one in OPERATIONS] + [
    (one, GenerationMode.NEGATIVE)
    for one in OPERATIONS
    if one.definition.raw.get("parameters") or one.definition.raw.get("requestBody")
]


@pytest.mark.parametrize(
    ("operation", "mode"),
    ASKED_FOR,
    ids=[f"{mode.value} {one.method.upper()} {one.path}" for one, mode in ASKED_FOR],
)
def test_the_interface_is_as_described(
    opened: tuple[Shop, Client, str], operation: Any, mode: GenerationMode
) -> None:
    """Made-up requests, right or wrong by the description, get answers that it allows."""
    _shop, owner, job = opened

    @seed(20260302)
    @settings(
        max_examples=6,
        phases=(Phase.generate,),
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def ask(case: Any) -> None:
        if "job" in case.path_parameters:
            case.path_parameters = {**case.path_parameters, "job": job}
        answer = _sent(owner, case)
        case.validate_response(answer, checks=[_check(name) for name in ASKED])

    ask()


def _check(name: str) -> Any:
    return CHECKS.get_one(name)


def _sent(owner: Client, case: Any) -> Any:
    """Send a made-up request from our own page, in this process."""
    made = requests.Request(**case.as_transport_kwargs(base_url="http://localhost")).prepare()
    return owner.http.request(
        made.method or "GET",
        made.url or "",
        content=made.body or b"",
        headers={**made.headers, "origin": "http://localhost"},
        follow_redirects=False,
    )


def test_enough_was_asked() -> None:
    """Partner of the sweep."""
    assert len(OPERATIONS) >= 22
    assert len(ASKED_FOR) >= 40


def test_a_right_sending_is_among_what_is_asked(opened: tuple[Shop, Client, str]) -> None:
    """Made-up ids are hardly ever known to the knowledge; a known one gets through."""
    _shop, owner, job = opened
    body = {"kind": "finding", "finding": {"id": "sy-lamp-abs", "state": "present"}}

    assert owner.post(f"/api/jobs/{job}/events", [event(body)]).status_code == 200
