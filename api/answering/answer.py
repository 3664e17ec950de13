"""One case answered: the answer document from knowledge, case and shop.

The order of the work is the order of the answer: first the list (`api.answering.listing`), then
the account of it (`api.answering.accounting`). Whoever can show the list before its account
takes the two one after the other; here are both.
"""

from __future__ import annotations

from api.answering.accounting import account_for
from api.answering.effort import Allowance
from api.answering.gating import GateRecord
from api.answering.listing import Asking, list_case
from api.documents import Answer
from graph.case import CaseInput
from graph.terms import Knowledge

__all__ = ["answer_case"]


def answer_case(  # noqa: PLR0913 - each is one plain thing that a caller states
    knowledge: Knowledge,
    case: CaseInput,
    *,
    case_id: str,
    shop: object = None,
    record: GateRecord = GateRecord(),  # noqa: B008 - frozen and empty
    allowance: Allowance = Allowance(),  # noqa: B008 - frozen
) -> Answer:
    """Return the answer to one case, the account made.

    Parameters
    ----------
    knowledge : Knowledge
    case : what is known of the car
    case_id : name of the case, handed through
    shop : anything with ``labour_per_hour``, or None
    record : what the job has written down about its gates
    allowance : what whoever asks can wait for

    Raises
    ------
    TriageError
        As `graph.build.compile_case` and `triage.exact.posterior` do.
    """
    return account_for(list_case(knowledge, case, Asking(case_id, shop, record, allowance)))
