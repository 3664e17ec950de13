"""What a job looks like after its events."""

from __future__ import annotations

from typing import Any

import pytest

from api.answering.closing import house_of
from api.documents.case import CaseCode
from api.store import events as happened
from api.store.events import Body, Who
from api.store.fold import JobState, fold
from graph.load import load_knowledge
from tests.api.store.making import (
    ADA,
    SAM,
    SHOP,
    START,
    TIM,
    finding,
    note,
    reading,
    record,
    undo,
    verdict,
    write_up,
)
from triage.errors import ParameterError
from triage.gate_closing import (
    Answered,
    Looked,
    Opened,
    Overruled,
    Person,
    Signed,
    standing_gates,
)
from triage.gates import Situation

OWNER = Who("olga", "Olga Example", "owner")


def after(*bodies: Body, who: Who = ADA) -> JobState:
    """Return the state of a job after its write-up and these."""
    steps = [(f"event-{n:0>12}", who, body) for n, body in enumerate((write_up(), *bodies), 1)]
    return fold("job", SHOP, record(*steps))


def read(code: str, **fields: Any) -> happened.CodeRead:
    """Return a code that was read."""
    return happened.CodeRead(codes=(CaseCode(code=code, **fields),))


def test_a_later_write_up_replaces_the_earlier_one() -> None:
    """All of it: what was deleted on the form must not stay behind it."""
    state = after(happened.WrittenUp(ticket="4712"))

    assert state.ticket == "4712"
    assert (state.case.complaint, state.case.context) == ("", ())
    assert state.case.vehicle.label == ""


def test_a_code_read_again_replaces_itself() -> None:
    """Of one module; the failure type may stand in the code or beside it."""
    state = after(
        read("C0051", module="abs"),
        read("C0051-64", module="abs", status="28"),
        read("C0051", module="steering"),
        read("c0051", module="abs", failure_type="64", status="2F"),
    )

    assert [(code.module, code.status) for code in state.case.codes] == [
        ("steering", ""),
        ("abs", "2F"),
    ]


def test_two_failure_types_of_one_code_are_two_codes() -> None:
    """A module stores them apart, so neither may be lost (ISO 15031-6 keeps the type in a byte)."""
    state = after(read("C0051-64"), read("C0051-2F"))

    assert [code.code for code in state.case.codes] == ["C0051-64", "C0051-2F"]


def test_the_last_word_on_a_finding_counts() -> None:
    """At each place by itself."""
    state = after(finding("present", "lr"), finding("absent", "rr"), finding("unknown", "lr"))

    assert [(row.place, row.state) for row in state.case.findings] == [
        ("rr", "absent"),
        ("lr", "unknown"),
    ]


def test_the_last_word_on_a_check_counts() -> None:
    """About each thing at each place by itself."""
    state = after(verdict("found"), verdict("not-found", at="rr"), verdict("cant-tell"))

    assert [(row.at, row.verdict) for row in state.case.verdicts] == [
        ("rr", "not-found"),
        ("lr", "cant-tell"),
    ]


@pytest.mark.parametrize(
    ("value", "uncertainty", "word", "at_gate"),
    [
        (0.06, 0.001, "found", "found"),
        (0.05, 0.0, "not-found", "not-found"),
        (0.049, 0.02, "not-found", "cant-tell"),
        (0.01, 0.02, "not-found", "not-found"),
    ],
)
def test_a_reading_speaks_by_its_limit(
    value: float, uncertainty: float, word: str, at_gate: str
) -> None:
    """On the limit is within it; too near to be sure closes no gate (JCGM 106:2012, guard band)."""
    state = after(reading(value, uncertainty, cause=None))
    (look,) = state.record.events

    assert state.case.verdicts[0].verdict == word
    assert isinstance(look, Looked)
    assert look.result == at_gate


def test_what_a_gate_is_told_stands_in_the_order_of_the_record() -> None:
    """With names, and an owner with a technician's say."""
    state = after(
        happened.GateOpened(gate="sg-a", because="hums", level="do-not-drive", corners=("lr",)),
        happened.GateAnswered(finding="sy-clunk", answer="skipped", corners=("lf",)),
        verdict("found"),
        happened.GateClosed(gate="sg-a"),
        happened.GateOverruled(gate="sg-a", reason="towed", instead="trailer"),
        who=OWNER,
    )
    olga = Person("Olga Example", "technician")

    assert state.record.events == (
        Opened("sg-a", "hums", "do-not-drive", frozenset({"lr"})),
        Answered("sy-clunk", "skipped", frozenset({"lf"})),
        Looked("ck-wheel-shake-12-6", "lr", "found", olga, ("rc-bearing-play",)),
        Signed("sg-a", olga),
        Overruled("sg-a", olga, "towed", "trailer", state.last.isoformat()),
    )


def looks(*bodies: Body) -> list[tuple[str, str]]:
    """Return what a gate is told: place and outcome of each look."""
    events = after(*bodies).record.events
    return [(event.place, event.result) for event in events if isinstance(event, Looked)]


