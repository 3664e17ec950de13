"""What was read from typed codes and bytes, with every meaning the knowledge holds.

Where two layouts give one number two meanings, both are shown and the tool asks; a code without
an entry is kept and gets no meaning.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from api.terminal.page import Page
from graph.code_meanings import meanings_of
from graph.terms import Code, Knowledge
from triage.decode import Decoded
from triage.failure_type import BASIS, category_name, meaning
from triage.negative_response import NegativeResponse
from triage.responses import AmbiguousResponse, CodeResponse, Response
from triage.seen_codes import CodeSeen
from triage.status import Status

__all__ = ["decoded_document", "show_decoded"]

_LAYOUT = {"current": "current layout", "earlier": "earlier layout", "both": "in both layouts"}
_CLASS = {
    "active": "active: the test fails now",
    "pending": "pending: failed lately, not matured",
    "history": "history: stored, and the test has passed this cycle",
    "intermittent": "intermittent: stored, not failing now, not proven passed",
    "not-tested": 'not tested: "no fault" means nothing yet',
    "passed": "passed: the test has run, nothing is stored",
}
_BIT_WORDS = (
    "fails now",
    "failed this cycle",
    "pending",
    "confirmed",
    "not tested since the clear",
    "failed since the clear",
    "not tested this cycle",
    "asks for the lamp",
)


def show_decoded(decoded: Decoded, knowledge: Knowledge, page: Page) -> None:
    """Write the responses, the codes, and what could not be read or must be asked."""
    for response in decoded.responses:
        _response(response, page)
    for seen in decoded.codes:
        _code(seen, knowledge, page)
    for level, title in (
        ("question", "Somebody must say"),
        ("error", "Not read"),
        ("note", "Good to know"),
    ):
        rows = [issue for issue in decoded.issues if issue.level == level]
        if rows:
            page.heading(title)
            page.points(map(str, rows))
    if decoded.codes:
        page.gap()
        page.line("A code names a circuit, not a part. Save freeze frame and status, then clear.")


def _response(response: Response, page: Page) -> None:
    """Write what one response is."""
    if isinstance(response, NegativeResponse):
        page.line(f"Refused: {response.service_name}: {response.reason}", style="bold")
        return
    if isinstance(response, AmbiguousResponse):
        page.line("A response with more than one good reading", style="bold")
        for reading in response.readings:
            page.item(f"{reading.form}:", _listed(reading), indent=2, column=12)
        return
    mask = f", status bits supported {response.mask:02X}" if response.mask is not None else ""
    count = len(response.records)
    page.line(f"Response: {response.lists}, {count} {'code' if count == 1 else 'codes'}{mask}")


def _listed(reading: CodeResponse) -> str:
    return ", ".join(str(record.code) for record in reading.records) or "no codes"


def _code(seen: CodeSeen, knowledge: Knowledge, page: Page) -> None:
    """Write one code with its failure type, status and meanings."""
    page.heading(str(seen.code), _CLASS.get(seen.label or "", ""))
    byte = seen.code.failure_type
    if byte is not None:
        words = meaning(byte) or "no meaning known here"
        page.item(
            "failure type", f"{byte:02X}, {category_name(byte)}: {words} ({BASIS})", column=14
        )
    for status in seen.statuses:
        page.item("status", f"{status}: {_bits(status)}", column=14)
    if seen.words:
        page.item("called", ", ".join(seen.words), column=14)
    meanings = meanings_of(knowledge, seen.code.notation)
    for key, layout in meanings:
        _meaning(knowledge.codes[key], layout, knowledge, page)
    if not meanings:
        page.item("meaning", _no_meaning(seen), column=14)
    elif len(meanings) > 1:
        page.item(
            "QUESTION",
            "two layouts of this range are on the road: which description does the scan tool show?",
            column=14,
        )


def _bits(status: Status) -> str:
    """Return the bits that are set, in words."""
    words = [word for word, on in zip(_BIT_WORDS, status.bits.values(), strict=True) if on]
    return ", ".join(words) or "no bit set"


def _meaning(code: Code, layout: str, knowledge: Knowledge, page: Page) -> None:
    """Write one entry."""
    page.item(_LAYOUT[layout], f"{code.watched} ({code.id})", column=18)
    if code.mechanical:
        page.item("first", f"the car: {code.mechanical}", indent=4, column=12)
    if code.electrical:
        page.item("then", f"electrical: {code.electrical}", indent=4, column=12)
    if code.part:
        page.item("part named", knowledge.causes[code.part].label, indent=4, column=12)


def _no_meaning(seen: CodeSeen) -> str:
    """Return why a code has no meaning here."""
    control = seen.code.control
    if control == "maker":
        return "fixed by the vehicle maker: keep the words that the scan tool shows beside it"
    if control == "reserved":
        return "a reserved range: was it read right?"
    return "fixed by the standard, but no entry here: keep the words of the scan tool"


def decoded_document(decoded: Decoded, knowledge: Knowledge) -> dict[str, Any]:
    """Return the same as plain JSON values."""
    return {
        "codes": [_code_document(seen, knowledge) for seen in decoded.codes],
        "responses": [_response_document(response) for response in decoded.responses],
        "issues": [
            {
                "level": issue.level,
                "message": issue.message,
                "where": issue.where,
                "remedy": issue.remedy,
            }
            for issue in decoded.issues
        ],
    }


def _code_document(seen: CodeSeen, knowledge: Knowledge) -> dict[str, Any]:
    byte = seen.code.failure_type
    return {
        "code": seen.code.notation,
        "failure_type": None if byte is None else f"{byte:02X}",
        "failure_type_words": None if byte is None else meaning(byte),
        "status": [str(status) for status in seen.statuses],
        "label": seen.label,
        "meanings": [
            {"id": key, "layout": layout, "watched": knowledge.codes[key].watched}
            for key, layout in meanings_of(knowledge, seen.code.notation)
        ],
    }


def _response_document(response: Response) -> dict[str, Any]:
    if isinstance(response, NegativeResponse):
        return {"refused": response.service_name, "reason": response.reason}
    if isinstance(response, AmbiguousResponse):
        return {"why": response.why, "readings": [_reading(one) for one in response.readings]}
    return _reading(response)


def _reading(response: CodeResponse) -> dict[str, Any]:
    codes: Iterable[str] = (str(record.code) for record in response.records)
    return {"lists": response.lists, "form": response.form, "codes": list(codes)}
