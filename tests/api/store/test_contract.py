"""What records promise, on whatever database they lie."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from api.store import events as happened
from api.store.engine import Store, open_store
from api.store.errors import EventConflictError, EventRefusedError, JobNotFoundError
from tests.api.store.making import (
    ADA,
    KNOWLEDGE,
    OTHER_SHOP,
    SAM,
    SHOP,
    START,
    TIM,
    Clock,
    add,
    finding,
    new,
    note,
    open_job,
    undo,
    verdict,
    write_up,
)

_JPEG = b"\xff\xd8\xff\xe0 invented"


def test_what_is_appended_is_read_back_as_it_was(store: Store) -> None:
    """Order, person, both times, knowledge and every letter of the body."""
    job = open_job(store).job
    words = 'Grinds "a lot" \\ at 80 km/h: ½ Ω 车 \U0001f697'
    told = add(store, job, note(words), finding(), who=SAM)

    read = store.jobs.events(SHOP, job)

    assert read[1:] == told
    assert [event.seq for event in read] == [1, 2, 3]
    assert [event.position for event in read] == [1, 2, 3]
    assert read[1].body == note(words)
    assert (read[1].who, read[1].device_time, read[1].knowledge) == (SAM, START, KNOWLEDGE)
    assert read[1].server_time > START


def test_records_outlive_the_process(address: str) -> None:
    """Opened again they are the same."""
    first = open_store(address, clock=Clock())
    job = open_job(first).job
    add(first, job, verdict())
    before = first.jobs.state(SHOP, job)
    first.close()

    again = open_store(address, clock=Clock())
    state = again.jobs.state(SHOP, job)
    again.close()

    assert state == before


def test_an_event_sent_twice_is_one(store: Store) -> None:
    """A double tap, or a queue that does not know whether it got through."""
    job = open_job(store).job
    event = new(note())

    once = store.jobs.append(SHOP, job, ADA, [event], KNOWLEDGE)
    twice = store.jobs.append(SHOP, job, ADA, [event, event, new(finding())], KNOWLEDGE)

    assert twice[:2] == [*once, *once]
    assert store.jobs.summary(SHOP, job).version == 3


def test_a_job_opened_twice_is_one(store: Store) -> None:
    """The first tap of all may be a double one too."""
    first = new(write_up())

    opened = store.jobs.create(SHOP, ADA, first, KNOWLEDGE)
    again = store.jobs.create(SHOP, ADA, first, KNOWLEDGE)

    assert again == opened
    assert len(store.jobs.list(SHOP)) == 1


def test_an_id_with_another_body_is_refused(store: Store) -> None:
    """A forged or broken id must not overwrite, nor pass for recorded."""
    job = open_job(store).job
    event = new(note("first"))
    store.jobs.append(SHOP, job, ADA, [event], KNOWLEDGE)
    forged = event.model_copy(update={"body": note("second")})

    with pytest.raises(EventConflictError, match="stands for something else"):
        store.jobs.append(SHOP, job, ADA, [new(finding()), forged], KNOWLEDGE)
    with pytest.raises(EventConflictError, match="stands for something else"):
        store.jobs.append(SHOP, job, ADA, [new(note("a"), "same"), new(note("b"), "same")], "1")

    assert [e.body.kind for e in store.jobs.events(SHOP, job)] == ["written-up", "note"]


def test_an_event_replayed_into_another_job_is_refused(store: Store) -> None:
    """A recorded event belongs to the job that it was recorded in."""
    one, other = open_job(store).job, open_job(store, ticket="4712").job
    event = new(verdict())
    store.jobs.append(SHOP, one, ADA, [event], KNOWLEDGE)

    with pytest.raises(EventConflictError, match="stands for something else"):
        store.jobs.append(SHOP, other, ADA, [event], KNOWLEDGE)
    with pytest.raises(EventConflictError, match="stands for something else"):
        store.jobs.create(SHOP, ADA, event.model_copy(update={"body": write_up()}), KNOWLEDGE)

    assert store.jobs.summary(SHOP, other).version == 1


def test_a_write_up_appended_before_opens_no_second_job(store: Store) -> None:
    """The same id as a later event of a job is no opening of one."""
    job = open_job(store).job
    event = new(write_up("4713"))
    store.jobs.append(SHOP, job, ADA, [event], KNOWLEDGE)

    with pytest.raises(EventConflictError, match="stands for something else"):
        store.jobs.create(SHOP, ADA, event, KNOWLEDGE)


def test_a_job_begins_with_its_write_up(store: Store) -> None:
    """A job nobody can find on the board is no job."""
    with pytest.raises(EventRefusedError, match="opened with its write-up"):
        store.jobs.create(SHOP, ADA, new(note()), KNOWLEDGE)

    assert store.jobs.list(SHOP) == []


def test_another_shops_job_is_not_there(store: Store) -> None:
    """Not forbidden, which would tell that it exists: not found."""
    job = open_job(store).job
    event = store.jobs.events(SHOP, job)[0]
    calls: list[Callable[[], object]] = [
        lambda: store.jobs.events(OTHER_SHOP, job),
        lambda: store.jobs.state(OTHER_SHOP, job),
        lambda: store.jobs.summary(OTHER_SHOP, job),
        lambda: store.jobs.append(OTHER_SHOP, job, ADA, [new(note())], KNOWLEDGE),
        lambda: store.photos.put(OTHER_SHOP, job, _JPEG),
    ]

    for call in calls:
        with pytest.raises(JobNotFoundError, match="there is no job"):
            call()

    assert store.jobs.list(OTHER_SHOP) == []
    assert store.jobs.since(OTHER_SHOP, 0) == []
    assert store.jobs.events(SHOP, job) == [event]


def test_the_same_id_in_two_shops_is_two_events(store: Store) -> None:
    """Whether somebody else used an id is nobody's business."""
    event = new(write_up())

    one = store.jobs.create(SHOP, ADA, event, KNOWLEDGE)
    other = store.jobs.create(OTHER_SHOP, SAM, event, KNOWLEDGE)

    assert one.job != other.job


