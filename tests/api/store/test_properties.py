"""What must hold of every record, whatever happened: drawn by hypothesis."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    multiple,
    rule,
)

from api.store import events as happened
from api.store.engine import open_store
from api.store.errors import EventConflictError, EventRefusedError
from api.store.events import Body, NewEvent, Recorded, Who, body_from, canonical
from api.store.fold import JobState, fold
from api.store.undo import taken_back
from api.store.verify import verify_records
from tests.api.store.making import (
    ADA,
    KNOWLEDGE,
    SAM,
    SHOP,
    TIM,
    Clock,
    finding,
    new,
    note,
    reading,
    record,
    undo,
    verdict,
    write_up,
)

PEOPLE = st.sampled_from([ADA, SAM, TIM])
PLACES = st.sampled_from(["lf", "rf", "lr", "rr", "front", "vehicle", None])
BODIES: st.SearchStrategy[Body] = st.one_of(
    st.builds(note, st.text("ab=½", min_size=1, max_size=5)),
    st.builds(finding, st.sampled_from(["present", "absent", "unknown"]), PLACES),
    st.builds(
        verdict,
        st.sampled_from(["found", "not-found", "cant-tell"]),
        cause=st.sampled_from(["rc-bearing-play", "rc-ball-joint-worn", None]),
        at=PLACES,
    ),
    st.builds(reading, st.sampled_from([0.0, 0.049, 0.05, 0.2]), st.sampled_from([0.0, 0.02])),
    st.builds(write_up, st.sampled_from(["4711", "4712"])),
    st.builds(happened.Waiting, waiting_for=st.sampled_from(["", "parts"])),
    st.just(happened.Closed(outcome="done")),
    st.just(happened.Comeback(words="again")),
    st.just(happened.GateAnswered(finding="sy-clunk", answer="yes")),
)


@st.composite
def records(draw: st.DrawFn) -> list[Recorded]:
    """Draw a record: a write-up, then anything, with earlier events taken back now and then."""
    steps: list[tuple[str, Who, Body]] = [("event-0", ADA, write_up())]
    for number in range(1, draw(st.integers(1, 14))):
        back = draw(st.integers(0, 3)) == 0 and number > 1
        body = undo(f"event-{draw(st.integers(1, number - 1)):0>16}") if back else draw(BODIES)
        steps.append((f"event-{number:0>16}", draw(PEOPLE), body))
    return record(*steps)


def shown(state: JobState) -> JobState:
    """Return what a state says of the car and the job, without how it came to be."""
    return replace(state, version=0, last=state.opened, history=())


def with_more(told: list[Recorded], *bodies: Body) -> list[Recorded]:
    """Return a record that goes on."""
    steps = [(event.id, event.who, event.body) for event in told]
    for body in bodies:
        steps.append((f"event-{len(steps):0>16}", SAM, body))
    return record(*steps)


@given(records())
def test_a_body_reads_as_it_was_written(told: list[Recorded]) -> None:
    """The text that is kept and hashed holds everything, and is the only one of its body."""
    for event in told:
        text = canonical(event.body)

        assert body_from(text) == event.body
        assert canonical(body_from(text)) == text


@given(records(), st.data())
def test_a_past_state_does_not_know_what_came_later(
    told: list[Recorded], data: st.DataObject
) -> None:
    """Read up to an event it is what the shorter record gives."""
    upto = data.draw(st.integers(1, len(told)))

    assert fold("job", SHOP, told, upto) == fold("job", SHOP, told[:upto])


@given(records())
def test_the_same_record_gives_the_same_state(told: list[Recorded]) -> None:
    """No clock, no chance, nothing left over from the last time."""
    before = list(told)

    assert fold("job", SHOP, told) == fold("job", SHOP, tuple(told))
    assert told == before


@given(records(), BODIES)
def test_undo_leaves_what_was_there_before(told: list[Recorded], body: Body) -> None:
    """Whatever the event was."""
    done = with_more(told, body)
    undone = with_more(done, undo(done[-1].id))

    assert shown(fold("job", SHOP, undone)) == shown(fold("job", SHOP, told))


@given(records(), BODIES)
def test_redo_leaves_what_was_there_before_undo(told: list[Recorded], body: Body) -> None:
    """Undo and redo together are nothing; undone twice, one redo is enough."""
    done = with_more(told, body)
    undone = with_more(done, undo(done[-1].id))
    redone = with_more(undone, undo(undone[-1].id))
    twice = with_more(undone, undo(done[-1].id))
    back = with_more(twice, undo(twice[-1].id))

    assert shown(fold("job", SHOP, redone)) == shown(fold("job", SHOP, done))
    assert shown(fold("job", SHOP, back)) == shown(fold("job", SHOP, done))


@given(records())
def test_taken_back_events_might_as_well_not_be_there(told: list[Recorded]) -> None:
    """The state is that of the events that count, in their order."""
    gone = taken_back(told)
    left = [e for e in told if e.id not in gone and e.body.kind != "taken-back"]

    assert left[0].id == "event-0"
    assert shown(fold("job", SHOP, told)) == shown(fold("job", SHOP, left))


class Shop(RuleBasedStateMachine):
    """Two people at one job, sending, sending again, forging and taking back.

    The model beside it is a plain list: what was acknowledged, in that order.
    """

    sent = Bundle("sent")

    @initialize(target=sent)
    def open(self) -> NewEvent:
        """Open the job."""
        self.folder = tempfile.TemporaryDirectory(prefix="drypark-shop-")
        self.store = open_store(Path(self.folder.name) / "shop.sqlite3", clock=Clock())
        first = new(write_up())
        self.model = [self.store.jobs.create(SHOP, ADA, first, KNOWLEDGE)]
        self.job = self.model[0].job
        return first

    def send(self, who: Who, *events: NewEvent) -> list[Recorded]:
        """Send events as a person."""
        return self.store.jobs.append(SHOP, self.job, who, events, KNOWLEDGE)

    @rule(target=sent, who=PEOPLE, bodies=st.lists(BODIES, min_size=1, max_size=3))
    def work(self, who: Who, bodies: list[Body]) -> object:
        """Something is done; what is acknowledged is expected to stay."""
        events = [new(body) for body in bodies]
        self.model += self.send(who, *events)
        return multiple(*events)

    @rule(event=sent, who=PEOPLE)
    def send_again(self, event: NewEvent, who: Who) -> None:
        """Send again what was sent, as a queue does that lost the answer."""
        (told,) = self.send(who, event)

        assert told in self.model

    @rule(event=sent)
    def forge(self, event: NewEvent) -> None:
        """Somebody sends another body under a known id."""
        forged = event.model_copy(update={"body": note("forged, longer than any that is drawn")})
        try:
            self.send(SAM, forged)
        except EventConflictError:
            return
        raise AssertionError("a forged body was recorded")

    @rule(target=sent, event=sent, who=PEOPLE)
    def take_back(self, event: NewEvent, who: Who) -> object:
        """Undo or redo; what is refused leaves nothing behind."""
        undoing = new(undo(event.id))
        try:
            self.model += self.send(who, undoing)
        except EventRefusedError:
            return multiple()
        return undoing

    @invariant()
    def nothing_is_lost(self) -> None:
        """Find in the record the list of what was acknowledged, and on the board its state."""
        events = self.store.jobs.events(SHOP, self.job)
        state = fold(self.job, SHOP, self.model)

        assert events == self.model
        assert self.store.jobs.state(SHOP, self.job) == state
        assert self.store.jobs.summary(SHOP, self.job).version == state.version

    def teardown(self) -> None:
        """Prove the whole record, and throw it away."""
        with self.store.database.reading() as connection:
            assert verify_records(connection).problems == ()
        self.store.close()
        self.folder.cleanup()


Shop.TestCase.settings = settings(
    max_examples=15, stateful_step_count=15, deadline=None, derandomize=True, database=None
)
TestShop = Shop.TestCase


def test_the_machine_is_collected() -> None:
    """Partner of the machine: hypothesis makes a test case of it under this name."""
    assert callable(TestShop.runTest)
