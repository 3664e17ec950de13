"""Past the budget an answer is still given: marked, with ranges that hold the exact chances."""

from __future__ import annotations

from pathlib import Path

from api.answering import answer_case
from api.answering.effort import Allowance
from api.documents import read_case
from graph.build import compile_case
from graph.load import load_knowledge
from triage.exact import posterior

CASE = Path(__file__).parents[2] / "fixtures" / "cases" / "sensor-really-bad.json"


def test_a_case_past_the_budget_is_answered_with_ranges() -> None:
    """With a budget made too small the answer says so, and every range holds the exact chance."""
    knowledge, case = load_knowledge(), read_case(str(CASE))
    asked = compile_case(knowledge, case.to_input())
    exact = posterior(asked.network, asked.evidence)
    answer = answer_case(knowledge, case.to_input(), case_id=case.case, allowance=Allowance(1e6))
    assert not answer.exact
    assert any("made without" in note for note in answer.notes)
    assert answer.causes
    assert answer.checks
    for row in answer.causes:
        assert row.low is not None
        assert row.high is not None
        assert row.low <= exact.causes[row.id] <= row.high + 1e-9
        assert row.low <= row.responsibility <= row.high
