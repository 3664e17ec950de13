"""The edge: headers, sizes, origins, names of hosts, request numbers, failures."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from structlog.testing import capture_logs

from api.answering.gating import GateRecord
from api.documents import Answer, Case
from api.edge.body import JSON_BYTES, PHOTO_BYTES
from api.store.errors import (
    BrokenRecordsError,
    RecordsBusyError,
    RecordsFullError,
    RecordsUnreachableError,
    StoreError,
)
from graph.terms import Knowledge
from tests.api.web.shop import WRITE_UP, Client, Shop, event, open_shop

PROBLEM = {"type", "title", "status", "detail", "instance", "request", "errors"}


def test_every_answer_carries_the_policy(shop: Shop) -> None:
    """Pages, documents, refusals and unknown addresses alike: no inline script, no other host."""
    owner = shop.as_role("owner")
    answers = [owner.get(path) for path in ("/livez", "/api/jobs", "/nothing", "/static/nothing")]

    for answer in answers:
        policy = answer.headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "unsafe-inline" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["x-request-id"]


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"origin": "http://localhost"}, 201),
        ({"sec-fetch-site": "same-origin"}, 201),
        ({"sec-fetch-site": "same-origin", "origin": "http://localhost"}, 201),
        ({"origin": "http://elsewhere.test"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": "http://localhost:81"}, 403),
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"sec-fetch-site": "none"}, 403),
        ({"sec-fetch-site": "cross-site", "origin": "http://localhost"}, 403),
        ({}, 403),
    ],
    ids=str,
)
def test_only_our_own_page_changes_anything(
    shop: Shop, headers: dict[str, str], status: int
) -> None:
    """A page elsewhere may send a form with the cookie of whoever is signed in here."""
    http = shop.as_role("technician").http

    answer = http.post(
        "/api/jobs",
        content=json.dumps(event(WRITE_UP)),
        headers={"content-type": "application/json", **headers},
    )

    assert answer.status_code == status
    assert len(shop.store.jobs.list("shop")) == (status == 201)


def test_a_service_on_loopback_answers_to_no_other_name(tmp_path: Path) -> None:
    """A name pointed at this machine by somebody else would be its own origin."""
    with open_shop(tmp_path, more=lambda: {"hosts": ("shop-pc",)}) as shop:
        client = shop.anybody()

        statuses = {
            host: client.get("/livez", headers={"host": host}).status_code
            for host in (
                "localhost:8000",
                "127.0.0.1",
                "[::1]:8000",
                "shop-pc:8000",
                "evil.test",
                "",
            )
        }

        assert statuses == {
            "localhost:8000": 200,
            "127.0.0.1": 200,
            "[::1]:8000": 200,
            "shop-pc:8000": 200,
            "evil.test": 421,
            "": 421,
        }


def test_a_large_body_is_refused_in_one_sentence(shop: Shop) -> None:
    """Before it is read where its length is stated, while it is read where it isn't."""
    technician = shop.as_role("technician")
    job = technician.new_job()

    def stream() -> Iterator[bytes]:
        for _ in range(3):
            yield b" " * (JSON_BYTES // 2)

    stated = technician.post("/api/jobs", b" " * (JSON_BYTES + 1))
    streamed = technician.http.post(
        "/api/jobs",
        content=stream(),
        headers={"content-type": "application/json", "origin": "http://localhost"},
    )
    photo = technician.send(
        "POST",
        f"/api/jobs/{job}/photos",
        files={"photo": ("p.jpg", b"\xff\xd8\xff" + b"0" * 20_000_000, "image/jpeg")},
        data={"id": "photo-event-00001", "device_time": "2026-03-02T08:15:00Z"},
    )

    for answer, limit in ((stated, JSON_BYTES), (streamed, JSON_BYTES), (photo, PHOTO_BYTES)):
        assert answer.status_code == 413
        assert f"larger than the {limit // 1_000_000} MB allowed here" in answer.json()["detail"]
    assert technician.get(f"/api/jobs/{job}").json()["version"] == 1


@pytest.mark.parametrize(
    ("content", "kind", "status"),
    [
        (b"{", "application/json", 400),
        (b"\xff\xfe", "application/json", 400),
        (b'"text"', "application/json", 422),
        (b"{}", "application/json", 422),
        (b"{}", "text/plain", 415),
        (b"a=b", "application/x-www-form-urlencoded", 415),
        (b"[" * 5000, "application/json", 400),
    ],
    ids=["cut off", "no text", "a text", "empty", "not marked", "a form", "nested"],
)
def test_every_refusal_has_one_shape(shop: Shop, content: bytes, kind: str, status: int) -> None:
    """A program that can read one problem can read all (RFC 9457)."""
    answer = shop.as_role("technician").post("/api/jobs", content, headers={"content-type": kind})

    told = answer.json()
    assert answer.status_code == told["status"] == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert set(told) == PROBLEM
    assert told["instance"] == "/api/jobs"
    assert told["request"] == answer.headers["x-request-id"]


def _broken(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
    """Fail in a way that nobody foresaw, quoting what the customer said."""
    raise RuntimeError(f"unforeseen: {case.complaint}")


def test_an_unforeseen_failure_says_nothing_of_what_was_inside(tmp_path: Path) -> None:
    """500 in the same shape, found in the log by its number; the words stay out of both."""
    with open_shop(tmp_path, compute=_broken) as shop, capture_logs() as lines:
        technician = shop.as_role("technician")
        job = technician.new_case(complaint="my secret complaint")

        answer = technician.get(f"/api/jobs/{job}/answer")

    told = answer.json()
    assert answer.status_code == 500
    assert set(told) == PROBLEM
    assert told["request"] in told["detail"]
    assert "secret" not in f"{told}{lines}"
    failed = [line for line in lines if line["status"] == 500]
    assert [line["request"] for line in failed] == [told["request"]]
    assert failed[0]["failure"].startswith("RuntimeError at ")


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (RecordsFullError, 507),
        (RecordsBusyError, 503),
        (RecordsUnreachableError, 503),
        (BrokenRecordsError, 503),
    ],
)
def test_trouble_with_the_records_is_told_in_its_own_words(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, error: type[StoreError], status: int
) -> None:
    """What is wrong, what is safe, what to do; a tablet keeps what was not acknowledged."""
    technician = shop.as_role("technician")
    job = technician.new_job()

    def refuse(*_arguments: object) -> None:
        raise error("a problem", safe="what was confirmed is kept", remedy="send it again")

    monkeypatch.setattr(shop.store.jobs, "append", refuse)
    answer = technician.post(
        f"/api/jobs/{job}/events", [event({"kind": "note", "text": "warm hub"})]
    )

    assert answer.status_code == status
    assert set(answer.json()) == PROBLEM
    assert answer.json()["detail"] == "a problem; what was confirmed is kept; send it again"


