"""What may be written, by whom."""

from __future__ import annotations

import pytest

from api.store import events as happened
from api.store.errors import EventRefusedError
from api.store.events import Body, Who
from api.store.rules import MAX_EVENTS, Standing, check, check_taking_back
from tests.api.store.making import ADA, SAM, TIM, new, note, undo

OWNER = Who("olga", "Olga Example", "owner")
OVERRULED = happened.GateOverruled(gate="sg-a", reason="towed", instead="trailer")
SIGNED = happened.GateClosed(gate="sg-a")
#: id -> what stands in the job before
EARLIER = {
    "write-up-00000001": Standing(1, "written-up", "ada"),
    "opened-0000000001": Standing(2, "gate-opened", "ada"),
    "signed-0000000001": Standing(3, "gate-closed", "ada"),
    "unsigned-00000001": Standing(4, "taken-back", "ada", "signed-0000000001"),
    "note-000000000001": Standing(5, "note", "ada"),
    "undo-000000000001": Standing(6, "taken-back", "ada", "note-000000000001"),
    "trainees-00000001": Standing(7, "note", "tim"),
}


@pytest.mark.parametrize(
    ("body", "who", "said"),
    [
        (OVERRULED, ADA, "only a senior technician overrules"),
        (OVERRULED, OWNER, "only a senior technician overrules"),
        (OVERRULED, TIM, "only a senior technician overrules"),
        (SIGNED, TIM, "a trainee closes no gate"),
        (OVERRULED, SAM, ""),
        (SIGNED, ADA, ""),
        (note(), TIM, ""),
    ],
)
def test_a_gate_is_lowered_only_by_who_may(body: Body, who: Who, said: str) -> None:
    """Whatever page or program the event comes from."""
    if said:
        with pytest.raises(EventRefusedError, match=said):
            check(new(body), who, 2)
    else:
        check(new(body), who, 2)


def test_a_job_has_an_end() -> None:
    """A device gone wild must not fill the disk."""
    check(new(note()), ADA, MAX_EVENTS)
    with pytest.raises(EventRefusedError, match="no more are kept in one"):
        check(new(note()), ADA, MAX_EVENTS + 1)


@pytest.mark.parametrize(
    ("target", "who", "said"),
    [
        ("nowhere-000000001", ADA, "has no event"),
        ("write-up-00000001", ADA, "first write-up"),
        ("opened-0000000001", SAM, "an opened gate"),
        ("unsigned-00000001", SAM, "brought back by redo"),
        ("note-000000000001", TIM, "only what the trainee wrote"),
        ("undo-000000000001", TIM, "only what the trainee wrote"),
        ("trainees-00000001", TIM, ""),
        ("trainees-00000001", ADA, ""),
        ("signed-0000000001", ADA, ""),
        ("undo-000000000001", SAM, ""),
    ],
)
def test_what_must_stand_is_not_taken_back(target: str, who: Who, said: str) -> None:
    """The opening of a job and of a gate stand; a name is not put back by somebody else."""
    event = new(undo(target))
    if said:
        with pytest.raises(EventRefusedError, match=said):
            check_taking_back(event, target, who, EARLIER)
    else:
        check_taking_back(event, target, who, EARLIER)
