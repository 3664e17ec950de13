"""`drypark triage`: from a case document to an answer, shown or as JSON."""

from __future__ import annotations

from api.answering import answer_case
from api.commands.output import write_json
from api.commands.sources import case_from
from api.documents import check_terms
from api.terminal import Page, show_answer
from graph.load import load_knowledge

__all__ = ["run"]


def run(name: str, *, as_json: bool) -> None:
    """Answer the case called `name`.

    Raises
    ------
    TriageError
        If the case cannot be read or answered.
    """
    case = case_from(name)
    knowledge = load_knowledge()
    check_terms(case, knowledge)
    answer = answer_case(knowledge, case.to_input(), case_id=case.case, shop=case.shop)
    answer = answer.model_copy(
        update={
            "vehicle": case.vehicle.label,
            "complaint": case.complaint,
            "currency": case.shop.currency,
        }
    )
    if as_json:
        write_json(answer.to_document())
    else:
        show_answer(answer, Page())
