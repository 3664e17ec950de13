"""The invented shop: several stages, written through the door of any job, marked as invented."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from api.jobs.answering import at_once
from api.jobs.demo import SHOP, DemoClock, fill, shop_folder
from api.jobs.desk import Desk
from api.store.engine import Store, open_store
from api.store.fold import JobState
from tests.api.web.shop import known, quick_answer
from triage.errors import DocumentError


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, list[JobState]]]:
    """Return a store with the invented shop, and its jobs."""
    clock = DemoClock()
    store = open_store(Path(tmp_path_factory.mktemp("demo")) / "demo.sqlite", clock=clock)
    desk = Desk(known(), store, compute=at_once(quick_answer))
    jobs = [store.jobs.state(SHOP, job) for job in fill(store, desk, clock)]
    yield store, jobs
    desk.close()
    store.close()


def test_there_are_jobs_at_several_stages(filled: tuple[Store, list[JobState]]) -> None:
    """A board with one kind of job shows nothing."""
    _store, jobs = filled

    assert 4 <= len(jobs) <= 6
    assert any(not job.case.findings and not job.case.codes for job in jobs), "only written up"
    assert any(job.waiting_for for job in jobs), "waiting"
    assert any(job.case.verdicts for job in jobs), "being checked"
    assert any(job.comebacks for job in jobs), "came back"


def test_everything_says_that_it_is_invented(filled: tuple[Store, list[JobState]]) -> None:
    """Nobody may take the shop, a person or a ticket for a real one."""
    store, jobs = filled
    told = json.loads((shop_folder() / "shop.json").read_text(encoding="utf-8"))

    assert told["invented"] is True
    assert "invented" in SHOP
    assert all("invented" in person.name for person in store.people.list(SHOP))
    assert all("invented" in job.ticket for job in jobs)
    assert "All of it is invented" in (shop_folder() / "README.md").read_text(encoding="utf-8")


def test_nobody_in_it_has_a_password(filled: tuple[Store, list[JobState]]) -> None:
    """No secret in the repository: the demo can't be signed into from anywhere."""
    store, _jobs = filled
    people = store.people.list(SHOP)

    assert {person.role for person in people} == {"owner", "senior", "technician", "trainee"}
    assert not any(person.has_password or person.has_pin for person in people)


def test_the_times_lie_in_the_past_and_in_order(filled: tuple[Store, list[JobState]]) -> None:
    """The board looks the same on every day, and the clock goes right afterwards."""
    _store, jobs = filled
    now = datetime.now(UTC)

    for job in jobs:
        times = [row.recorded.server_time for row in job.history]
        assert times == sorted(times)
        assert now - timedelta(days=20) < times[0] <= times[-1] <= now


def test_an_installation_without_it_says_so(tmp_path: Path) -> None:
    """A missing folder is a sentence."""
    import api.jobs.demo as demo

    before = demo._TOP
    demo._TOP = tmp_path
    try:
        with pytest.raises(DocumentError, match="the invented shop is not here"):
            shop_folder()
    finally:
        demo._TOP = before