def test_a_refused_event_takes_the_whole_sending_with_it(store: Store) -> None:
    """All or nothing: half a sending would be out of order when it is repaired."""
    job = open_job(store).job
    bad = new(undo("event-that-is-not-there"))

    with pytest.raises(EventRefusedError, match="no event 'event-that-is-not-there'"):
        store.jobs.append(SHOP, job, ADA, [new(note()), bad], KNOWLEDGE)

    assert store.jobs.summary(SHOP, job).version == 1


def test_a_past_state_is_what_was_seen_then(store: Store) -> None:
    """Whatever came later, and whatever was taken back."""
    job = open_job(store).job
    (first,) = add(store, job, verdict("found"))
    then = store.jobs.state(SHOP, job)
    add(store, job, undo(first.id), verdict("not-found"), finding())

    assert store.jobs.state(SHOP, job, upto=2) == then
    assert store.jobs.state(SHOP, job).version == 5


def test_undo_and_redo_are_events(store: Store) -> None:
    """Nothing disappears from the history."""
    job = open_job(store).job
    (given,) = add(store, job, verdict())
    (taken,) = add(store, job, undo(given.id), who=SAM)
    without = store.jobs.state(SHOP, job)
    add(store, job, undo(taken.id))
    again = store.jobs.state(SHOP, job)

    assert without.case.verdicts == ()
    assert [row.by for row in without.history] == ["", SAM.name, ""]
    assert again.case.verdicts == (verdict().verdict,)
    assert len(again.history) == 4


def test_the_board_shows_what_the_events_say(store: Store) -> None:
    """Its columns are kept beside the events, and must never say otherwise."""
    job = open_job(store).job
    (wait,) = add(store, job, happened.Waiting(waiting_for="hub from the dealer"))
    waiting = store.jobs.summary(SHOP, job)
    add(store, job, undo(wait.id))
    add(store, job, happened.Closed(outcome="hub replaced"))
    closed = store.jobs.summary(SHOP, job)
    add(store, job, happened.Comeback(words="it hums again"))
    back = store.jobs.summary(SHOP, job)

    assert (waiting.ticket, waiting.label) == ("4711", "old van")
    assert (waiting.waiting_for, waiting.is_open) == ("hub from the dealer", True)
    assert (closed.waiting_for, closed.is_open) == ("", False)
    assert (back.is_open, back.comebacks, back.version) == (True, 1, 5)


