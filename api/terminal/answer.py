"""An answer on the terminal, in the order in which a technician needs it.

Gates first, then what to do before anything is cleared, the list by set-up and what it can be:
that much is the list, and it can be shown before its account is made. The account comes beneath
it: how sure that is, the sensor, why, what nobody knows yet, and what is always stated. A number
stands beside its word and never alone.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby
from typing import Final

from api.documents import Answer, CauseRow, CheckRow, GateRow, SensorRow, WhileThereRow
from api.terminal.page import Page
from api.terminal.why import show_why
from api.words import (
    GATE_LEVELS,
    minutes_words,
    percent_words,
    place_words,
    places_in_words,
    probability_words,
)

__all__ = ["CAUSES_SHOWN", "show_account", "show_answer", "show_list"]

CAUSES_SHOWN = 8
_REASONS_SHOWN = 4
#: The knowledge writes VM for the vehicle maker and what it states.
_MAKER: Final = re.compile(r"\bVM\b")
#: What a gate that stands on every job is called, by the step it stands before.
_BEFORE: Final = {
    "road-test": "Before any road test",
    "work": "Before work on it",
    "repair": "Before the repair",
    "paperwork": "Before it is handed back",
}
_DEFICIENCY: Final = {"minor": "minor", "major": "MAJOR", "dangerous": "DANGEROUS"}


def show_answer(answer: Answer, page: Page) -> None:
    """Write the whole answer."""
    show_list(answer, page)
    show_account(answer, page)


def show_list(answer: Answer, page: Page) -> None:
    """Write what the next step needs: gates, checks in order, causes."""
    page.heading(answer.vehicle or "Vehicle not named", f"case {answer.case}")
    if answer.complaint:
        page.line(f'"{answer.complaint}"', indent=2)
    _gates(answer, page)
    _intake(answer, page)
    _checks(answer, page)
    _while_there(answer, page)
    _causes(answer, page)


def show_account(answer: Answer, page: Page) -> None:
    """Write what stands beneath the list."""
    _sure(answer, page)
    _sensors(answer, page)
    show_why(answer, page)
    _open_ends(answer, page)
    _foot(answer, page)


def _gates(answer: Answer, page: Page) -> None:
    """Write the open gates: those that something opened as filled bars."""
    driving = [gate for gate in answer.gates if gate.level != "none" and gate.because]
    for gate in driving:
        page.gap()
        page.bar(
            f"{GATE_LEVELS[gate.level]}: {answer.label(gate.id)}",
            (
                ("because", "; ".join(gate.because)),
                ("closes on", _names(answer, gate.closes_on) or gate.closes_how),
                ("how", gate.closes_how if gate.closes_on else ""),
                ("to do", _still(answer, gate)),
            ),
        )
    others = [gate for gate in answer.gates if gate not in driving]
    for stage, title in _BEFORE.items():
        rows = [gate for gate in others if (gate.stage or "work") == stage]
        if rows:
            page.heading(title)
            page.points(_gate_line(answer, gate, title) for gate in rows)


def _still(answer: Answer, gate: GateRow) -> str:
    """Return what is still to be done, once some of what closes the gate has been."""
    if set(gate.missing) == set(gate.closes_on):
        return ""
    return "; ".join(places_in_words(answer.label(text)) for text in gate.missing)


def _gate_line(answer: Answer, gate: GateRow, title: str) -> str:
    """Return a gate in one sentence; its name only where the heading does not say it."""
    name = answer.label(gate.id)
    parts = [] if name == title else [name]
    if gate.because:
        parts.append(f"because {'; '.join(gate.because)}")
    parts.append(_names(answer, gate.closes_on) or gate.closes_how)
    return ": ".join(part for part in parts if part)


def _intake(answer: Answer, page: Page) -> None:
    """Write what comes before anything is cleared."""
    if answer.intake:
        page.heading("First", "before anything is cleared or taken apart")
        page.line(_names(answer, answer.intake), indent=2)


def _names(answer: Answer, ids: Sequence[str]) -> str:
    return "; ".join(answer.label(term) for term in ids)


def _checks(answer: Answer, page: Page) -> None:
    """Write the list, grouped by set-up."""
    count = len(answer.checks)
    if not count:
        page.heading("What to check", "nothing on the list")
        page.line(answer.stop_reason or "No check is worth its time with what is known.", indent=2)
        return
    total = answer.total_minutes or sum(row.minutes + row.change_minutes for row in answer.checks)
    noun = "check" if count == 1 else "checks"
    page.heading("What to check", f"{count} {noun}, about {minutes_words(total)}, in this order")
    for setup, group in groupby(answer.checks, key=lambda row: row.setup):
        rows = list(group)
        change = rows[0].change_minutes
        notes = [f"{minutes_words(change)} to change over"] if change else []
        notes += ["a second person"] if rows[0].helper else []
        page.heading(answer.label(setup), ", ".join(notes), indent=2)
        for row in rows:
            _check(answer, row, page)
    if answer.stop_reason:
        page.gap()
        page.line(answer.stop_reason, indent=2)


def _check(answer: Answer, row: CheckRow, page: Page) -> None:
    """Write one step."""
    title = f"{_placed(answer.label(row.id), row.place)}, {minutes_words(row.minutes)}"
    page.item(f"{row.step}", title, indent=2, column=4, style="bold")
    for label, text in (
        ("look for", row.looks_for or _names(answer, row.finds)),
        ("how", row.how),
        ("CAUTION", row.caution),
        ("fooled by", row.fooled_by),
        ("limit", "" if row.limit_source == "self" else row.limit_source),
        ("with", row.tools),
        ("chance", f"to find something: {row.words} ({percent_words(row.chance_found)})"),
    ):
        page.item(label, _MAKER.sub("vehicle maker", text), indent=6, column=11)


def _placed(words: str, place: str) -> str:
    return f"{words}, {place_words(place)}" if place_words(place) else words


def _while_there(answer: Answer, page: Page) -> None:
    """Write the second, short list."""
    if answer.while_there:
        page.heading("While it is up there", "worth a look only because the car stands there")
        for row in answer.while_there:
            _short(answer, row, page)


def _short(answer: Answer, row: WhileThereRow, page: Page) -> None:
    """Write one look of the short list."""
    title = _placed(answer.label(row.id), row.place)
    page.line(f"- {title}, {minutes_words(row.minutes)} ({answer.label(row.setup)})", indent=2)
    page.item("look for", row.looks_for or _names(answer, row.finds), indent=6, column=11)
    page.item("CAUTION", _MAKER.sub("vehicle maker", row.caution), indent=6, column=11)


def _causes(answer: Answer, page: Page) -> None:
    """Write what it can be, likeliest part in the complaint first."""
    if not answer.causes:
        return
    remark = "chance that it has a part in the complaint"
    page.heading("What it can be", remark if answer.exact else f"{remark}; bounds, not exact")
    for row in answer.causes[:CAUSES_SHOWN]:
        _cause(answer, row, page)
    left = len(answer.causes) - CAUSES_SHOWN
    if left > 0:
        page.line(f"and {left} more, less likely; --json lists them", indent=2)


def _cause(answer: Answer, row: CauseRow, page: Page) -> None:
    """Write one cause; with its range where that is all that is known."""
    mark = _DEFICIENCY.get(row.deficiency, "")
    if row.deficiency == "dangerous":
        mark = f"{page.block('██', '##')} {mark}"
    page.line(f"{answer.label(row.id)}{mark and f' [{mark}]'}", indent=2, style="bold")
    here = row.responsibility
    low, high = (here, here) if answer.exact else _range(row)
    bar = page.range_bar(low, here, high)
    page.item(bar, f"{row.words}, {_figure(here, low, high)}", indent=6, column=len(bar) + 2)
    if probability_words(row.posterior) != row.words:
        there = f"{probability_words(row.posterior)}, {percent_words(row.posterior)}"
        page.item("there at all:", there, indent=6, column=14)


def _range(row: CauseRow) -> tuple[float, float]:
    """Return the ends of the range of a cause's part."""
    here = row.responsibility
    return (here if row.low is None else row.low, here if row.high is None else row.high)


