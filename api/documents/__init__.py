"""Documents in and out: the case, the answer, their JSON Schema.

The one idea: pydantic guards this border and nothing behind it.
"""

from api.documents.answer import (
    Answer,
    CauseRow,
    ChangeRow,
    CheckRow,
    Contrast,
    EvidenceWeight,
    GateChance,
    GateRow,
    KnowledgeUsed,
    PathLink,
    PathRow,
    SensorRow,
    WhileThereRow,
    Why,
)
from api.documents.case import MAX_CODES, Case, CaseShop
from api.documents.reading import MAX_BYTES, read_case
from api.documents.refusal import DocumentRefusedError
from api.documents.schema import SCHEMAS, document_schema
from api.documents.terms import check_terms, places_of

__all__ = [
    "MAX_BYTES",
    "MAX_CODES",
    "SCHEMAS",
    "Answer",
    "Case",
    "CaseShop",
    "CauseRow",
    "ChangeRow",
    "CheckRow",
    "Contrast",
    "DocumentRefusedError",
    "EvidenceWeight",
    "GateChance",
    "GateRow",
    "KnowledgeUsed",
    "PathLink",
    "PathRow",
    "SensorRow",
    "WhileThereRow",
    "Why",
    "check_terms",
    "document_schema",
    "places_of",
    "read_case",
]
