"""The reasons on the terminal: paths, what each statement added, what stands against it.

Everything that is not about the first three causes is about the first one. What a case was too
wide for is not there, and the answer's notes say so.
"""

from __future__ import annotations

from collections.abc import Iterator

from api.documents import Answer, ChangeRow, Why
from api.terminal.page import Page
from api.words import evidence_words, percent_words, probability_words

__all__ = ["show_why"]

_CAUSES = 3
_STATEMENTS = 5


def show_why(answer: Answer, page: Page) -> None:
    """Write the strongest paths, the account of the first cause, and what would change it."""
    told = [row for row in answer.causes[:_CAUSES] if row.because]
    if told or answer.changes_most:
        page.heading("Why")
    for row in told:
        page.line(answer.label(row.id), indent=2, style="bold")
        page.points(map(answer.label, row.because), indent=4)
    why = answer.why
    if why is None:
        return
    first = answer.label(why.cause)
    _section(page, f"How it came to this: {first}", _account(answer, why))
    if why.contrast is not None:
        title = f"Why not rather: {answer.label(why.contrast.other)}"
        _section(page, title, _contrast(answer, why))
    _section(page, f"What would change this most (now: {_now(answer, why)})", _changes(answer, why))
    _section(page, "How firm it is", _firmness(why))


def _section(page: Page, title: str, points: Iterator[str]) -> None:
    """Write a title with its points, if there are any."""
    lines = list(points)
    if lines:
        page.line(title, indent=2, style="bold")
        page.points(lines, indent=4)


def _account(answer: Answer, why: Why) -> Iterator[str]:
    """Yield what each statement added, in the order in which they were made."""
    if why.prior_decibans is None or why.posterior_decibans is None:
        return
    yield f"before anything was said: {_chance(why.prior_decibans)}"
    heaviest = sorted(why.incremental, key=lambda one: -abs(one.decibans))[:_STATEMENTS]
    for one in (one for one in why.incremental if one in heaviest and one.words != "none"):
        yield f"{answer.label(one.finding)}: {one.words} ({one.decibans:+.0f} dB)"
    rest = [one.decibans for one in why.incremental if one not in heaviest]
    if rest:
        yield f"{len(rest)} more together: {evidence_words(sum(rest))} ({sum(rest):+.0f} dB)"
    yield f"with all of it: {_chance(why.posterior_decibans)}"


def _chance(decibans: float) -> str:
    """Return log odds as a chance that it is there, in words with the figure."""
    odds = 10.0 ** (decibans / 10.0)
    p = odds / (1.0 + odds)
    return f"{probability_words(p)}, {percent_words(p)} ({decibans:+.0f} dB)"


def _contrast(answer: Answer, why: Why) -> Iterator[str]:
    """Yield what speaks for the first cause more than for the other, or less."""
    if why.contrast is None or not why.contrast.weights:
        yield "nothing that was said tells the two apart; one is more usual than the other"
        return
    for one in why.contrast.weights[:_STATEMENTS]:
        side = "speaks for the first" if one.decibans > 0 else "speaks for the other"
        yield f"{answer.label(one.finding)}: {side} ({abs(one.decibans):.0f} dB)"


def _now(answer: Answer, why: Why) -> str:
    """Return the chance that the first cause is there."""
    return next((percent_words(row.posterior) for row in answer.causes if row.id == why.cause), "")


def _changes(answer: Answer, why: Why) -> Iterator[str]:
    """Yield the open questions with what either answer would make of the first cause."""
    for row in why.would_change:
        yes, no = percent_words(row.if_yes), percent_words(row.if_no)
        yield f"{_question(answer, row)}: {yes} if so, {no} if not"


def _question(answer: Answer, row: ChangeRow) -> str:
    """Return the words of an open question."""
    looked = f" ({answer.label(row.looks_for)})" if row.looks_for else ""
    return f"{answer.label(row.id)}{looked}"


def _firmness(why: Why) -> Iterator[str]:
    """Yield in how many perturbed answers the first cause and the next check stay."""
    if not why.perturbations or why.firm_top is None:
        return
    runs = why.perturbations
    top = _times(why.firm_top, runs, why.firm_top_range)
    yield f"with all strengths moved at random, it is still first {top}"
    if why.firm_check is not None:
        check = _times(why.firm_check, runs, why.firm_check_range)
        yield f"the next check stays the next {check}"


def _times(share: float, runs: int, band: tuple[float, float] | None) -> str:
    """Return a share of the runs, with what so many runs say about very many."""
    told = f"{round(share * runs)} times out of {runs}"
    return f"{told} ({band[0]:.0%} to {band[1]:.0%})" if band else told
