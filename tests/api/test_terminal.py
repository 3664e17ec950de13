"""The terminal face: order, words, width, plain characters."""

from __future__ import annotations

import io
import itertools

import pytest

from api.documents import Answer
from api.terminal import Page, show_answer, show_decoded
from api.words import ALWAYS_STATED
from graph.load import load_knowledge
from tests.api.sample_answer import sample_answer
from triage.decode import decode


def _shown(answer: Answer, *, width: int = 80) -> str:
    out = io.StringIO()
    show_answer(answer, Page(out, width=width))
    return out.getvalue()


def _flat(text: str) -> str:
    return " ".join(text.split())


def test_the_parts_come_in_the_order_in_which_they_are_needed() -> None:
    """Gates before everything: somebody may be about to drive."""
    text = _shown(sample_answer())
    parts = (
        "Must not be driven",
        "Before any road test",
        "First",
        "What to check",
        "While it is up there",
        "What it can be",
        "Replace the sensor first?",
        "Why",
        "We don't know yet",
        "Always",
        "Knowledge 7",
    )
    places = [text.index(part) for part in parts]

    assert all(one < other for one, other in itertools.pairwise(places))


@pytest.mark.parametrize("width", [40, 80])
def test_no_line_is_wider_than_the_page(width: int) -> None:
    """80 columns is what a shop's old terminal has; a phone has half."""
    assert max(map(len, _shown(sample_answer(), width=width).splitlines())) <= width


def test_in_a_pipe_there_is_no_escape_sequence() -> None:
    """Bold is for a screen; a file must stay plain text."""
    assert "\x1b" not in _shown(sample_answer())


def test_a_gate_says_why_it_is_open_and_what_closes_it() -> None:
    """A bar without a way out would be stepped over."""
    text = _flat(_shown(sample_answer()).replace("█", ""))

    assert "because a knock in time with the wheel" in text
    assert "closes on Wheel nut torque" in text


def test_a_gate_that_always_stands_is_one_line() -> None:
    """What stands on every job must not drown what stands on this one."""
    assert "Before any road test - Look at the wheel nuts" in _flat(_shown(sample_answer()))


def test_a_check_says_place_minutes_set_up_and_caution() -> None:
    """That is what the hands need."""
    text = _flat(_shown(sample_answer()))

    assert "Frame lift, wheels hanging 6 min to change over" in text
    assert "1 Wheel shake, top and bottom, left rear, 4 min" in text
    assert "CAUTION support as vehicle maker says" in text
    assert "look for Hub bearing play, left rear" in text
    assert "about as likely as not (55 %)" in text
    assert "a second person" in text


def test_a_cause_shows_word_figure_range_class_and_reason() -> None:
    """The word beside the figure on the list; the range beneath it, in the account."""
    text = _flat(_shown(sample_answer()))

    assert "Hub bearing play, left rear [MAJOR]" in text
    assert "about as likely as not, 60 % there at all" in text
    assert "60 % (from 50 % to 75 %) because" in text
    assert "because Growl or hum with road speed (substantial, for)" in text
    assert "there at all: likely, 70 %" in text
    assert "[██ DANGEROUS]" in text


def test_evidence_that_weighs_nothing_is_not_a_reason() -> None:
    """A hundredth of a deciban is noise."""
    assert "C0037-64 (" not in _shown(sample_answer())


def test_the_sensor_line_weighs_both_ways() -> None:
    """It is the question the tool exists for."""
    text = _flat(_shown(sample_answer()))

    assert "C0037-64 leads to: Failed wheel speed sensor, left rear." in text
    assert "very unlikely, 7 %" in text
    assert "Replacing first comes to about 510 EUR and 2 h 30 min" in text
    assert "looking first to about 260 EUR and 1 h 15 min" in text
    assert "a code names a circuit, not a part" in text


def test_a_sensor_line_leaves_out_what_is_not_known() -> None:
    """Nothing is made up where the arithmetic has no answer."""
    answer = sample_answer()
    row = answer.sensor_first[0].model_copy(update={"cost_look_first": None})

    text = _shown(answer.model_copy(update={"sensor_first": (row,)}))

    assert "Replacing first" not in text
    assert "None" not in text


@pytest.mark.parametrize("sentence", ALWAYS_STATED)
def test_what_is_always_stated_is_shown(sentence: str) -> None:
    """An answer without its cautions is half an answer."""
    assert sentence in _flat(_shown(sample_answer()))


def test_seven_sentences_are_always_stated() -> None:
    """Partner of the sweep above."""
    assert len(ALWAYS_STATED) == 7


def test_nothing_says_safe_to_drive() -> None:
    """Drypark may say what was checked, never that."""
    assert "safe to drive" not in _shown(sample_answer()).lower()


def test_an_answer_without_checks_says_why() -> None:
    """An empty list must teach."""
    text = _shown(sample_answer().model_copy(update={"checks": (), "stop_reason": ""}))

    assert "No check is worth its time" in text


def test_an_inexact_answer_says_so() -> None:
    """Bounds must not look like exact numbers."""
    text = _shown(sample_answer().model_copy(update={"exact": False}))

    assert "bounds, not exact" in _flat(text)


def test_a_stream_without_block_characters_gets_plain_ones() -> None:
    """Old consoles show code page 437 or 1252."""
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii")
    show_answer(sample_answer(), Page(stream, width=80))
    stream.flush()

    assert b"## Must not be driven" in raw.getvalue()


def test_text_from_outside_cannot_steer_the_terminal() -> None:
    """A pasted complaint could hold escape sequences and markup."""
    text = _shown(sample_answer().model_copy(update={"complaint": "\x1b[2J [bold]x[/bold]"}))

    assert "?[2J [bold]x[/bold]" in text


def _decoded(text: str) -> str:
    out = io.StringIO()
    show_decoded(decode(text), load_knowledge(), Page(out, width=80))
    return _flat(out.getvalue())


def test_a_code_of_both_layouts_shows_both_meanings_and_asks() -> None:
    """C0040 is a brake switch in one layout and a wheel speed circuit in the other."""
    text = _decoded("C0040")

    assert "current layout brake pedal switch A" in text
    assert "earlier layout RF wheel speed signal" in text
    assert "which description does the scan tool show?" in text


def test_a_response_shows_failure_type_status_bits_and_label() -> None:
    """ISO 14229-1: bit 0 of 2F says that the test fails now, bit 3 that it is confirmed."""
    text = _decoded("59 02 FF 40 31 1F 2F")

    assert "C0031-1F active: the test fails now" in text
    assert "circuit intermittent (from memory" in text
    assert "2F: fails now, failed this cycle, pending, confirmed" in text


def test_a_makers_code_gets_no_meaning() -> None:
    """C1 is the maker's range: a meaning made up here would mislead."""
    assert "fixed by the vehicle maker" in _decoded("C1234")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("7F 19 31", "Refused: read DTC information: request out of range"),
        ("43 01 03 00 00 00 00", "more than one good reading counted: P0300 slotted: P0103"),
        ("nothing here", "Not read - there is no trouble code"),
    ],
)
def test_every_kind_of_response_is_shown(text: str, words: str) -> None:
    """Refused, two readings, nothing: each leads on."""
    assert words in _decoded(text)
