"""What a device may send, and what it may not."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
from pydantic import ValidationError

from api.store.events import Body, Closed, NewEvent, Note, body_from, canonical
from tests.api.store.making import new, note

KINDS = {
    "written-up",
    "code-read",
    "finding",
    "verdict",
    "reading",
    "intake-done",
    "unmatched",
    "note",
    "photo",
    "gate-opened",
    "gate-answered",
    "gate-closed",
    "gate-overruled",
    "waiting",
    "closed",
    "comeback",
    "taken-back",
}
SENT = {"id": "0123456789abcdef", "device_time": "2026-03-02T08:15:00+01:00"}


def sent(**changes: object) -> str:
    """Return an event as it comes over the wire."""
    return json.dumps({**SENT, "body": {"kind": "note", "text": "warm"}, **changes})


def test_every_kind_of_event_is_there() -> None:
    """By the list of what can happen to a job."""
    kinds = {part.model_fields["kind"].default for part in Body.__origin__.__args__}  # type: ignore[attr-defined]

    assert kinds == KINDS


def test_a_devices_time_is_kept_in_utc() -> None:
    """A tablet that crosses a border, or a summer time, changes no order."""
    event = NewEvent.model_validate_json(sent())

    assert event.device_time == datetime(2026, 3, 2, 7, 15, tzinfo=UTC)
    assert event.device_time.utcoffset() == datetime.now(UTC).utcoffset()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"id": "short"}, "match pattern"),
        ({"id": "0123456789abcde\n"}, "match pattern"),
        ({"id": "x" * 65}, "match pattern"),
        ({"id": "<script>alert(1)"}, "match pattern"),
        ({"device_time": "2026-03-02T08:15:00"}, "timezone"),
        ({"device_time": "0001-01-01T00:00:00+14:00"}, "no time of this century"),
        ({"device_time": "9999-12-31T23:59:59-14:00"}, "no time of this century"),
        ({"body": {"kind": "note", "text": ""}}, "at least 1 character"),
        ({"body": {"kind": "note", "text": "x" * 4001}}, "at most 4000"),
        ({"body": {"kind": "note", "text": "a\x00b"}}, "match pattern"),
        ({"body": {"kind": "note", "text": "a", "who": "me"}}, "Extra inputs"),
        ({"body": {"kind": "nothing"}}, "does not match any of the expected tags"),
        ({"body": {"kind": "unmatched", "words": "two\nlines"}}, "match pattern"),
        ({"body": {"kind": "photo", "photo": "../../etc/passwd"}}, "match pattern"),
        (
            {"body": {"kind": "gate-opened", "gate": "sg-a", "because": "", "level": "fine"}},
            "do-not",
        ),
        ({"who": "somebody"}, "Extra inputs"),
    ],
)
def test_what_is_no_event_is_refused(changes: dict[str, object], said: str) -> None:
    """Before it comes near the records."""
    with pytest.raises(ValidationError, match=said):
        NewEvent.model_validate_json(sent(**changes))


def test_half_a_letter_is_refused() -> None:
    """JSON can spell a lone surrogate, which no database and no page can hold."""
    text = sent().replace("warm", "\\ud83d")

    with pytest.raises(ValidationError, match="Invalid JSON"):
        NewEvent.model_validate_json(text)


def test_the_order_of_fields_makes_no_other_body() -> None:
    """Two devices may spell one thing in two ways; it is still the same event."""
    one = body_from('{"kind":"closed","outcome":"hub","causes":["rc-bearing-play@lr"]}')
    other = body_from(
        '{ "causes": ["rc-bearing-play@lr"], "outcome": "h\\u0075b", "kind":"closed"}'
    )

    assert (
        canonical(one)
        == canonical(other)
        == canonical(Closed(outcome="hub", causes=("rc-bearing-play@lr",)))
    )


def test_letters_stay_what_they_are() -> None:
    """The kept text is readable by people who look into the database."""
    assert canonical(Note(text="½ Ω 车")) == '{"kind":"note","text":"½ Ω 车"}'
    assert new(note("a"), "x").id == "event-0000000000000000000x"
