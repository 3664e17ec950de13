"""One job answered: the answer document, complete with the words for its ids.

The one idea: a pure function of knowledge, case, record and shop. What it was made from is
hashed into a key, so that the same question is never worked out twice and an answer that was
shown once can be shown again exactly.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from functools import cache
from typing import Any

from api.answering import answer_case
from api.answering.effort import Allowance
from api.answering.gating import GateRecord
from api.documents import Answer, Case
from api.labels import labels_in
from graph.terms import Knowledge

__all__ = ["WORK", "answer_for", "answer_key", "nothing_known"]

#: Products that one sweep may take while somebody waits in the bay: some seconds, and half a
#: gigabyte. Past it the chances are intervals, and the answer says so.
WORK = 6e8


def answer_for(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
    """Return the answer to one job as it is shown.

    Raises
    ------
    TriageError
        If what the job says can't be answered as a whole.
    """
    answer = answer_case(
        knowledge,
        case.to_input(),
        case_id=case.case,
        shop=case.shop,
        record=record,
        allowance=Allowance(WORK),
    )
    told = labels_in(knowledge, (answer.model_dump_json(),))
    return answer.model_copy(
        update={
            "labels": {**told, **answer.labels},
            "vehicle": case.vehicle.label,
            "complaint": case.complaint,
            "currency": case.shop.currency,
        }
    )


def nothing_known(case: Case) -> bool:
    """Return whether there is nothing to go by yet: no list is made from nothing."""
    return not (case.codes or case.findings or case.verdicts)


def answer_key(case: Case, record: GateRecord, knowledge: str) -> str:
    """Return the SHA-256 of everything that an answer depends on.

    Parameters
    ----------
    case : its own name does not count
    record : what has been written down about the gates
    knowledge : SHA-256 of the knowledge
    """
    parts = {
        "case": case.model_dump(mode="json", exclude={"case"}),
        "record": [_plain(event) for event in record.events],
        "licensed": sorted(record.licensed),
        "knowledge": knowledge,
    }
    text = json.dumps(parts, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> Any:
    """Return a part of the record as JSON knows it, sets in order."""
    if dataclasses.is_dataclass(value):
        kind: Any = type(value)
        return {"kind": kind.__name__, **{n: _plain(getattr(value, n)) for n in _names(kind)}}
    return sorted(value) if isinstance(value, frozenset) else value


@cache
def _names(kind: Any) -> tuple[str, ...]:
    """Return the fields of a part of the record."""
    return tuple(field.name for field in dataclasses.fields(kind))
