"""A gate that was closed opens again when a chance crosses its threshold, and only then."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from api.jobs.answering import begin_answer
from api.jobs.opened import RISEN
from tests.api.jobs.test_reopening import GATE, all_done, gates, openings, say
from tests.api.web.shop import Shop, open_shop

CODE = {"kind": "code-read", "codes": [{"code": "C0051", "module": "abs", "layout": "current"}]}


def finding(id: str) -> dict[str, Any]:
    """Return the body of a finding that is present."""
    return {"kind": "finding", "finding": {"id": id, "state": "present"}}


#: Raises the chance of a loose wheel over the threshold; no trigger of the gate speaks of it.
KNOCKBACK = finding("sy-pedal-knockback")
#: Raises it as well: over the threshold with the former, even after the looks.
HUM = finding("sy-hum-left-load")
OVERRULED = {
    "kind": "gate-overruled",
    "gate": GATE,
    "reason": "wheel off yesterday",
    "instead": "tightened then",
}


@pytest.fixture
def open_(tmp_path: Path) -> Iterator[tuple[Shop, str]]:
    """Return a shop with the engine, and a job whose gate is open for a chance alone."""
    with open_shop(tmp_path, begin=begin_answer) as shop:
        job = shop.as_role("technician").new_job()
        say(shop, job, CODE)
        assert GATE not in gates(shop, job)
        say(shop, job, KNOCKBACK, id="the-knockback-of-the-pedal")
        assert GATE in gates(shop, job)
        assert len(openings(shop, job)) == 1
        yield shop, job


def take_back(shop: Shop, job: str, event: str) -> None:
    """Take a statement of the technician back."""
    sent = {"id": f"undo-of-{event}", "device_time": "2026-03-02T08:20:00Z", "event": event}
    undone = shop.as_role("technician").post(f"/api/jobs/{job}/undo", sent)
    assert undone.status_code == 200, undone.text


def test_a_chance_that_rises_after_the_closing_opens_it_again(open_: tuple[Shop, str]) -> None:
    """With the reason in words, written down once, however often the list is asked for."""
    shop, job = open_
    say(shop, job, *all_done(), role="senior")
    assert GATE not in gates(shop, job)
    say(shop, job, HUM)

    assert GATE in gates(shop, job)
    assert GATE in gates(shop, job)
    first, again = openings(shop, job)
    assert again.because == f"{first.because}{RISEN}"
    assert again.because.endswith("has risen since the gate was closed")


def test_it_is_not_opened_on_what_it_was_closed_on(open_: tuple[Shop, str]) -> None:
    """A senior technician opens the way knowing the chance; a chance that stays over is no news."""
    shop, job = open_
    say(shop, job, OVERRULED, role="senior")
    assert GATE not in gates(shop, job)
    say(shop, job, HUM)

    assert GATE not in gates(shop, job)
    assert len(openings(shop, job)) == 1


def test_after_it_was_under_it_opens_again_also_where_it_was_over_at_the_closing(
    open_: tuple[Shop, str],
) -> None:
    """Overruled, the reason taken back, and told once more: that is a new story."""
    shop, job = open_
    say(shop, job, OVERRULED, role="senior")
    gates(shop, job)
    take_back(shop, job, "the-knockback-of-the-pedal")
    assert GATE not in gates(shop, job)
    say(shop, job, KNOCKBACK)

    assert GATE in gates(shop, job)
    assert len(openings(shop, job)) == 2


def test_it_stays_open_when_what_raised_the_chance_is_taken_back(open_: tuple[Shop, str]) -> None:
    """A tap on undo is no look at the wheel; looking again closes it, and nothing opens it then."""
    shop, job = open_
    say(shop, job, *all_done(), role="senior")
    gates(shop, job)
    say(shop, job, HUM, id="the-hum-in-a-left-bend")
    gates(shop, job)
    take_back(shop, job, "the-hum-in-a-left-bend")
    assert GATE in gates(shop, job)

    say(shop, job, *all_done(), role="senior")
    assert GATE not in gates(shop, job)
    assert len(openings(shop, job)) == 2


def test_a_crossing_within_what_a_tablet_sends_at_once_is_seen(open_: tuple[Shop, str]) -> None:
    """No list was shown between the looks and the hum: the state at the closing is worked out."""
    shop, job = open_
    for body in all_done():
        say(shop, job, body, role="senior")
    say(shop, job, HUM)

    assert GATE in gates(shop, job)
    assert len(openings(shop, job)) == 2


def test_what_a_tablet_sends_at_once_and_was_over_at_the_closing_opens_nothing(
    open_: tuple[Shop, str],
) -> None:
    """The hum was told before the last look: the gate was closed on it."""
    shop, job = open_
    say(shop, job, HUM)
    gates(shop, job)
    say(shop, job, OVERRULED, role="senior")
    say(shop, job, finding("sy-vib-low"))

    assert GATE not in gates(shop, job)
    assert len(openings(shop, job)) == 1


def test_a_chance_that_rises_for_the_first_time_is_not_closed_by_older_looks(
    tmp_path: Path,
) -> None:
    """First every check with nothing found, then what makes a loose wheel likely."""
    with open_shop(tmp_path, begin=begin_answer) as shop:
        job = shop.as_role("technician").new_job()
        say(shop, job, CODE, *all_done(), role="senior")
        assert GATE not in gates(shop, job)
        say(shop, job, KNOCKBACK, HUM)

        assert GATE in gates(shop, job)
        (only,) = openings(shop, job)
        assert only.because.endswith(RISEN)