def _sure(answer: Answer, page: Page) -> None:
    """Write how far each cause's chance can be trusted, and its weightiest reasons."""
    blocks = [(row, _reasons(answer, row)) for row in answer.causes[:CAUSES_SHOWN]]
    ranged = answer.exact and any(row.low is not None for row, _ in blocks)
    if not ranged and not any(reasons for _, reasons in blocks):
        return
    remark = "range when every estimate is moved at random, and the weightiest statements"
    page.heading("How sure that is", remark)
    for row, reasons in blocks:
        page.line(answer.label(row.id), indent=2, style="bold")
        if ranged:
            low, high = _range(row)
            bar = page.range_bar(low, row.responsibility, high)
            figure = _figure(row.responsibility, low, high)
            page.item(bar, figure, indent=6, column=len(bar) + 2)
        page.items("because", reasons, indent=6, column=9)


def _reasons(answer: Answer, row: CauseRow) -> list[str]:
    """Return the statements that weigh most for or against a cause."""
    heaviest = sorted(row.evidence, key=lambda one: -abs(one.decibans))[:_REASONS_SHOWN]
    told = [one for one in heaviest if one.words != "none"]
    return [f"{answer.label(one.finding)} ({one.words})" for one in told]


def _figure(here: float, low: float, high: float) -> str:
    """Return a rounded figure with its range, where rounding leaves one."""
    ends = [percent_words(low), percent_words(high)]
    if len({*ends, percent_words(here)}) == 1:
        return percent_words(here)
    return f"{percent_words(here)} (from {ends[0]} to {ends[1]})"


