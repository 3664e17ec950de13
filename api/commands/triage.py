"""`drypark triage`: from a case document to an answer, shown or as JSON.

On the terminal the list is written as soon as it stands; whoever waits reads it while its
account is made, and sees how far that is.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from api.answering.accounting import PARTS, account_for
from api.answering.effort import Allowance
from api.answering.listing import Asking, Listed, list_case
from api.commands.output import write_json
from api.commands.sources import case_from, know_terms
from api.documents import Answer, Case, CheckRow, WhileThereRow
from api.labels import labels_in
from api.terminal import Page, Progress, show_account, show_list, stoppable, unfinished
from graph.load import load_knowledge
from graph.terms import Knowledge

__all__ = ["run"]


#: At a desk somebody waits some seconds longer for the whole account than in the bay.
PATIENCE = 10.0
_NOTHING = "there is no list yet; nothing was changed"
_LIST = "the list above is whole, its account was not made"


def run(name: str, *, as_json: bool, full: bool) -> None:
    """Answer the case called `name`; `full` makes all of its account, however long it takes.

    Raises
    ------
    TriageError
        If the case cannot be read or answered.
    """
    case = case_from(name)
    knowledge = load_knowledge()
    know_terms(name, case, knowledge)
    allowance = Allowance(patience=math.inf if full else PATIENCE)
    with _stops(_NOTHING):
        asking = Asking(case.case, case.shop, allowance=allowance)
        listed = list_case(knowledge, case.to_input(), asking)
    if as_json:
        with _stops("no answer was written"):
            document = _worded(knowledge, case, _account(listed)).to_document()
        write_json(document)
        return
    page = Page()
    show_list(_worded(knowledge, case, listed.answer), page)
    sys.stdout.flush()
    with _stops(_LIST):
        answer = _account(listed)
    show_account(_worded(knowledge, case, answer), page)


@contextmanager
def _stops(left: str) -> Iterator[None]:
    """End the work inside at Ctrl-C, with what is left of it in a sentence."""
    with unfinished(left), stoppable(left):
        yield


def _account(listed: Listed) -> Answer:
    """Make the account, and say how far it is."""
    with Progress() as told:
        return account_for(
            listed, lambda part: told(f"the account: {part}", PARTS.index(part) + 1, len(PARTS))
        )


def _worded(knowledge: Knowledge, case: Case, answer: Answer) -> Answer:
    """Return an answer with the words of its ids, and with what the case says of itself."""
    return answer.model_copy(
        update={
            "labels": {**labels_in(knowledge, _texts(answer)), **answer.labels},
            "vehicle": case.vehicle.label,
            "complaint": case.complaint,
            "currency": case.shop.currency,
        }
    )


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
