"""The list is made anew after every answer, intake stands before it, and it says why it ends."""

from __future__ import annotations

from dataclasses import replace

import pytest

from api.answering import Asking, list_case
from api.answering.steps import START, looks_at, standing_at
from api.documents import Answer
from graph.build import compile_case
from graph.case import CaseInput, VerdictGiven
from graph.terms import Confounder
from tests.api.answers import SHOP, demo, knowledge
from triage.schedule import change_over
from triage.stakes import Stakes

HUM = "kerb-strike-van"


def _list(case: CaseInput) -> Answer:
    """Return the list of a case."""
    return list_case(knowledge(), case, Asking(HUM, SHOP)).answer


def _told(case: CaseInput, check: str, place: str) -> CaseInput:
    """Return the case with a check done that found nothing."""
    verdict = VerdictGiven(check, "not-found", None if place == "vehicle" else place)
    return replace(case, verdicts=(*case.verdicts, verdict))


def test_a_check_that_was_done_is_not_asked_for_again() -> None:
    """Re-planned after its answer: the next one comes first, from where the car stands then."""
    case = demo(HUM)
    for _ in range(3):
        row = _list(case).checks[0]
        case = _told(case, row.id, row.place)
        after = _list(case)

        assert (row.id, row.place) not in {(r.id, r.place) for r in after.checks}
        assert standing_at(knowledge(), case) == row.setup
        changes = {key: s.change_minutes for key, s in knowledge().setups.items()}
        direct = change_over(changes, row.setup, after.checks[0].setup)
        assert after.checks[0].change_minutes <= direct  # a way through another one may be shorter


def test_before_the_first_answer_the_car_stands_where_the_codes_were_read() -> None:
    """The scan tool is still plugged in."""
    assert standing_at(knowledge(), CaseInput()) == START
    assert standing_at(knowledge(), demo(HUM)) == START


def test_intake_stands_before_the_list_and_in_the_order_of_the_counter() -> None:
    """Questions first, then all modules are read, and what is there is saved (common practice)."""
    intake = _list(replace(demo(HUM), findings=(), context=())).intake

    assert [key for key in intake if key != "ck-status-bits"][:5] == [
        "ck-safety-questions",
        "ck-history-interview",
        "ck-recent-work-review",
        "ck-full-scan",
        "ck-save-freeze-frame",
    ]
    assert not set(intake) & {row.id for row in _list(demo(HUM)).checks}


def test_an_answer_says_why_its_list_ends() -> None:
    """Nothing more is worth its time, or it was cut: the reader must know which."""
    reason = _list(demo(HUM)).stop_reason

    assert reason.startswith(("No further check is worth its time", "The list is cut here"))


@pytest.mark.parametrize("confounder", knowledge().confounders, ids=lambda c: c.id)
def test_what_the_knowledge_says_is_fooled_together_confirms_nothing(
    confounder: Confounder,
) -> None:
    """No check of a group is the second look at what another one of it found."""
    compiled = compile_case(knowledge(), CaseInput())
    looks = looks_at(knowledge(), compiled.network.causes, compiled.checks, Stakes())
    group = set(confounder.checks)

    pairs = zip(*(looks.offer[side].tolist() for side in looks.pairs()), strict=True)

    both = [{compiled.checks[a].id, compiled.checks[b].id} <= group for a, b in pairs]
    assert len(both) > 1000
    assert not any(both)
