"""The list of one case: all that the next tap needs, before any account of it.

The one idea: whoever stands at the car waits for the list and for nothing else. What it is made
from is kept beside it, so that the account (`api.answering.accounting`) goes on from there and
works nothing out twice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from api.answering.effort import Allowance, Effort
from api.answering.gating import (
    GateRecord,
    barring,
    gate_rows,
    gates_of,
    likely_rows,
    situation_of,
    unsigned_notes,
)
from api.answering.prices import kind_of, stakes_for
from api.answering.sensor import Asked, bare_rows
from api.answering.steps import (
    Bay,
    Offers,
    plan_for,
    standing_at,
    step_rows,
    while_there_rows,
)
from api.answering.wording import labels_of, term_label
from api.documents import Answer, CauseRow, KnowledgeUsed
from graph.build import compile_case
from graph.case import CaseInput
from graph.compiled import CompiledCase
from graph.terms import Knowledge
from triage.bounds import Bounds, bounds
from triage.errors import InferenceTooLargeError
from triage.gates import Situation
from triage.schedule import Plan
from triage.stakes import Stakes
from triage.value import Outlook, look_ahead

__all__ = ["Asking", "Listed", "Worked", "list_case"]

SHOWN = 8  # causes that are shown
_NARROW, _LIGHT = 18, 5e7  # width and products of the sweeps that an interval is made of


@dataclass(frozen=True, slots=True)
class Asking:
    """What comes with a case.

    Attributes
    ----------
    case_id : name of the case, handed through
    shop : anything with ``labour_per_hour``, or None
    record : what the job has written down about its gates
    allowance : what whoever asks can wait for
    """

    case_id: str
    shop: object = None
    record: GateRecord = GateRecord()  # noqa: RUF009 - frozen and empty
    allowance: Allowance = Allowance()  # noqa: RUF009 - frozen


@dataclass(frozen=True, slots=True)
class Worked:
    """All that the list was made from.

    Attributes
    ----------
    interval : where the exact answer is past the budget
    situation : what the gates know of the car
    ranked : the causes that are shown, the one with the largest part first
    """

    knowledge: Knowledge
    case: CaseInput
    asking: Asking
    compiled: CompiledCase
    outlook: Outlook
    stakes: Stakes
    interval: Bounds | None
    situation: Situation
    bay: Bay
    plan: Plan
    offers: Offers
    ranked: tuple[str, ...]

    @property
    def effort(self) -> Effort:
        """Return what of the account is made."""
        statements, allowance = len(self.compiled.items), self.asking.allowance
        if self.interval is not None:  # the account of a case without some findings would mislead
            return Effort(np.inf, statements)
        cost = self.outlook.state.compiled.plan.cost
        return Effort(cost, statements, allowance.patience, allowance.perturbed, allowance.grows)

    @property
    def asked(self) -> Asked:
        """Return what is asked about the parts that codes name."""
        shop = self.asking.shop
        return Asked(
            self.knowledge,
            self.compiled,
            self.outlook,
            self.plan,
            self.offers,
            self.stakes,
            self.bay.gates,
            getattr(shop, "part_prices", None) or {},
            getattr(shop, "currency", ""),
        )


@dataclass(frozen=True, slots=True)
class Listed:
    """A case as far as its list: what it was made from, and the document."""

    worked: Worked
    answer: Answer


def list_case(
    knowledge: Knowledge, case: CaseInput, asking: Asking, pause: Callable[[], None] = lambda: None
) -> Listed:
    """Return the list of one case, its account still to be made.

    Parameters
    ----------
    knowledge : Knowledge
    case : what is known of the car
    asking : what comes with it
    pause : called between the steps; what it raises ends the work

    Raises
    ------
    TriageError
        As `graph.build.compile_case` and `triage.exact.posterior` do.
    """
    compiled = compile_case(knowledge, case)
    stakes = stakes_for(knowledge, compiled.network.causes, asking.shop)
    pause()
    compiled, outlook, interval = _look(compiled, stakes, asking.allowance.work)
    pause()
    situation = situation_of(case, compiled, outlook.state, knowledge)
    gates = gates_of(knowledge, situation, case, asking.record)
    bay = Bay(tuple(gates), not barring(knowledge, gates), standing_at(knowledge, case))
    plan, offers = plan_for(knowledge, compiled, outlook, stakes, bay)
    pause()
    worked = Worked(
        knowledge,
        case,
        asking,
        compiled,
        outlook,
        stakes,
        interval,
        situation,
        bay,
        plan,
        offers,
        _ranked(outlook),
    )
    answer = _document(worked)
    labels = labels_of(knowledge, answer, compiled)
    return Listed(worked, answer.model_copy(update={"labels": labels}))


def _document(worked: Worked) -> Answer:
    """Return the document as far as the list goes."""
    knowledge, compiled, outlook = worked.knowledge, worked.compiled, worked.outlook
    bay, plan, offers = worked.bay, worked.plan, worked.offers
    return Answer(
        case=worked.asking.case_id,
        account="being-made",
        knowledge=KnowledgeUsed(version=knowledge.version, sha256=knowledge.sha256),
        exact=worked.interval is None,
        log_evidence=outlook.state.log_evidence,
        width=outlook.state.compiled.width,
        gates=gate_rows(knowledge, bay.gates),
        likely=likely_rows(knowledge, worked.situation),
        intake=compiled.intake,
        causes=_cause_rows(worked),
        checks=step_rows(knowledge, compiled, outlook, plan, offers),
        while_there=while_there_rows(knowledge, compiled, outlook, plan, offers),
        sensor_first=bare_rows(worked.asked),
        questions=compiled.questions,
        notes=(
            *compiled.notes,
            *unsigned_notes(worked.case, bay.gates, worked.asking.record),
            *_interval_notes(knowledge, worked.interval),
            *worked.effort.left_out(),
        ),
        total_minutes=float(plan.minutes),
        stop_reason=_stop_reason(plan.stopped, on_road=bay.on_road),
    )


def _look(
    compiled: CompiledCase, stakes: Stakes, work: float
) -> tuple[CompiledCase, Outlook, Bounds | None]:
    """Return the case and what is known of it; past the budget, without some findings.

    The chances are then those of the findings that are left, and the interval is that of all
    of them.
    """
    network, evidence = compiled.network, compiled.evidence
    with suppress(InferenceTooLargeError):
        return compiled, look_ahead(network, evidence, compiled.checks, stakes, work=work), None
    interval = bounds(network, evidence, budget=_NARROW, work=min(work, _LIGHT))
    left = {key: value for key, value in evidence.items() if key not in interval.relaxed}
    complaint = compiled.complaint - set(interval.relaxed)
    compiled = replace(compiled, evidence=left, complaint=complaint)
    return compiled, look_ahead(network, left, compiled.checks, stakes), interval


def _interval_notes(knowledge: Knowledge, interval: Bounds | None) -> Iterator[str]:
    """Say what an answer past the budget rests on."""
    if interval is not None:
        names = ", ".join(term_label(knowledge, kind_of(key)) or key for key in interval.relaxed)
        yield (
            "Too much hangs together here for exact numbers. Each range holds the exact chance; "
            f"the order of causes and checks was made without: {names}."
        )


def _stop_reason(stopped: str, *, on_road: bool) -> str:
    """Return why the list ends, in one sentence."""
    road = "" if on_road else " Road checks wait until the gate is closed."
    if stopped == "worth":
        return f"No further check is worth its time until these have answers.{road}"
    if stopped == "empty":
        return f"There is no check left to offer.{road}"
    return f"The list is cut here; it is made anew after every answer.{road}"


def _ranked(outlook: Outlook) -> tuple[str, ...]:
    """Return the causes that are shown, the one with the largest part first."""
    order = np.lexsort((-outlook.q, -outlook.r))[:SHOWN]
    shown = [int(k) for k in order if outlook.r[k] >= 0.005] or [int(k) for k in order[:3]]
    return tuple(outlook.causes[k] for k in shown)


def _cause_rows(worked: Worked) -> tuple[CauseRow, ...]:
    """Return the causes by responsibility; a range they have only where they are intervals.

    A part in the complaint is at most the chance that the cause is there.
    """
    outlook, interval = worked.outlook, worked.interval
    rows = []
    for node in worked.ranked:
        k = outlook.causes.index(node)
        known, r = worked.knowledge.causes[kind_of(node)], float(outlook.r[k])
        rows.append(
            CauseRow(
                id=node,
                responsibility=r,
                posterior=float(outlook.q[k]),
                prior=float(worked.compiled.network.nodes[node].base),
                low=None if interval is None else 0.0,
                high=None if interval is None else max(float(interval.high[node]), r),
                deficiency=known.deficiency,  # type: ignore[arg-type]
                safety=known.safety,
                is_part=known.is_part,
            )
        )
    return tuple(rows)