def test_the_log_holds_no_words_names_or_ids(shop: Shop) -> None:
    """A log is read by more people than the record."""
    with capture_logs() as lines:
        technician = shop.as_role("technician")
        job = technician.new_job(complaint="my secret complaint", ticket="plate AB-123")
        technician.get(f"/api/jobs/{job}")
        technician.post(f"/api/jobs/{job}/events", [{"id": "my secret id", "body": "my secret"}])
        technician.post("/api/session", {"name": "Test owner", "password": "my secret password"})

    told = json.dumps(lines, default=str)
    assert len(lines) == 4
    for word in ("secret", "AB-123", job, "Test owner", "Test technician"):
        assert word not in told
    assert {"request", "route", "method", "status", "ms"} <= set(lines[0])


def test_a_number_given_by_the_asker_is_kept(shop: Shop) -> None:
    """So that two programs can speak about one request; nonsense is not taken over."""
    client = shop.anybody()

    given = client.get("/livez", headers={"x-request-id": "from-the-proxy-1"})
    nonsense = client.get("/livez", headers={"x-request-id": 'a"b\\'})

    assert given.headers["x-request-id"] == "from-the-proxy-1"
    assert nonsense.headers["x-request-id"] not in ("", 'a"b\\')


SCRIPT = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>={{7*7}}"


def test_a_script_in_any_field_is_kept_as_it_is(shop: Shop) -> None:
    """What was typed is what is kept; escaping belongs where it is shown."""
    senior = shop.as_role("senior")
    job = senior.new_job(
        ticket=SCRIPT, complaint=SCRIPT, vehicle={"label": SCRIPT, "tyres": {SCRIPT: SCRIPT}}
    )
    bodies: list[dict[str, Any]] = [
        {"kind": "finding", "finding": {"id": "sy-lamp-abs", "state": "present"}},
        {"kind": "note", "text": SCRIPT},
        {"kind": "unmatched", "words": SCRIPT},
        {"kind": "waiting", "waiting_for": SCRIPT},
        {"kind": "gate-overruled", "gate": "sg-srs", "reason": SCRIPT, "instead": SCRIPT},
        {"kind": "code-read", "codes": [{"code": "C0051", "module": SCRIPT}], "raw": SCRIPT},
        {"kind": "closed", "outcome": SCRIPT},
        {"kind": "comeback", "words": SCRIPT},
    ]

    sent = senior.post(f"/api/jobs/{job}/events", [event(body) for body in bodies])

    assert sent.status_code == 200
    told = senior.get(f"/api/jobs/{job}").json()
    assert told["ticket"] == told["case"]["complaint"] == told["notes"][0] == SCRIPT
    assert senior.get("/api/jobs?show=all").headers["content-type"] == "application/json"
    assert senior.get(f"/api/jobs/{job}/answer").json()["complaint"] == SCRIPT


@pytest.mark.parametrize(
    "text", ["\u0000", "\x1b[2J", "line\nline", "x" * 201], ids=["nul", "escape", "lines", "long"]
)
def test_what_no_line_holds_is_refused(shop: Shop, text: str) -> None:
    """A ticket is one line; nothing in it steers a terminal or a printer."""
    made = shop.as_role("technician").post("/api/jobs", event({**WRITE_UP, "ticket": text}))

    assert made.status_code == 422
    assert made.json()["errors"][0]["where"] == "body.written-up.ticket"


def test_nothing_is_logged_by_other_loggers(shop: Shop, caplog: pytest.LogCaptureFixture) -> None:
    """Whatever the libraries say, none of it quotes a request."""
    with caplog.at_level(logging.DEBUG):
        shop.as_role("technician").new_job(complaint="my secret complaint")

    assert "secret" not in caplog.text


def test_a_client_is_one_person(shop: Shop) -> None:
    """The tests' own browsers do not share their cookies."""
    assert isinstance(shop.anybody(), Client)
    assert shop.anybody().get("/api/jobs").status_code == 401
