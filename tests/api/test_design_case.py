"""The example case of the design, run from the document to the answer.

The values are the design's; where it lists alternatives ("fwd|rwd|...") one is picked.
Invented, as everything in it: it shows that the contract holds, nothing about accuracy.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

from api.answering.answer import answer_case
from api.documents import Answer, check_terms, read_case
from graph.load import load_knowledge

CASE: dict[str, Any] = {
    "format": "drypark-case/1",
    "case": "demo-1",
    "vehicle": {
        "label": "ticket 4711",
        "drivetrain": "fwd",
        "age_years": 11,
        "odometer_km": 181000,
        "salted_roads": True,
        "facts": ["vf-active-wheel-sensors", "vf-strut-front"],
        "tyres": {"all": "225/60R17"},
    },
    "context": ["cx-wheel-off-recent", "cx-strike"],
    "complaint": "customer's words; never evidence until a person accepts a finding",
    "codes": [
        {
            "code": "C0051",
            "failure_type": "64",
            "status": "28",
            "module": "abs",
            "layout": "current",
        }
    ],
    "findings": [{"id": "sy-hum-speed", "place": "rear", "state": "present"}],
    "verdicts": [
        {
            "check": "ck-dry-park",
            "place": "front",
            "cause": "rc-outer-tie-rod-worn",
            "at": "lf",
            "verdict": "found",
            "reading": {
                "value": 0.19,
                "unit": "mm",
                "limit": 0.05,
                "uncertainty": 0.02,
                "limit_source": "typed in by a technician",
            },
        }
    ],
    "shop": {"labour_per_hour": 120, "currency": "EUR"},
}


@pytest.fixture(scope="module")
def answer() -> Answer:
    """Return the answer to the design's case."""
    knowledge = load_knowledge()
    case = read_case(json.dumps(CASE).encode())
    check_terms(case, knowledge)
    return answer_case(knowledge, case.to_input(), case_id=case.case, shop=case.shop)


def test_the_place_of_the_hum_is_kept_as_a_hint(answer: Answer) -> None:
    """The finding is one of the whole car; the design's case tells it "at the rear"."""
    assert answer.case == "demo-1"
    assert any(
        note.startswith("sy-hum-speed@rear present") and "not used as evidence" in note
        for note in answer.notes
    )


def test_the_case_is_answered_in_full(answer: Answer) -> None:
    """Causes, checks, the part that the code names, and what the reading showed."""
    ids = [row.id for row in answer.causes]

    assert answer.exact
    assert answer.checks
    assert "rc-outer-tie-rod-worn@lf" in ids
    assert {row.part for row in answer.sensor_first} >= {"rc-sas-sensor-failed"}
    assert all(0.0 <= row.responsibility <= row.posterior <= 1.0 for row in answer.causes)
