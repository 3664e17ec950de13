"""An event as one line that a person reads."""

from __future__ import annotations

from api.labels import label_of
from api.store import events as happened
from api.store.events import Recorded
from api.words import GATE_LEVELS, place_words
from graph.terms import Knowledge

__all__ = ["told"]

_ANSWER = {"found": "found", "not-found": "not found", "cant-tell": "can't tell"}
_STATE = {"present": "there", "absent": "not there", "unknown": "not known"}
_SAFETY = {"yes": "yes", "no": "no", "unknown": "not known", "skipped": "not asked"}


def told(knowledge: Knowledge, event: Recorded) -> str:
    """Return what an event says, in the words of the bay.

    Customer's words and notes are given as they were written.
    """
    body = event.body
    for teller in (_about_car, _about_gates, _about_job):
        line = teller(knowledge, body)
        if line:
            return line
    return body.kind


def _about_car(knowledge: Knowledge, body: happened.Body) -> str:
    match body:
        case happened.WrittenUp(ticket=ticket):
            return f"Written up: {ticket}" if ticket else "Written up"
        case happened.CodeRead(codes=codes):
            return f"Codes read: {', '.join(_code(code) for code in codes) or 'none'}"
        case happened.FindingSeen(finding=seen):
            name = _named(knowledge, seen.id, seen.place)
            return f"{name}: {_STATE[seen.state]}"
        case happened.VerdictGiven(verdict=given, note=note):
            thing = _named(knowledge, given.cause, given.at) if given.cause else "whole check"
            name = _named(knowledge, given.check, given.place)
            return f"{name}; {thing}: {_ANSWER[given.verdict]}" + (f" ({note})" if note else "")
        case happened.ReadingTaken(check=check, place=place, reading=read):
            return (
                f"{_named(knowledge, check, place)}: {read.value:g} {read.unit} against "
                f"{read.limit:g} {read.unit} ({read.limit_source})"
            )
        case happened.IntakeDone(check=check):
            return f"{_named(knowledge, check, None)}: done"
        case _:
            return ""


def _about_gates(knowledge: Knowledge, body: happened.Body) -> str:
    match body:
        case happened.GateOpened(gate=gate, because=because, level=level):
            return f"Gate opened: {_named(knowledge, gate, None)}, {GATE_LEVELS[level]}: {because}"
        case happened.GateAnswered(finding=finding, answer=answer):
            return f"Safety question, {_named(knowledge, finding, None)}: {_SAFETY[answer]}"
        case happened.GateClosed(gate=gate):
            return f"Signed: {_named(knowledge, gate, None)}"
        case happened.GateOverruled(gate=gate, reason=reason, instead=instead):
            name = _named(knowledge, gate, None)
            return f"Overruled: {name}; reason: {reason}; instead: {instead}"
        case _:
            return ""


def _about_job(knowledge: Knowledge, body: happened.Body) -> str:
    match body:
        case happened.Unmatched(words=words):
            return f"No finding fits, for the senior technician: {words}"
        case happened.Note(text=text):
            return f"Note: {text}"
        case happened.PhotoTaken(caption=caption):
            return f"Photo: {caption}" if caption else "Photo"
        case happened.Waiting(waiting_for=what):
            return f"Waiting for: {what}" if what else "Waiting for nothing any more"
        case happened.Closed(outcome=outcome, causes=causes):
            proven = ", ".join(_named(knowledge, *_parted(one)) for one in causes)
            return f"Closed: {outcome}" + (f" Proven: {proven}" if proven else "")
        case happened.Comeback(words=words):
            return f"Came back: {words}"
        case happened.TakenBack():
            return "Taken back"
        case _:
            return ""


def _code(code: object) -> str:
    text, kind = getattr(code, "code", ""), getattr(code, "failure_type", "")
    return f"{text}-{kind}" if kind and "-" not in text else str(text)


def _parted(node: str) -> tuple[str, str]:
    term, _, place = node.partition("@")
    return term, place


def _named(knowledge: Knowledge, term: str | None, place: str | None) -> str:
    """Return the words of a term with its place."""
    if term is None:
        return ""
    words, where = label_of(knowledge, term) or term, place_words(place or "")
    return f"{words}, {where}" if where else words
