"""Jobs over HTTP: opened, written into, read, taken back."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.api.web.shop import WRITE_UP, Shop, event, open_shop

NOTE = {"kind": "note", "text": "left rear hub warm"}


def test_a_job_is_opened_and_read_again(shop: Shop) -> None:
    """The way of every job."""
    technician = shop.as_role("technician")

    job = technician.new_job()
    found = technician.get(f"/api/jobs/{job}")

    assert found.headers["etag"] == '"1"'
    assert found.json()["case"]["complaint"] == "the light is on"
    assert [row["job"] for row in technician.get("/api/jobs").json()["jobs"]] == [job]


def test_the_same_event_sent_twice_is_one_event(shop: Shop) -> None:
    """A network that died after the server wrote must not write twice."""
    technician = shop.as_role("technician")
    job, note = technician.new_job(), event(NOTE)

    first = technician.post(f"/api/jobs/{job}/events", [note])
    second = technician.post(f"/api/jobs/{job}/events", [note])

    assert first.status_code == second.status_code == 200
    assert first.json() == second.json()
    assert technician.get(f"/api/jobs/{job}").json()["version"] == 2


def test_the_same_write_up_sent_twice_opens_one_job(shop: Shop) -> None:
    """A double tap on *new job* is one job."""
    technician, first = shop.as_role("technician"), event(WRITE_UP)

    made = [technician.post("/api/jobs", first).json()["job"] for _ in range(2)]

    assert made[0] == made[1]
    assert len(technician.get("/api/jobs").json()["jobs"]) == 1


def test_an_id_with_another_body_is_refused(shop: Shop) -> None:
    """A forged repetition must not pass for the first one."""
    technician = shop.as_role("technician")
    job, note = technician.new_job(), event(NOTE)
    technician.post(f"/api/jobs/{job}/events", [note])

    forged = technician.post(
        f"/api/jobs/{job}/events", [{**note, "body": {"kind": "note", "text": "another"}}]
    )

    assert forged.status_code == 409
    assert "stands for something else" in forged.json()["detail"]
    assert technician.get(f"/api/jobs/{job}").json()["notes"] == ["left rear hub warm"]


def test_an_id_of_another_job_is_refused(shop: Shop) -> None:
    """An event belongs to the job that it was first written into."""
    technician, note = shop.as_role("technician"), event(NOTE)
    one, other = technician.new_job(), technician.new_job()
    technician.post(f"/api/jobs/{one}/events", [note])

    assert technician.post(f"/api/jobs/{other}/events", [note]).status_code == 409
    assert technician.get(f"/api/jobs/{other}").json()["version"] == 1


def test_a_sending_is_written_whole_or_not_at_all(shop: Shop) -> None:
    """Half a sending can't be sent again."""
    technician = shop.as_role("technician")
    job = technician.new_job()
    bad = event({"kind": "finding", "finding": {"id": "sy-nonsense", "state": "present"}})

    refused = technician.post(f"/api/jobs/{job}/events", [event(NOTE), bad])

    assert refused.status_code == 422
    assert "unknown finding 'sy-nonsense'" in refused.json()["errors"][0]["detail"]
    assert technician.get(f"/api/jobs/{job}").json()["version"] == 1


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"kind": "verdict", "verdict": {"check": "ck-none", "verdict": "found"}}, "unknown check"),
        ({"kind": "gate-closed", "gate": "sg-none"}, "unknown gate"),
        ({"kind": "gate-answered", "finding": "sy-none", "answer": "no"}, "unknown finding"),
        ({"kind": "intake-done", "check": "ck-dry-park"}, "no intake step"),
        ({"kind": "closed", "causes": ["rc-none@lf"]}, "unknown cause"),
        ({"kind": "written-up", "context": ["cx-none"]}, "unknown context"),
        (
            {"kind": "finding", "finding": {"id": "sy-lamp-abs", "place": "lf", "state": "maybe"}},
            "not as described",
        ),
    ],
)
def test_what_the_knowledge_does_not_know_is_refused(
    shop: Shop, body: dict[str, object], words: str
) -> None:
    """A wrong id in the record would make every later answer wrong."""
    technician = shop.as_role("technician")
    job = technician.new_job()

    refused = technician.post(f"/api/jobs/{job}/events", [event(body)])

    told = refused.json()
    assert refused.status_code == 422
    assert words in f"{told['type'].replace('-', ' ')} {told['errors']}"


