"""Converting practice cases: what goes into the document, and what must not."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.importer_practice.convert import (
    case_document,
    convert_file,
    snapshot_findings,
    truth_of,
)

CASE: dict[str, Any] = {
    "id": "v99-made-up-for-this-test",
    "vehicle_class": "compact AWD, 10 years, 100k mi, salted roads",
    "context": ["alignment done after", "no codes"],
    "complaint": "it hums",
    "codes": [
        {
            "code": "C0051",
            "failure_type": "54",
            "status_byte": "0xAF",
            "module": "abs",
            "freeze_frame": {"speed_mph": 0, "supply_v": 9.6},
        }
    ],
    "symptoms_present": ["sy-wear-cup@lr", "sy-hum-load-shift@lr"],
    "symptoms_absent": ["sy-lamp-abs"],
    "hidden_truth": [{"cause": "rc-tyre-cupped", "loc": "lr"}, {"cause": "rc-b", "loc": "central"}],
    "master_order": [{"check": "ck-a", "loc": "lr"}],
    "check_results": [{"check": "ck-a", "loc": "lr", "outcome": "positive", "reading": "cups"}],
    "parts_swapper": {"replaced": "hub", "would_have_fixed": False},
    "tags": [],
}


def test_the_document_holds_what_stands_on_the_ticket() -> None:
    """100,000 miles of 1959 are 160,934 km; the place of a whole-car finding is dropped."""
    document = case_document(CASE)

    assert document["vehicle"] == {
        "label": CASE["vehicle_class"],
        "drivetrain": "awd",
        "age_years": 10,
        "odometer_km": 160934,
        "salted_roads": True,
        "facts": [],
    }
    assert document["context"] == ["cx-steering-alignment-recent"]
    assert document["findings"] == [
        {"id": "sy-wear-cup", "place": "lr", "state": "present"},
        {"id": "sy-hum-load-shift", "state": "present"},
        {"id": "sy-ff-low-voltage", "state": "present"},
        {"id": "sy-ff-standstill", "state": "present"},
        {"id": "sy-lamp-abs", "state": "absent"},
    ]
    assert document["codes"][0]["status"] == "AF"


def test_the_truth_is_kept_out_of_the_document() -> None:
    """A case that names its own answer is no practice; nor may its file name."""
    text = json.dumps(case_document(CASE))

    assert "rc-tyre-cupped" not in text
    assert "made-up" not in text
    assert truth_of(CASE)["causes"] == ["rc-tyre-cupped@lr", "rc-b"]
    assert truth_of(CASE)["results"][0]["verdict"] == "found"


def test_a_phrase_that_nobody_listed_stops_the_conversion() -> None:
    """A circumstance that is dropped silently would be missed by nobody."""
    with pytest.raises(KeyError, match="a new phrase"):
        case_document({**CASE, "context": ["a new phrase"]})


@pytest.mark.parametrize(
    ("snapshot", "expected"),
    [
        ({}, []),
        ({"speed_mph": 66, "steering_deg": 0}, ["sy-ff-high", "sy-ff-straight"]),
        ({"speed_mph": 9}, []),
        ({"lateral_g": 0.37, "brake": "on"}, ["sy-ff-left-curve", "sy-ff-braking"]),
    ],
)
def test_a_snapshot_states_only_what_is_beyond_doubt(
    snapshot: dict[str, Any], expected: list[str]
) -> None:
    """Moving off and walking pace need the trend, which a snapshot lacks."""
    assert snapshot_findings(snapshot) == expected


def test_converting_writes_one_document_a_case_and_one_truth(tmp_path: Path) -> None:
    """The folder layout is what the fixtures have."""
    source = tmp_path / "cases.json"
    source.write_text(json.dumps([CASE]), encoding="utf-8")

    assert convert_file(source, tmp_path / "out") == 1
    assert sorted(p.name for p in (tmp_path / "out").rglob("*.json")) == ["truth.json", "v99.json"]
