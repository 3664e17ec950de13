"""The list comes first and stays what it is; its account goes on from it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from api.answering import Asking, account_for, accounts_for, answer_case, list_case
from api.answering.accounting import PARTS
from api.answering.effort import Allowance
from api.documents import Answer, Case, read_case
from tests.api.answers import knowledge

FOLDER = Path(__file__).parents[2] / "fixtures"
#: Every demo, and some of the cases to practise on.
CASES = (
    "cases/kerb-strike-van",
    "cases/must-not-be-driven",
    "cases/sensor-really-bad",
    pytest.param("cases/two-faults", marks=pytest.mark.slow),
    "practice/cases/v29",
    "practice/cases/v35",
    "practice/cases/v41",
)
#: What the account brings; all else belongs to the list.
OF_THE_ANSWER = {"account", "changes_most", "why", "labels"}
OF_A_CAUSE = {"low", "high", "evidence", "because"}
OF_A_SENSOR = {"part", "posterior", "words", "codes", "part_price", "part_price_low"}
OF_A_SENSOR |= {"part_price_high", "priced_by"}  # these the list has


def _read(name: str) -> Case:
    return read_case(FOLDER / f"{name}.json")


def _of_the_list(answer: Answer) -> dict[str, Any]:
    """Return the part of a document that the list has to give."""
    plain = {k: v for k, v in answer.to_document().items() if k not in OF_THE_ANSWER}
    plain["causes"] = [
        {k: v for k, v in row.items() if k not in OF_A_CAUSE} for row in plain["causes"]
    ]
    plain["sensor_first"] = [
        {k: v for k, v in row.items() if k in OF_A_SENSOR} for row in plain["sensor_first"]
    ]
    return plain


@pytest.mark.parametrize("name", CASES)
def test_the_list_is_the_same_before_its_account_and_after_it(name: str) -> None:
    """Nothing on the list moves when the account comes in: each made from nothing, by itself."""
    case = _read(name)

    first = list_case(knowledge(), case.to_input(), Asking(case.case, case.shop)).answer
    whole = answer_case(knowledge(), case.to_input(), case_id=case.case, shop=case.shop)

    assert _of_the_list(first) == _of_the_list(whole)
    assert first.checks
    assert first.causes
    assert first.labels.items() <= whole.labels.items()


def test_a_document_says_whether_its_account_is_made() -> None:
    """What is not made yet is absent, not nought."""
    case = _read("practice/cases/v35")
    listed = list_case(knowledge(), case.to_input(), Asking(case.case, case.shop))

    whole = account_for(listed)

    assert (listed.answer.account, whole.account) == ("being-made", "made")
    assert listed.answer.why is None
    assert whole.why is not None
    assert {(row.low, row.high, row.evidence) for row in listed.answer.causes} == {(None, None, ())}
    assert all(row.low is not None and row.high is not None for row in whole.causes)


def test_past_the_budget_the_list_has_its_ranges_at_once() -> None:
    """They are what the chances are there, so they do not wait for the account."""
    case = _read("cases/sensor-really-bad")
    asking = Asking(case.case, case.shop, allowance=Allowance(1e6))

    listed = list_case(knowledge(), case.to_input(), asking)
    whole = account_for(listed)

    assert not listed.answer.exact
    assert [(row.low, row.high) for row in listed.answer.causes] == [
        (row.low, row.high) for row in whole.causes
    ]
    assert all(row.high is not None for row in whole.causes)


def test_whoever_holds_the_account_up_is_asked_between_its_parts_and_can_end_it() -> None:
    """A list that somebody waits for goes before the account of another one."""
    case = _read("practice/cases/v35")
    listed = list_case(knowledge(), case.to_input(), Asking(case.case, case.shop))
    asked: list[str] = []

    def pause(part: str) -> None:
        asked.append(part)
        if part == PARTS[2]:
            raise InterruptedError("enough")

    with pytest.raises(InterruptedError, match="enough"):
        account_for(listed, pause)

    assert list(dict.fromkeys(asked)) == list(PARTS[:3])
    assert asked.count(PARTS[0]) > 1  # within a long part as well


def test_every_part_of_an_account_is_announced_in_order() -> None:
    """Progress counts them; one that comes without a word would be counted with another."""
    case = _read("cases/must-not-be-driven")
    listed = list_case(knowledge(), case.to_input(), Asking(case.case, case.shop))
    told: list[str] = []

    whole = account_for(listed, told.append)

    assert whole.sensor_first
    assert list(dict.fromkeys(told)) == list(PARTS)


def test_an_account_grows_to_two_hundred_perturbed_answers_and_says_how_many_it_has() -> None:
    """And in the end it is the account that patience makes at once: the same noise, each once."""
    case = _read("practice/cases/v41")
    hurried = Asking(case.case, case.shop, allowance=Allowance(perturbed=0.2))
    patient = Asking(case.case, case.shop, allowance=Allowance(patience=np.inf))

    stages = list(accounts_for(list_case(knowledge(), case.to_input(), hurried)))
    at_once = account_for(list_case(knowledge(), case.to_input(), patient))

    counts = [answer.why.perturbations for answer in stages if answer.why is not None]
    assert 8 <= counts[0] < 100
    assert counts[1:] == [min(2 * count, 200) for count in counts[:-1]]
    assert counts[-1] == 200
    last = stages[-1].why
    assert last is not None
    assert at_once.why is not None
    assert at_once.why.perturbations == 200
    assert last.firm_top == pytest.approx(at_once.why.firm_top, abs=1e-12)
    assert last.firm_check == pytest.approx(at_once.why.firm_check, abs=1e-12)
    assert last.firm_top_range == pytest.approx(at_once.why.firm_top_range, abs=1e-12)
    assert _ranges(stages[-1]) == pytest.approx(_ranges(at_once), abs=1e-12)
    assert _ranges(stages[0]) != pytest.approx(_ranges(at_once), abs=1e-6)


def test_what_takes_long_is_made_after_the_account_and_then_no_longer_called_missing() -> None:
    """Dear for its allowance: weights and questions come afterwards, the part's rows stay."""
    case = _read("practice/cases/v35")
    asking = Asking(
        case.case, case.shop, allowance=Allowance(patience=1e-3, perturbed=10.0, grows=True)
    )

    first, second, *_, last = accounts_for(list_case(knowledge(), case.to_input(), asking))

    assert any("not made yet" in note for note in first.notes)
    assert first.why is not None
    assert (first.why.incremental, first.why.perturbations) == ((), 0)
    assert {(row.low, row.high) for row in first.causes} == {(None, None)}  # no range of one point
    assert all(row.low is not None for row in last.causes)
    assert not any("not made yet" in note for note in (*second.notes, *last.notes))
    assert second.why is not None
    assert second.why.incremental
    assert any(row.evidence for row in second.causes)
    assert second.sensor_first == first.sensor_first
    assert last.why is not None
    assert last.why.perturbations == 200
    assert last.why.incremental == second.why.incremental


def test_an_account_of_intervals_has_one_stage() -> None:
    """There is nothing to perturb past the budget."""
    case = _read("cases/sensor-really-bad")
    asking = Asking(case.case, case.shop, allowance=Allowance(1e6))

    (only,) = accounts_for(list_case(knowledge(), case.to_input(), asking))

    assert not only.exact
    assert only.why is None or only.why.perturbations == 0


def _ranges(answer: Answer) -> list[float]:
    """Return the ends of all ranges of a document."""
    ends = [(row.low, row.high) for row in answer.causes]
    ends += [(row.low, row.high) for row in answer.sensor_first]
    return [end for pair in ends for end in pair if end is not None]
