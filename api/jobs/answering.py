"""One job answered: first its list, then the account, each complete with the words for its ids.

The one idea: a pure function of knowledge, case, record and shop. What it was made from is
hashed into a key, so that the same question is never worked out twice and an answer that was
shown once can be shown again exactly.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from api.answering import Asking, accounts_for, list_case
from api.answering.accounting import Pause
from api.answering.effort import Allowance
from api.answering.gating import GateRecord, openings_in
from api.documents import Answer, Case
from api.labels import labels_in
from graph.terms import Knowledge
from triage.gates import Opening

__all__ = [
    "WORK",
    "Begun",
    "Compute",
    "answer_for",
    "answer_key",
    "at_once",
    "begin_answer",
    "nothing_known",
]

#: Products that one sweep may take while somebody waits in the bay: some seconds, and half a
#: gigabyte. Past it the chances are intervals, and the answer says so.
WORK = 6e8
#: The account comes after the list and gives way to every other list: time for perturbed answers.
PERTURBED = 10.0


@dataclass(frozen=True, slots=True)
class Begun:
    """An answer as far as its list.

    Attributes
    ----------
    answer : the document
    finish : makes the account, then the same ever fuller, and calls what it is given before each
        part; None where the document is whole
    openings : tells every trigger of a gate that holds, from what the list was made from
    """

    answer: Answer
    finish: Callable[[Pause], Iterator[Answer]] | None = None
    openings: Callable[[], list[Opening]] | None = None


#: Begins an answer; calls the last argument between the steps of its work.
Compute = Callable[[Knowledge, Case, GateRecord, Callable[[], None]], Begun]


def at_once(make: Callable[[Knowledge, Case, GateRecord], Answer]) -> Compute:
    """Return what begins an answer from something that makes it whole at once."""
    return lambda knowledge, case, record, _pause: Begun(make(knowledge, case, record))


def begin_answer(
    knowledge: Knowledge, case: Case, record: GateRecord, pause: Callable[[], None]
) -> Begun:
    """Return the list of one job as it is shown, with what the account goes on from.

    Parameters
    ----------
    pause : called between the steps of the work; what it raises ends it

    Raises
    ------
    TriageError
        If what the job says can't be answered as a whole.
    """
    asking = Asking(case.case, case.shop, record, Allowance(WORK, 1.0, PERTURBED, grows=True))
    listed = list_case(knowledge, case.to_input(), asking, pause)

    def finish(between: Pause) -> Iterator[Answer]:
        for answer in accounts_for(listed, between):
            yield _as_shown(knowledge, case, answer)

    return Begun(
        _as_shown(knowledge, case, listed.answer),
        finish,
        lambda: openings_in(knowledge, listed.worked.situation),
    )


def answer_for(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
    """Return the answer to one job as it is shown, its account as it is made at first.

    Raises
    ------
    TriageError
        If what the job says can't be answered as a whole.
    """
    begun = begin_answer(knowledge, case, record, lambda: None)
    return next(begun.finish(lambda part: None)) if begun.finish else begun.answer


def _as_shown(knowledge: Knowledge, case: Case, answer: Answer) -> Answer:
    """Return an answer with the words of everything it names, and what the case says of itself."""
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
