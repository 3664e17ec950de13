"""The account of a list: how firm it is, what weighs how much, why, and the sensor first or not.

The one idea: it comes after the list and goes on from what that was made from. It is made in
parts, and between two of them whoever has something more urgent to do can hold it up or end it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import chain, repeat
from typing import Any, Final

from api.answering.listing import Listed, Worked
from api.answering.reasons import path_rows, path_sentence
from api.answering.sensor import sensor_rows
from api.answering.why import Account, said, why_first
from api.answering.wording import labels_of
from api.documents import Answer, CauseRow, EvidenceWeight, PathRow
from graph.compiled import EvidenceItem, combine
from triage.explain import leave_one_out
from triage.firmness import Firmness, firmness
from triage.responsibility import responsibility

__all__ = ["PARTS", "Pause", "account_for"]

EXPLAINED = 5  # of the causes shown, so many with their paths
#: The parts, in the order in which they are made.
PARTS: Final = (
    "how firm the chances are",
    "what each statement weighs",
    "how the first cause came to be first",
    "what would change it",
    "how firm the next check is",
    "the sensor first or not",
)
Pause = Callable[[str], None]


def account_for(listed: Listed, pause: Pause = lambda part: None) -> Answer:
    """Return the whole answer: the list with its account.

    Parameters
    ----------
    listed : the list
    pause : called before each part with its name out of `PARTS`, and again now and then within
        a long one; what it raises ends the work
    """
    worked = listed.worked
    knowledge, compiled, outlook = worked.knowledge, worked.compiled, worked.outlook
    effort, ranked, state = worked.effort, worked.ranked, outlook.state
    pause(PARTS[0])
    firm = firmness(state, outlook.r, runs=effort.runs, pause=lambda: pause(PARTS[0]))
    pause(PARTS[1])
    weights: dict[str, list[float]] = {}
    if effort.weights:
        named = (part for part in compiled.parts if part in outlook.causes)
        explained = tuple(dict.fromkeys((*ranked, *named)))
        weights = leave_one_out(state, compiled.items, said, combine, explained)
    paths = path_rows(knowledge, compiled, ranked[:EXPLAINED])
    steps = chain(PARTS[2:5], repeat(PARTS[4]))
    why = why_first(_account(worked, firm), ranked, (weights, paths), lambda: pause(next(steps)))
    band = (firm.low, firm.high)
    answer = listed.answer.model_copy(
        update={
            "account": "made",
            "causes": _cause_rows(listed, firm, weights, paths),
            "sensor_first": sensor_rows(worked.asked, band, lambda: pause(PARTS[5])),
            "changes_most": tuple(row.id for row in why.would_change) if why else (),
            "why": why,
        }
    )
    return answer.model_copy(update={"labels": labels_of(knowledge, answer, compiled)})


def _account(worked: Worked, firm: Firmness) -> Account:
    """Return what the account of the first cause is made from."""
    return Account(
        worked.knowledge,
        worked.compiled,
        worked.outlook,
        firm,
        worked.plan,
        worked.offers,
        worked.stakes,
        worked.bay,
        worked.effort,
    )


def _cause_rows(
    listed: Listed,
    firm: Firmness,
    weights: Mapping[str, Sequence[float]],
    paths: Mapping[str, tuple[PathRow, ...]],
) -> tuple[CauseRow, ...]:
    """Return the causes of the list with their ranges and reasons."""
    worked = listed.worked
    low = responsibility(firm.low, worked.outlook.rho)
    high = responsibility(firm.high, worked.outlook.rho)
    rows = []
    for row in listed.answer.causes:
        k, here = worked.outlook.causes.index(row.id), row.responsibility
        why = paths.get(row.id, ())
        told: dict[str, Any] = {
            "evidence": _evidence(worked.compiled.items, weights.get(row.id, [])),
            "because": tuple(path_sentence(worked.knowledge, path) for path in why),
        }
        if worked.interval is None:  # else the list has the range
            told |= {"low": min(float(low[k]), here), "high": max(float(high[k]), here)}
        rows.append(row.model_copy(update=told))
    return tuple(rows)


def _evidence(
    items: Sequence[EvidenceItem], weights: Sequence[float]
) -> tuple[EvidenceWeight, ...]:
    """Return the items that weigh at least a tenth of a ban, heaviest first."""
    pairs = sorted(zip(items, weights, strict=False), key=lambda pair: -abs(pair[1]))
    return tuple(
        EvidenceWeight(finding=item.key, decibans=float(w)) for item, w in pairs if abs(w) >= 1.0
    )
