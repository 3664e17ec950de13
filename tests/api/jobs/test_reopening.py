"""A gate that was closed opens again when what opened it is seen again, and for nothing less."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from api.jobs.answering import begin_answer
from api.store.events import GateOpened
from tests.api.web.shop import Shop, event, open_shop

GATE, KNOCK, LOOSE = "sg-wheel-separation", "sy-knock-wheel-speed", "rc-wheel-nuts-loose"
LOOKS = ("ck-hub-face-look", "ck-axle-nut", "ck-wheel-shake-12-6")
CORNERS = ("lf", "rf", "lr", "rr")


@pytest.fixture
def closed(tmp_path: Path) -> Iterator[tuple[Shop, str]]:
    """Return a shop with the engine, and a job whose gate was opened by a knock and closed."""
    with open_shop(tmp_path, begin=begin_answer) as shop:
        job = shop.as_role("technician").new_job()
        say(shop, job, knock())
        assert GATE in gates(shop, job)
        say(shop, job, *all_done(), role="senior")
        assert GATE not in gates(shop, job)
        yield shop, job


def knock(state: str = "present", **more: str) -> dict[str, Any]:
    """Return the body of the finding that opens the gate."""
    return {"kind": "finding", "finding": {"id": KNOCK, "state": state, **more}}


def all_done() -> list[dict[str, Any]]:
    """Return the bodies of the checks that close it, with nothing found."""
    done = [{"check": "ck-wheel-nut-torque"}]
    done += [{"check": check, "place": corner} for check in LOOKS for corner in CORNERS]
    return [{"kind": "verdict", "verdict": {**one, "verdict": "not-found"}} for one in done]


def say(
    shop: Shop, job: str, *bodies: dict[str, Any], role: str = "technician", id: str = ""
) -> None:
    """Write events into a job."""
    sent = [event(body, id=id) for body in bodies]
    answer = shop.as_role(role).post(f"/api/jobs/{job}/events", sent)
    assert answer.status_code == 200, answer.text


def gates(shop: Shop, job: str) -> set[str]:
    """Return the gates that are open for a reason."""
    rows = shop.as_role("technician").get(f"/api/jobs/{job}/answer").json()["gates"]
    return {row["id"] for row in rows if row["because"]}


def openings(shop: Shop, job: str) -> list[GateOpened]:
    """Return what was written down about the gate."""
    bodies = [row.body for row in shop.store.jobs.events("shop", job)]
    return [body for body in bodies if isinstance(body, GateOpened) and body.gate == GATE]


@pytest.mark.parametrize(
    "again",
    [
        knock(),
        knock("unknown"),
        {"kind": "gate-answered", "finding": KNOCK, "answer": "skipped"},
        {
            "kind": "verdict",
            "verdict": {
                "check": "ck-wheel-nut-look",
                "cause": LOOSE,
                "at": "lf",
                "verdict": "found",
            },
        },
    ],
    ids=["seen-again", "not-known", "not-asked", "found"],
)
def test_what_opened_it_seen_again_opens_it_again(
    closed: tuple[Shop, str], again: dict[str, Any]
) -> None:
    """The look at the wheel is older than the knock; what is not answered counts as yes."""
    shop, job = closed
    say(shop, job, again)

    assert GATE in gates(shop, job)


@pytest.mark.parametrize(
    "other",
    [
        knock("absent"),
        {"kind": "finding", "finding": {"id": "sy-lamp-abs", "state": "present"}},
        {"kind": "gate-answered", "finding": KNOCK, "answer": "no"},
        {"kind": "note", "text": "the knock is gone"},
    ],
    ids=["gone", "another-finding", "answered-no", "note"],
)
def test_nothing_else_opens_it_again(closed: tuple[Shop, str], other: dict[str, Any]) -> None:
    """A gate that opens for anything is overruled by everybody."""
    shop, job = closed
    before = len(openings(shop, job))
    say(shop, job, other)

    assert GATE not in gates(shop, job)
    assert len(openings(shop, job)) == before


def test_it_stays_open_when_the_second_statement_is_taken_back(closed: tuple[Shop, str]) -> None:
    """As the first time: a tap on undo is no look at the wheel. The torque closes it again."""
    shop, job = closed
    say(shop, job, knock(), id="the-second-knock-1")
    undone = shop.as_role("technician").post(
        f"/api/jobs/{job}/undo",
        {
            "id": "undo-of-the-second-1",
            "device_time": "2026-03-02T08:20:00Z",
            "event": "the-second-knock-1",
        },
    )
    assert undone.status_code == 200
    assert GATE in gates(shop, job)

    say(shop, job, *all_done(), role="senior")
    assert GATE not in gates(shop, job)


def test_a_statement_sent_twice_opens_it_once(closed: tuple[Shop, str]) -> None:
    """A tablet that did not hear the answer sends again."""
    shop, job = closed
    before = len(openings(shop, job))
    for _sending in range(2):
        say(shop, job, knock(), id="the-second-knock-1")

    assert len(openings(shop, job)) == before + 1


def test_seen_again_while_it_is_open_and_nothing_was_done_is_nothing_new(tmp_path: Path) -> None:
    """Said twice in one conversation is one knock."""
    with open_shop(tmp_path, begin=begin_answer) as shop:
        job = shop.as_role("technician").new_job()
        say(shop, job, knock())
        gates(shop, job)
        before = len(openings(shop, job))
        say(shop, job, knock(place="lf"))
        assert len(openings(shop, job)) == before


def test_a_reason_that_comes_after_the_look_is_not_closed_by_it(tmp_path: Path) -> None:
    """First every check with nothing found, then the customer tells of the knock."""
    with open_shop(tmp_path, begin=begin_answer) as shop:
        job = shop.as_role("technician").new_job()
        say(shop, job, *all_done(), role="senior")
        assert GATE not in gates(shop, job)
        say(shop, job, knock())
        assert GATE in gates(shop, job)