def test_another_shops_job_does_not_exist(tmp_path: Path) -> None:
    """Whoever guesses an id of another shop is told what anybody is told about nonsense."""
    with open_shop(tmp_path) as ours:
        job = ours.as_role("technician").new_job()
        stranger = ours.store.people.add("other-shop", "Stranger", "owner")
        client = ours.anybody()
        client.http.cookies.set("drypark-person", ours.store.sessions.create(stranger))

        answers = [
            client.get(f"/api/jobs/{job}"),
            client.get(f"/api/jobs/{job}/events"),
            client.get(f"/api/jobs/{job}/answer"),
            client.get(f"/api/jobs/{job}/progress"),
            client.send("DELETE", f"/api/jobs/{job}/progress"),
            client.post(f"/api/jobs/{job}/events", [event(NOTE)]),
            client.post(
                f"/api/jobs/{job}/undo", {"id": "u" * 16, "device_time": "2026-01-01T00:00:00Z"}
            ),
            client.get(f"/api/jobs/{job}/photos/{'0' * 64}"),
        ]
        nonsense = client.get("/api/jobs/nonsense")

        assert [answer.status_code for answer in answers] == [404] * 8
        assert answers[0].json()["detail"].replace(job, "nonsense") == nonsense.json()["detail"]
        assert client.get("/api/jobs?show=all").json()["jobs"] == []


def test_an_unchanged_job_is_not_sent_again(shop: Shop) -> None:
    """A tablet on bad wireless asks often."""
    technician = shop.as_role("technician")
    job = technician.new_job()

    same = technician.get(f"/api/jobs/{job}", headers={"if-none-match": 'W/"1"'})
    changed = technician.get(f"/api/jobs/{job}", headers={"if-none-match": '"0"'})

    assert (same.status_code, same.content) == (304, b"")
    assert changed.status_code == 200


def test_a_writer_may_insist_on_what_was_seen(shop: Shop) -> None:
    """If-Match: nothing is written over what the writer has not seen."""
    technician = shop.as_role("technician")
    job = technician.new_job()
    technician.post(f"/api/jobs/{job}/events", [event(NOTE)])

    late = technician.post(f"/api/jobs/{job}/events", [event(NOTE)], headers={"if-match": '"1"'})
    seen = technician.post(f"/api/jobs/{job}/events", [event(NOTE)], headers={"if-match": '"2"'})

    assert (late.status_code, seen.status_code) == (412, 200)
    assert technician.get(f"/api/jobs/{job}").json()["version"] == 3


def test_undo_without_a_name_needs_the_version(shop: Shop) -> None:
    """Which one is the last is another matter once somebody has written since."""
    technician = shop.as_role("technician")
    job = technician.new_job()
    technician.post(f"/api/jobs/{job}/events", [event(NOTE)])
    undo = {"id": "undo-of-the-last-1", "device_time": "2026-03-02T08:16:00Z"}

    blind = technician.post(f"/api/jobs/{job}/undo", undo)
    seen = technician.post(f"/api/jobs/{job}/undo", undo, headers={"if-match": '"2"'})
    again = technician.post(f"/api/jobs/{job}/undo", undo)

    assert (blind.status_code, seen.status_code, again.status_code) == (428, 200, 200)
    assert technician.get(f"/api/jobs/{job}").json()["notes"] == []
    assert technician.get(f"/api/jobs/{job}").json()["version"] == 3


def test_undo_leaves_what_somebody_else_wrote(shop: Shop) -> None:
    """Two people on one job: a tap on undo is about one's own tap."""
    technician, senior = shop.as_role("technician"), shop.as_role("senior")
    job = technician.new_job()
    technician.post(f"/api/jobs/{job}/events", [event(NOTE)])
    senior.post(f"/api/jobs/{job}/events", [event({"kind": "note", "text": "the senior's"})])

    technician.post(
        f"/api/jobs/{job}/undo",
        {"id": "undo-of-my-own-one", "device_time": "2026-03-02T08:16:00Z"},
        headers={"if-match": '"3"'},
    )

    assert technician.get(f"/api/jobs/{job}").json()["notes"] == ["the senior's"]


def test_two_people_at_once_lose_nothing(shop: Shop) -> None:
    """Answers given at the same moment all stand, each once."""
    clients = [shop.as_role("technician"), shop.as_role("senior")]
    job = clients[0].new_job()

    def note(number: int) -> int:
        body = event({"kind": "note", "text": f"number {number}"})
        status: int = clients[number % 2].post(f"/api/jobs/{job}/events", [body]).status_code
        return status

    with ThreadPoolExecutor(4) as pool:
        statuses = list(pool.map(note, range(20)))

    found = clients[0].get(f"/api/jobs/{job}").json()
    assert statuses == [200] * 20
    assert sorted(found["notes"]) == sorted(f"number {n}" for n in range(20))
    assert found["version"] == 21


def test_a_past_state_can_be_read(shop: Shop) -> None:
    """What was known then, not what is known now."""
    technician = shop.as_role("technician")
    job = technician.new_job()
    technician.post(f"/api/jobs/{job}/events", [event(NOTE)])

    assert technician.get(f"/api/jobs/{job}?upto=1").json()["notes"] == []
    assert technician.get(f"/api/jobs/{job}?upto=0").status_code == 422
    rows = technician.get(f"/api/jobs/{job}/events?after=1").json()["events"]
    assert [row["body"]["kind"] for row in rows] == ["note"]
