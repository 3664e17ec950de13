"""The gates of a job about which nothing else is known yet.

The one idea: no list is made from nothing, but a safety question that was not asked counts as
yes. So the gates are worked out by themselves, from the answers to those questions alone, and
stand on the page before there is anything to look for.
"""

from __future__ import annotations

from api.answering.gating import GateRecord, gate_rows, gates_of
from api.documents import Answer, Case
from api.documents.answer import KnowledgeUsed
from api.labels import labels_in
from graph.terms import Knowledge
from triage.gate_closing import Answered
from triage.gates import Situation

__all__ = ["gates_alone"]


def gates_alone(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer | None:
    """Return an answer that holds gates and nothing else; nothing where no question was put.

    Parameters
    ----------
    case : without code, finding or verdict
    record : what has been written down about the gates
    """
    if not any(isinstance(event, Answered) for event in record.events):
        return None
    situation = Situation(
        contexts=frozenset(case.context),
        facts=frozenset(case.vehicle.facts),
        age_years=case.vehicle.age_years,
        salted=case.vehicle.salted_roads,
    )
    rows = gate_rows(knowledge, gates_of(knowledge, situation, case.to_input(), record))
    answer = Answer(
        case=case.case,
        knowledge=KnowledgeUsed(version=knowledge.version, sha256=knowledge.sha256),
        exact=True,
        log_evidence=0.0,
        width=0,
        gates=rows,
        complaint=case.complaint,
    )
    told = labels_in(knowledge, (answer.model_dump_json(),))
    return answer.model_copy(update={"labels": told})
