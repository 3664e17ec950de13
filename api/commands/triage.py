"""`drypark triage`: from a case document to an answer, shown or as JSON."""

from __future__ import annotations

import math
from collections.abc import Iterator

from api.answering import answer_case
from api.answering.effort import Allowance
from api.commands.output import write_json
from api.commands.sources import case_from
from api.documents import Answer, CheckRow, WhileThereRow, check_terms
from api.labels import labels_in
from api.terminal import Page, show_answer
from graph.load import load_knowledge

__all__ = ["run"]


#: At a desk somebody waits some seconds longer for the whole account than in the bay.
PATIENCE = 10.0


def run(name: str, *, as_json: bool, full: bool) -> None:
    """Answer the case called `name`; `full` makes all of its account, however long it takes.

    Raises
    ------
    TriageError
        If the case cannot be read or answered.
    """
    case = case_from(name)
    knowledge = load_knowledge()
    check_terms(case, knowledge)
    allowance = Allowance(patience=math.inf if full else PATIENCE)
    answer = answer_case(
        knowledge, case.to_input(), case_id=case.case, shop=case.shop, allowance=allowance
    )
    answer = answer.model_copy(
        update={
            "labels": {**labels_in(knowledge, _texts(answer)), **answer.labels},
            "vehicle": case.vehicle.label,
            "complaint": case.complaint,
            "currency": case.shop.currency,
        }
    )
    if as_json:
        write_json(answer.to_document())
    else:
        show_answer(answer, Page())


def _texts(answer: Answer) -> Iterator[str]:
    """Yield every text of an answer that can name an id."""
    yield from (*answer.notes, *answer.questions, *answer.changes_most, *answer.intake)
    for gate in answer.gates:
        yield from (gate.id, *gate.because, *gate.closes_on)
    for cause in answer.causes:
        yield from (cause.id, *cause.because, *(one.finding for one in cause.evidence))
    rows: tuple[CheckRow | WhileThereRow, ...] = (*answer.checks, *answer.while_there)
    for row in rows:
        yield from (row.id, row.setup, *row.finds)
    yield from (row.part for row in answer.sensor_first)
