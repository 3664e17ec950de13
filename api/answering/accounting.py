"""The account of a list: how firm it is, what weighs how much, why, and the sensor first or not.

The one idea: it comes after the list and goes on from what that was made from. It is made in
parts, and between two of them whoever has something more urgent to do can hold it up or end it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain, repeat
from typing import Any, Final

from api.answering.effort import FEWEST_RUNS, MOST_RUNS
from api.answering.listing import Listed, Worked
from api.answering.reasons import path_rows, path_sentence
from api.answering.sensor import sensor_rows
from api.answering.why import Account, firmer, said, why_first
from api.answering.wording import labels_of
from api.documents import Answer, CauseRow, EvidenceWeight, PathRow, SensorRow
from graph.compiled import EvidenceItem, combine
from triage.arrays import Floats
from triage.explain import leave_one_out
from triage.firmness import Firmness, firmness
from triage.responsibility import responsibility

__all__ = ["PARTS", "Pause", "account_for", "accounts_for"]

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
    return _accounted(listed, _firm(listed, range(listed.worked.effort.runs), pause), pause)


def accounts_for(listed: Listed, pause: Pause = lambda part: None) -> Iterator[Answer]:
    """Yield the whole answer as `account_for` makes it, and then ever fuller ones.

    First with what was left out because it takes long, then with more and more perturbed answers
    until there are `MOST_RUNS`. An answer of intervals has no more to it.

    Parameters
    ----------
    listed, pause : as in `account_for`
    """
    worked = listed.worked
    effort, state = worked.effort, worked.outlook.state
    firm = _firm(listed, range(effort.runs), pause)
    answer = _accounted(listed, firm, pause)
    yield answer
    missing = set(effort.left_out())
    if not effort.is_exact or (firm.runs == MOST_RUNS and not missing):
        return
    listed = _without_hurry(listed, missing)
    if missing:
        answer = _accounted(listed, firm, pause, answer.sensor_first)
        yield answer
    while firm.runs < MOST_RUNS:
        runs = range(firm.runs, min(max(2 * firm.runs, FEWEST_RUNS), MOST_RUNS))
        more = _firm(listed, runs, pause)
        firm = firm.with_more(more, state.q)
        answer = _firmer(listed, answer, (firm, more), pause)
        yield answer


def _firm(listed: Listed, runs: range, pause: Pause) -> Firmness:
    """Return the perturbed answers with these numbers."""
    pause(PARTS[0])
    outlook = listed.worked.outlook
    return firmness(outlook.state, outlook.r, runs=runs, pause=lambda: pause(PARTS[0]))


def _accounted(
    listed: Listed, firm: Firmness, pause: Pause, sensor: tuple[SensorRow, ...] | None = None
) -> Answer:
    """Return the whole answer.

    Parameters
    ----------
    firm : the perturbed answers
    sensor : the rows of the parts that codes name, where they are made
    """
    worked = listed.worked
    knowledge, compiled, outlook = worked.knowledge, worked.compiled, worked.outlook
    effort, ranked = worked.effort, worked.ranked
    pause(PARTS[1])
    weights: dict[str, list[float]] = {}
    if effort.weights:
        named = (part for part in compiled.parts if part in outlook.causes)
        explained = tuple(dict.fromkeys((*ranked, *named)))
        weights = leave_one_out(outlook.state, compiled.items, said, combine, explained)
    paths = path_rows(knowledge, compiled, ranked[:EXPLAINED])
    steps = chain(PARTS[2:5], repeat(PARTS[4]))
    why = why_first(_account(worked, firm), ranked, (weights, paths), lambda: pause(next(steps)))
    if sensor is None:
        sensor = sensor_rows(worked.asked, (firm.low, firm.high), lambda: pause(PARTS[5]))
    answer = listed.answer.model_copy(
        update={
            "account": "made",
            "causes": _cause_rows(listed, firm, weights, paths),
            "sensor_first": sensor,
            "changes_most": tuple(row.id for row in why.would_change) if why else (),
            "why": why,
        }
    )
    return answer.model_copy(update={"labels": labels_of(knowledge, answer, compiled)})


def _without_hurry(listed: Listed, missing: Collection[str]) -> Listed:
    """Return a list whose account leaves nothing out, without the notes that something is."""
    asking = listed.worked.asking
    asking = replace(asking, allowance=replace(asking.allowance, patience=math.inf))
    notes = tuple(note for note in listed.answer.notes if note not in missing)
    return Listed(
        replace(listed.worked, asking=asking), listed.answer.model_copy(update={"notes": notes})
    )


def _firmer(
    listed: Listed, answer: Answer, firm: tuple[Firmness, Firmness], pause: Pause
) -> Answer:
    """Return an answer with all perturbed answers so far, and those of them that are new."""
    worked, (every, new) = listed.worked, firm
    why = answer.why
    if why is not None:
        why = firmer(_account(worked, new), why, lambda: pause(PARTS[4]))
    causes = worked.outlook.causes
    parts = (
        row.model_copy(update=_band(every.low, every.high, causes.index(row.part), row.posterior))
        for row in answer.sensor_first
    )
    ends = _ends(listed, every)
    rows = (
        row.model_copy(update=_band(*ends, causes.index(row.id), row.responsibility))
        for row in answer.causes
    )
    told = {"why": why, "causes": tuple(rows), "sensor_first": tuple(parts)}
    return answer.model_copy(update=told)


def _ends(listed: Listed, firm: Firmness) -> tuple[Floats, Floats]:
    """Return the ends of the ranges of the responsibilities."""
    rho = listed.worked.outlook.rho
    return responsibility(firm.low, rho), responsibility(firm.high, rho)


def _band(low: Floats, high: Floats, k: int, here: float) -> dict[str, float]:
    """Return the ends of one range, which holds the present value."""
    return {"low": min(float(low[k]), here), "high": max(float(high[k]), here)}


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
    ends, rows = _ends(listed, firm), []
    for row in listed.answer.causes:
        why = paths.get(row.id, ())
        told: dict[str, Any] = {
            "evidence": _evidence(worked.compiled.items, weights.get(row.id, [])),
            "because": tuple(path_sentence(worked.knowledge, path) for path in why),
        }
        if worked.interval is None and firm.runs:  # else the list has the range, or there is none
            told |= _band(*ends, worked.outlook.causes.index(row.id), row.responsibility)
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