def _sensors(answer: Answer, page: Page) -> None:
    """Write one paragraph for each part that a code names."""
    if answer.sensor_first:
        page.heading("Replace the sensor first?", "a code names a circuit, not a part")
    for row in answer.sensor_first:
        page.line(_sensor(answer, row), indent=2)


def _sensor(answer: Answer, row: SensorRow) -> str:
    """Return the sensor line; what could not be worked out is left out of it."""
    named = f"{', '.join(row.codes)} leads to" if row.codes else "A code leads to"
    low = row.posterior if row.low is None else row.low
    high = row.posterior if row.high is None else row.high
    text = (
        f"{named}: {answer.label(row.part)}. That this is so is {row.words}, "
        f"{_figure(row.posterior, low, high)}"
    )
    if row.sentence:
        text += f". {row.sentence.rstrip('.')}"
    elif row.ends_complaint is not None:
        chance = percent_words(row.ends_complaint)
        text += f"; a new one alone ends the complaint with a chance of {chance}"
    first = _comes_to(row.cost_replace_first, row.minutes_replace_first, answer.currency)
    look = _comes_to(row.cost_look_first, row.minutes_look_first, answer.currency)
    costs = f" Replacing first comes to {first}, looking first to {look}." if look else ""
    return f"{text}.{costs}"


def _comes_to(cost: float | None, minutes: float | None, currency: str) -> str:
    """Return money and time in words, or nothing where one is not known."""
    if cost is None or minutes is None:
        return ""
    unit = f" {currency}" if currency else ""
    return f"about {_money(cost)}{unit} and {minutes_words(minutes)}"


def _money(amount: float) -> str:
    """Return money rounded to what an estimate is worth: tens."""
    return str(round(amount / 10) * 10)


def _open_ends(answer: Answer, page: Page) -> None:
    """Write what nobody knows yet, and what was taken for granted."""
    for title, texts in (
        ("We don't know yet", answer.questions),
        ("Taken for granted, or left out", answer.notes),
    ):
        if texts:
            page.heading(title)
            page.points(answer.label(text) for text in texts)


def _foot(answer: Answer, page: Page) -> None:
    """Write what is always stated, and which knowledge spoke."""
    page.heading("Always")
    page.points(answer.cautions)
    page.gap()
    page.line(
        f"Knowledge {answer.knowledge.version} ({answer.knowledge.sha256[:12]}): starting "
        "estimates from memory, unconfirmed. Words for chances: IPCC 2010; for weight of "
        "evidence: Jeffreys 1961; both from memory."
    )