def test_a_word_on_one_thing_is_none_on_the_check() -> None:
    """The hub is tight; whether the ball joint is, nobody has said, and the gate stays open."""
    assert looks(verdict("not-found", cause="rc-bearing-play", at="lf")) == []
    assert looks(reading(0.01)) == []


def test_such_a_word_closes_no_gate_of_the_knowledge() -> None:
    """Hub and inner tie rod are tight, and the car must still not be driven: joints unsaid."""
    knowledge = load_knowledge()
    opened = happened.GateOpened(
        gate="sg-joint-separation", because="knocks", level="do-not-drive", corners=("lf",)
    )
    single = (
        verdict("not-found", check="ck-wheel-shake-12-6", cause="rc-bearing-play", at="lf"),
        verdict("not-found", check="ck-dry-park", cause="rc-inner-tie-rod-worn", at="lf"),
    )
    whole = (
        verdict("not-found", check="ck-wheel-shake-12-6", cause=None, at="lf"),
        verdict("not-found", check="ck-dry-park", cause=None, at="lf"),
    )

    def standing(*bodies: Body) -> int:
        events = after(opened, *bodies, who=SAM).record.events
        gate = knowledge.gates["sg-joint-separation"]
        return len(standing_gates([gate], Situation(), events, house_of(knowledge)))

    assert standing(*single) == 1
    assert standing(*whole) == 0


def test_nothing_found_of_one_thing_hides_no_other() -> None:
    """A hub without play leaves the ball joint's find standing at that corner."""
    assert looks(
        verdict("not-found", cause=None, at="front"),
        verdict("found", cause="rc-ball-joint-worn", at="lf"),
        verdict("not-found", cause="rc-bearing-play", at="front"),
    ) == [("front", "not-found"), ("lf", "found"), ("rf", "not-found")]


def test_a_thing_looked_at_again_counts_again() -> None:
    """After the repair the same thing is looked at, and with the rest said the corner is free."""
    assert looks(
        verdict("not-found", cause=None, at="lf"),
        verdict("found", cause="rc-ball-joint-worn", at="lf"),
        verdict("cant-tell", cause="rc-bearing-play", at="lf"),
        verdict("not-found", cause="rc-ball-joint-worn", at="lf"),
        verdict("not-found", cause="rc-bearing-play", at="lf"),
    ) == [("lf", "not-found"), ("lf", "found"), ("lf", "cant-tell"), ("lf", "not-found")]


def test_a_whole_check_without_find_replaces_what_stood() -> None:
    """Nothing found at all is said of every thing that the check shows."""
    assert looks(verdict("found", at="lf"), verdict("not-found", cause=None, at="lf")) == [
        ("lf", "found"),
        ("lf", "not-found"),
    ]


def test_a_trainee_clears_nothing() -> None:
    """What a trainee didn't find leaves a technician's find standing."""
    steps: list[tuple[str, Who, Body]] = [
        ("event-1", ADA, write_up()),
        ("event-2", ADA, verdict("not-found", cause=None, at="lf")),
        ("event-3", ADA, verdict("found", cause="rc-ball-joint-worn", at="lf")),
        ("event-4", TIM, verdict("not-found", cause="rc-ball-joint-worn", at="lf")),
        ("event-5", ADA, verdict("not-found", cause="rc-bearing-play", at="lf")),
    ]
    told = [e for e in fold("job", SHOP, record(*steps)).record.events if isinstance(e, Looked)]

    assert [(look.who.role, look.result) for look in told] == [
        ("technician", "not-found"),
        ("technician", "found"),
        ("trainee", "not-found"),
    ]


def test_what_was_taken_back_tells_a_gate_nothing() -> None:
    """A slip of the finger must not close one."""
    state = after(verdict("not-found", cause=None), undo("event-000000000002"))

    assert state.record.events == ()
    assert state.case.verdicts == ()
    assert [row.taken_back for row in state.history] == [False, True, False]


def test_an_intake_step_is_a_verdict_without_find() -> None:
    """That is how the engine knows that it was done."""
    state = after(happened.IntakeDone(check="ck-save-freeze-frame"))

    assert [(row.check, row.verdict) for row in state.case.verdicts] == [
        ("ck-save-freeze-frame", "not-found")
    ]


def test_a_comeback_opens_the_job_again() -> None:
    """And what was closed before stays in the history."""
    state = after(
        happened.Waiting(waiting_for="parts"),
        happened.Closed(outcome="hub"),
        happened.Comeback(words="hums again"),
        happened.Unmatched(words="goes wubba"),
        note(),
        happened.PhotoTaken(photo="a" * 64),
    )

    assert state.closed is None
    assert state.waiting_for == ""
    assert [len(rows) for rows in (state.comebacks, state.unmatched)] == [1, 1]
    assert [len(rows) for rows in (state.notes, state.photos)] == [1, 1]
    assert (state.version, len(state.history)) == (7, 7)
    assert START < state.opened < state.last


@pytest.mark.parametrize("upto", [0, -1])
def test_a_state_before_the_first_event_is_refused(upto: int) -> None:
    """There is none."""
    with pytest.raises(ParameterError, match="the version of job 'job' is"):
        fold("job", SHOP, record(("event-1", SAM, write_up())), upto)
