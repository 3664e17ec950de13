"""Case and answer documents, and their published schema."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from pydantic import ValidationError

from api.documents import (
    SCHEMAS,
    Answer,
    CaseShop,
    CauseRow,
    check_terms,
    document_schema,
    places_of,
    read_case,
)
from graph.build import compile_network
from graph.load import load_knowledge
from graph.terms import SCOPES
from tests.api.sample_answer import sample_answer
from triage.errors import UnknownTermError

CASES = sorted(Path("fixtures/cases").glob("*.json"))

#: A full case, every field used.
FULL: dict[str, Any] = {
    "format": "drypark-case/1",
    "case": "full",
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
    "complaint": "It hums.\nAnd the lamp is on.",
    "codes": [
        {
            "code": "C0051",
            "failure_type": "64",
            "status": "28",
            "module": "abs",
            "layout": "current",
        }
    ],
    "findings": [{"id": "sy-brake-drag", "place": "rear", "state": "present"}],
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
                "limit_source": "typed in by the technician from the maker's page",
            },
        }
    ],
    "shop": {"labour_per_hour": 120, "currency": "EUR"},
}


def test_a_full_case_is_read_and_known() -> None:
    """Every field of the format arrives, and the knowledge has every id."""
    case = read_case(json.dumps(FULL).encode())
    check_terms(case, load_knowledge())

    given = case.to_input()

    assert given.vehicle.odometer_km == 181000
    assert given.codes[0].failure_type == "64"
    assert given.findings[0].place == "rear"
    assert given.verdicts[0].reading is not None
    assert given.verdicts[0].reading.limit_kind == "upper"
    assert case.shop == CaseShop(labour_per_hour=120, currency="EUR")


def test_a_case_of_two_fields_leaves_the_rest_unsaid() -> None:
    """Unsaid is not the same as no: unknown facts exclude nothing."""
    given = read_case(b'{"format": "drypark-case/1", "case": "bare"}').to_input()

    assert given.vehicle.salted_roads is None
    assert given.vehicle.drivetrain == "unknown"


def test_a_failure_type_written_into_the_code_moves_to_its_field() -> None:
    """Scan tools show C0051-64; nobody should have to take it apart."""
    raw = {"format": "drypark-case/1", "case": "x", "codes": [{"code": "c0051-2f", "status": "a8"}]}
    code = read_case(json.dumps(raw).encode()).to_input().codes[0]

    assert (code.code, code.failure_type, code.status) == ("C0051", "2F", "A8")


def test_a_byte_order_mark_is_no_reason_to_refuse() -> None:
    """Some editors write one without asking."""
    assert read_case(b'\xef\xbb\xbf{"format": "drypark-case/1", "case": "x"}').case == "x"


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_a_demo_case_is_read_and_known(path: Path) -> None:
    """A demo that is refused shows nothing; its name is the file's name."""
    case = read_case(path)
    check_terms(case, load_knowledge())

    assert case.case == path.stem
    assert case.complaint


def test_all_demo_cases_were_collected() -> None:
    """A glob that finds nothing must fail here."""
    assert len(CASES) >= 4


def test_every_demo_case_is_told_of_in_the_readme() -> None:
    """JSON has no comments: what is invented is said beside it."""
    text = Path("fixtures/README.md").read_text(encoding="utf-8")

    assert not [path.name for path in CASES if f"`{path.name}`" not in text]


def test_an_answer_comes_back_from_its_json_unchanged() -> None:
    """What is written must be readable by the same model."""
    answer = sample_answer()

    assert Answer.model_validate_json(json.dumps(answer.to_document())) == answer


def test_the_deficiency_class_is_called_class_outside() -> None:
    """The word is the format's; Python cannot use it as a name."""
    assert sample_answer().to_document()["causes"][0]["class"] == "major"


def test_words_are_made_from_the_numbers() -> None:
    """Word and figure cannot differ when one is made from the other."""
    first = sample_answer().causes[0]

    assert first.words == "about as likely as not"
    assert first.lift == first.posterior - first.prior
    assert first.evidence[0].words == "substantial, for"


def test_an_answer_refuses_a_probability_above_one() -> None:
    """A wrong number must not reach a person."""
    good = sample_answer().causes[0].model_dump()

    with pytest.raises(ValidationError, match="less than or equal to 1"):
        CauseRow.model_validate({**good, "posterior": 1.3})


@pytest.mark.parametrize("name", SCHEMAS)
def test_a_schema_is_a_schema(name: str) -> None:
    """The validator is an independent library, the dialect JSON Schema 2020-12."""
    schema = document_schema(name)

    assert jsonschema_rs.meta.is_valid(schema)
    assert schema["$schema"].endswith("2020-12/schema")


def test_three_documents_have_a_schema() -> None:
    """Partner of the sweep above."""
    assert list(SCHEMAS) == ["case", "answer", "network"]


def test_the_case_schema_takes_and_refuses_what_the_reader_does() -> None:
    """Others write cases by the schema: it must not promise more than is read."""
    validator = jsonschema_rs.validator_for(document_schema("case"))

    assert validator.is_valid(FULL)
    assert not validator.is_valid({**FULL, "odd": 1})
    assert not validator.is_valid({**FULL, "codes": [{"code": "C0051", "status": "2"}]})


def test_the_answer_schema_takes_an_answer() -> None:
    """Others read answers by the schema."""
    validator = jsonschema_rs.validator_for(document_schema("answer"))

    assert validator.is_valid(sample_answer().to_document())


def test_the_network_schema_takes_the_compiled_network() -> None:
    """The export is for engines that know only the schema."""
    validator = jsonschema_rs.validator_for(document_schema("network"))

    assert validator.is_valid(compile_network(load_knowledge()).to_document())


def test_an_unknown_schema_names_the_nearest() -> None:
    """A slip of the hand gets its word back."""
    with pytest.raises(UnknownTermError, match="did you mean 'answer'"):
        document_schema("answers")


@pytest.mark.parametrize("scope", SCOPES)
def test_a_scope_may_be_stated_at_its_own_places_and_wider_ones(scope: str) -> None:
    """Somewhere at the front: that is a statement about two corners."""
    places = places_of(scope)

    assert set(SCOPES[scope]) <= set(places)
    assert "vehicle" in places
