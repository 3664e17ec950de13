"""The chance to find something counts what is there, and no false alarms."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from api.answering import answer_case
from api.documents import read_case
from graph.build import compile_case
from graph.load import load_knowledge
from triage.exact import posterior

CASES = Path(__file__).parents[2] / "fixtures" / "cases"


def _expected(name: str) -> tuple[dict[tuple[str, str], float], dict[tuple[str, str], float]]:
    """Return, by check and place, the chance on the list and the chance by hand."""
    knowledge, case = load_knowledge(), read_case(str(CASES / name))
    compiled = compile_case(knowledge, case.to_input())
    q = posterior(compiled.network, compiled.evidence).causes
    by_hand = {
        (offer.id, offer.place): 1.0
        - float(np.prod([1.0 - v.p_found_if_on * q[v.target] for v in offer.verdicts]))
        for offer in compiled.checks
        if all(v.node is None and v.target in q for v in offer.verdicts)
    }
    answer = answer_case(knowledge, case.to_input(), case_id=case.case, shop=case.shop)
    told = {(row.id, row.place): row.chance_found for row in answer.checks if row.finds}
    return told, by_hand


@pytest.mark.parametrize("name", ["must-not-be-driven.json", "kerb-strike-van.json"])
def test_the_chance_is_that_of_finding_what_is_there(name: str) -> None:
    """One less the chance that each thing is absent or overlooked, from the exact posteriors.

    The list takes causes that nothing seen depends on as independent of one another: hence
    the room of half a percent. False alarms would add tens of percents.
    """
    told, by_hand = _expected(name)
    shared = told.keys() & by_hand.keys()
    assert len(shared) >= 3
    for key in shared:
        assert told[key] == pytest.approx(by_hand[key], abs=5e-3)