def test_the_board_is_searched_by_words(store: Store) -> None:
    """All of the words, anywhere, whatever their case; signs of the database mean themselves."""
    hum = open_job(store).job
    other = store.jobs.create(SHOP, ADA, new(write_up("4712", "100% grinding_noise")), "1").job
    add(store, other, happened.Closed())

    def found(search: str, *, open_only: bool = False) -> set[str]:
        return {row.job for row in store.jobs.list(SHOP, open_only=open_only, search=search)}

    assert found("KERB 4711") == {hum}
    assert found("van") == {hum, other}
    assert found("van", open_only=True) == {hum}
    assert found("0%") == found("g_n") == {other}
    assert found("%") == {other}
    assert found("'; drop table jobs") == set()


def test_whoever_asks_on_misses_nothing(store: Store) -> None:
    """Two people at one job see each other's answers by asking on from a position."""
    job = open_job(store).job
    start = store.jobs.since(SHOP, 0)[-1].position
    add(store, job, note("one"))
    add(store, job, note("two"), who=SAM)

    news = store.jobs.since(SHOP, start)

    assert [event.who for event in news] == [ADA, SAM]
    assert store.jobs.since(SHOP, news[-1].position) == []
    assert len(store.jobs.since(SHOP, 0, most=2)) == 2


def test_two_people_at_once_lose_nothing(store: Store) -> None:
    """Six threads write to one job; every answer is kept, and each has a place of its own."""
    job = open_job(store).job
    sent: list[str] = []

    def work(number: int) -> None:
        for step in range(15):
            (told,) = add(store, job, note(f"{number}/{step}"), who=(ADA, SAM)[number % 2])
            sent.append(told.id)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    events = store.jobs.events(SHOP, job)
    assert len(sent) == 90
    assert {event.id for event in events[1:]} == set(sent)
    assert [event.seq for event in events] == list(range(1, 92))
    assert [event.position for event in events] == list(range(1, 92))


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE events SET body = '{}' WHERE seq = 1",
        "UPDATE answers SET document = document",
        "DELETE FROM events",
        "DELETE FROM answers",
    ],
)
def test_the_database_itself_refuses_to_change_what_happened(store: Store, statement: str) -> None:
    """Whoever comes past this program meets the same rule."""
    job = open_job(store).job
    store.answers.keep("a" * 64, "{}")

    with (
        pytest.raises(DBAPIError, match="are only ever added to"),
        store.database.writing() as connection,
    ):
        connection.execute(text(statement))

    assert store.jobs.state(SHOP, job).ticket == "4711"


def test_a_clock_that_was_put_back_turns_no_history_round(store: Store, clock: Clock) -> None:
    """Server times never fall, whatever the machine's clock does."""
    first = open_job(store)
    clock.now = START.replace(year=2020)
    (told,) = add(store, first.job, note())

    assert told.server_time == first.server_time


def test_a_job_does_not_grow_past_what_a_case_can_hold(store: Store) -> None:
    """The refusal comes when it is written, not when the job is next looked at."""
    job = open_job(store).job
    codes = [f"C{n:04X}" for n in range(0x1000, 0x1000 + 201)]
    read = [
        happened.CodeRead.model_validate_json(f'{{"codes": [{{"code": "{c}"}}]}}') for c in codes
    ]
    add(store, job, *read[:200])

    with pytest.raises(EventRefusedError, match="more codes than a case can hold"):
        add(store, job, read[200])

    assert len(store.jobs.state(SHOP, job).case.codes) == 200


def test_new_records_are_ready(store: Store) -> None:
    """Everything that is asked is well, and said in a sentence."""
    rows = {name: (well, told) for name, well, told in store.ready()}

    assert {"records", "writing"} <= set(rows)
    assert rows["records"] == (True, "they answer and have the right shape")
    assert rows["writing"][0]


def test_a_trainee_takes_back_only_what_is_the_trainees(store: Store) -> None:
    """A slip of one's own can be repaired, a technician's finding can't be wiped away."""
    job = open_job(store).job
    (own,) = add(store, job, finding("absent"), who=TIM)
    (given,) = add(store, job, verdict("found"))

    add(store, job, undo(own.id), who=TIM)
    with pytest.raises(EventRefusedError, match="only what the trainee wrote"):
        add(store, job, undo(given.id), who=TIM)
