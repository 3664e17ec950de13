"""The reasons on the terminal: each part of the account is there, in words with its figure."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

import pytest

from api.answering import answer_case
from api.answering.effort import Allowance
from api.documents import Answer, read_case
from api.terminal import Page, show_answer
from graph.load import load_knowledge

CASE = Path(__file__).parents[2] / "fixtures" / "cases" / "kerb-strike-van.json"


@cache
def _answer(patience: float) -> Answer:
    """Return the answer to the kerb strike with more or less patience for its account."""
    case = read_case(str(CASE))
    allowance = Allowance(patience=patience)
    return answer_case(
        load_knowledge(), case.to_input(), case_id="x", shop=case.shop, allowance=allowance
    )


def _why(answer: Answer) -> str:
    """Return what stands under the heading, on lines joined by spaces."""
    out = io.StringIO()
    show_answer(answer, Page(out, width=80))
    words = " ".join(out.getvalue().split())
    return words[words.index(" Why ") : words.index("Taken for granted")]


def test_the_account_starts_at_the_prior_and_ends_at_the_posterior() -> None:
    """First and last line state both, and each statement that weighs is named in words."""
    answer = _answer(1.0)
    assert answer.why is not None
    text = _why(answer)
    first, last = answer.why.prior_decibans, answer.why.posterior_decibans
    assert f"before anything was said: very unlikely, 10 % ({first:+.0f} dB)" in text
    assert f"({last:+.0f} dB)" in text[text.index("with all of it") :]
    assert "Crabbing: substantial, for (+5 dB)" in text


def test_no_bare_id_is_shown() -> None:
    """Findings, causes and checks stand there in words."""
    text = _why(_answer(1.0))
    assert not [word for word in text.split() if word[:3] in {"sy-", "rc-", "ck-", "st-"}]


def test_the_contrast_names_the_part_that_the_code_names() -> None:
    """Why not the yaw unit: what speaks for the one and what for the other."""
    text = _why(_answer(1.0))
    contrast = text[text.index("Why not rather: Failed yaw and acceleration unit") :]
    assert "Kerb-struck wheel, left rear: speaks for the first" in contrast
    assert "C0063-64 (yaw rate signal): speaks for the other" in contrast


def test_firmness_is_counted_in_runs() -> None:
    """So many times out of so many, and what so many say of very many, as the answer holds it."""
    answer = _answer(1.0)
    assert answer.why is not None
    assert answer.why.firm_top is not None
    runs = answer.why.perturbations
    assert answer.why.firm_top_range is not None
    low, high = answer.why.firm_top_range
    assert low <= answer.why.firm_top <= high
    text = f"still first {round(answer.why.firm_top * runs)} times out of {runs} ({low:.0%} to"
    assert text in _why(answer)


@pytest.mark.parametrize("title", ["How it came to this", "Why not rather", "How firm it is"])
def test_what_was_left_out_has_no_heading(title: str) -> None:
    """Without patience there is no account, no heading for one, and a note that says so."""
    answer = _answer(0.0)
    assert title not in _why(answer)
    assert any("left out" in note for note in answer.notes)
