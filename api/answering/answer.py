"""One case answered: the answer document from knowledge, case and shop.

The order of the work is the order of the answer: gates, intake, the list,
causes with their reasons, the part that a code names.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from api.answering.effort import Allowance, Effort
from api.answering.gating import (
    GateRecord,
    barring,
    gate_rows,
    gates_of,
    situation_of,
    unsigned_notes,
)
from api.answering.prices import kind_of, stakes_for
from api.answering.reasons import path_rows, path_sentence
from api.answering.sensor import Asked, sensor_rows
from api.answering.steps import (
    Bay,
    Offers,
    plan_for,
    standing_at,
    step_rows,
    while_there_rows,
)
from api.answering.why import Account, said, why_first
from api.documents import Answer, CauseRow, EvidenceWeight, KnowledgeUsed, PathRow, SensorRow
from graph.build import compile_case
from graph.case import CaseInput
from graph.compiled import CompiledCase, EvidenceItem, combine
from graph.terms import Knowledge
from triage.bounds import Bounds, bounds
from triage.compiling import WIDTH_BUDGET
from triage.compiling import compile_case as plan_case
from triage.explain import leave_one_out
from triage.firmness import Firmness, firmness
from triage.gates import OpenGate
from triage.responsibility import responsibility
from triage.schedule import Plan
from triage.stakes import Stakes
from triage.value import Outlook, look_ahead

__all__ = ["answer_case"]

SHOWN = 8  # causes that are shown
EXPLAINED = 5  # of which so many with their paths
_NO_BUDGET = 64  # nothing is built, only planned
_NARROW, _LIGHT = 18, 5e7  # width and products of the sweeps that an interval is made of


@dataclass(frozen=True, slots=True)
class _Work:
    """What the rows are made from."""

    knowledge: Knowledge
    case: CaseInput
    compiled: CompiledCase
    outlook: Outlook
    firm: Firmness
    stakes: Stakes
    interval: Bounds | None  # where the exact answer is past the budget


def answer_case(  # noqa: PLR0913 - each is one plain thing that a caller states
    knowledge: Knowledge,
    case: CaseInput,
    *,
    case_id: str,
    shop: object = None,
    record: GateRecord = GateRecord(),  # noqa: B008 - frozen and empty
    allowance: Allowance = Allowance(),  # noqa: B008 - frozen
) -> Answer:
    """Return the answer to one case.

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
    compiled = compile_case(knowledge, case)
    stakes = stakes_for(knowledge, compiled.network.causes, shop)
    compiled, outlook, interval = _look(compiled, stakes, allowance.work)
    state = outlook.state
    if interval is None:
        effort = Effort(state.compiled.plan.cost, len(compiled.items), allowance.patience)
    else:  # the account of a case without some findings would mislead
        effort = Effort(np.inf, len(compiled.items))
    firm = firmness(state, outlook.r, runs=effort.runs)
    made = _Work(knowledge, case, compiled, outlook, firm, stakes, interval)
    situation = situation_of(case, compiled, state, knowledge)
    gates = gates_of(knowledge, situation, case, record)
    on_road = not barring(knowledge, gates)
    bay = Bay(tuple(gates), on_road, standing_at(knowledge, case))
    plan, offers = plan_for(knowledge, compiled, outlook, stakes, bay)
    rows = step_rows(knowledge, compiled, outlook, plan, offers)
    ranked = _ranked(outlook)
    named = tuple(part for part in compiled.parts if part in outlook.causes)
    explained = tuple(dict.fromkeys((*ranked, *named)))
    weights: dict[str, list[float]] = {}
    if effort.weights:
        weights = leave_one_out(state, compiled.items, said, combine, explained)
    paths = path_rows(knowledge, compiled, ranked[:EXPLAINED])
    forced = any(gate.because and gate.closes_on for gate in gates)
    account = Account(
        knowledge, compiled, outlook, firm, plan, offers, stakes, bay.setup, effort, forced
    )
    why = why_first(account, ranked, weights, paths)
    answer = Answer(
        case=case_id,
        knowledge=KnowledgeUsed(version=knowledge.version, sha256=knowledge.sha256),
        exact=interval is None,
        log_evidence=state.log_evidence,
        width=state.compiled.width,
        gates=gate_rows(knowledge, gates),
        intake=compiled.intake,
        causes=_cause_rows(made, ranked, weights, paths),
        checks=rows,
        while_there=while_there_rows(knowledge, compiled, outlook, plan, offers),
        sensor_first=_sensor_rows(made, plan, offers, gates, shop),
        questions=compiled.questions,
        notes=(
            *compiled.notes,
            *unsigned_notes(case, gates, record),
            *_interval_notes(made),
            *effort.left_out(),
        ),
        total_minutes=float(plan.minutes),
        stop_reason=_stop_reason(plan.stopped, on_road=on_road),
        changes_most=tuple(row.id for row in why.would_change) if why else (),
        why=why,
    )
    return answer.model_copy(update={"labels": _labels(knowledge, answer, compiled)})


def _look(
    compiled: CompiledCase, stakes: Stakes, work: float
) -> tuple[CompiledCase, Outlook, Bounds | None]:
    """Return the case and what is known of it; past the budget, without some findings.

    The chances are then those of the findings that are left, and the interval is that of all
    of them.
    """
    network, evidence = compiled.network, compiled.evidence
    planned = plan_case(network, evidence, budget=_NO_BUDGET)
    if planned.width <= WIDTH_BUDGET and planned.plan.cost <= work:
        return compiled, look_ahead(network, evidence, compiled.checks, stakes), None
    interval = bounds(network, evidence, budget=_NARROW, work=min(work, _LIGHT))
    left = {key: value for key, value in evidence.items() if key not in interval.relaxed}
    complaint = compiled.complaint - set(interval.relaxed)
    compiled = replace(compiled, evidence=left, complaint=complaint)
    return compiled, look_ahead(network, left, compiled.checks, stakes), interval


def _interval_notes(work: _Work) -> Iterator[str]:
    """Say what an answer past the budget rests on."""
    if work.interval is not None:
        names = ", ".join(
            term_label(work.knowledge, kind_of(key)) or key for key in work.interval.relaxed
        )
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


def _cause_rows(
    work: _Work,
    ranked: Sequence[str],
    weights: Mapping[str, Sequence[float]],
    paths: Mapping[str, tuple[PathRow, ...]],
) -> tuple[CauseRow, ...]:
    """Return the causes by responsibility, the first ones with their reasons."""
    outlook, network = work.outlook, work.compiled.network
    low = responsibility(work.firm.low, outlook.rho)
    high = responsibility(work.firm.high, outlook.rho)
    if work.interval is not None:  # a part in the complaint is at most the chance that it is there
        low = np.zeros_like(low)
        high = np.array([work.interval.high[cause] for cause in outlook.causes])
    rows = []
    for node in ranked:
        k = outlook.causes.index(node)
        known = work.knowledge.causes[kind_of(node)]
        r = float(outlook.r[k])
        told = paths.get(node, ())
        rows.append(
            CauseRow(
                id=node,
                responsibility=r,
                posterior=float(outlook.q[k]),
                prior=float(network.nodes[node].base),
                low=min(float(low[k]), r),
                high=max(float(high[k]), r),
                deficiency=known.deficiency,  # type: ignore[arg-type]
                evidence=_evidence(work.compiled.items, weights.get(node, [])),
                because=tuple(path_sentence(work.knowledge, path) for path in told),
                safety=known.safety,
                is_part=known.is_part,
            )
        )
    return tuple(rows)


def _evidence(
    items: Sequence[EvidenceItem], weights: Sequence[float]
) -> tuple[EvidenceWeight, ...]:
    """Return the items that weigh at least a tenth of a ban, heaviest first."""
    pairs = sorted(zip(items, weights, strict=False), key=lambda pair: -abs(pair[1]))
    return tuple(
        EvidenceWeight(finding=item.key, decibans=float(w)) for item, w in pairs if abs(w) >= 1.0
    )


def _sensor_rows(
    work: _Work, plan: Plan, offers: Offers, gates: list[OpenGate], shop: object
) -> tuple[SensorRow, ...]:
    """Return a row for each part that a code names."""
    asked = Asked(
        work.knowledge,
        work.compiled,
        work.outlook,
        plan,
        offers,
        work.stakes,
        gates,
        (work.firm.low, work.firm.high),
        getattr(shop, "part_prices", None) or {},
        getattr(shop, "currency", ""),
    )
    return sensor_rows(asked)


def _labels(knowledge: Knowledge, answer: Answer, compiled: CompiledCase) -> dict[str, str]:
    """Return words for every id in the answer."""
    ids = {kind_of(row.id) for row in answer.causes}
    ids |= {kind_of(row.part) for row in answer.sensor_first}
    ids |= {row.id for row in answer.checks} | {row.id for row in answer.while_there}
    ids |= {row.setup for row in answer.checks} | {row.setup for row in answer.while_there}
    ids |= {kind_of(f) for row in answer.checks for f in row.finds}
    ids |= {kind_of(f) for row in answer.while_there for f in row.finds}
    ids |= {row.id for row in answer.gates} | set(answer.intake)
    ids |= {check for row in answer.gates for check in row.closes_on}
    ids |= {kind_of(w.finding) for row in answer.causes for w in row.evidence}
    if answer.why:
        ids |= {kind_of(row.id) for row in answer.why.would_change} | {kind_of(answer.why.cause)}
        ids |= {kind_of(w.finding) for w in answer.why.incremental}
        ids |= {kind_of(row.looks_for) for row in answer.why.would_change if row.looks_for}
        ids |= {kind_of(n) for p in answer.why.paths for x in p.links for n in (x.source, x.target)}
    labels = {}
    for term in sorted(ids):
        label = term_label(knowledge, term)
        if label:
            labels[term] = label
    for item in compiled.items:
        if item.kind == "code":
            for node, _ in item.contributions:
                if node in knowledge.codes:
                    labels[item.key] = f"{item.key} ({knowledge.codes[node].watched})"
                    break
    return labels


def term_label(knowledge: Knowledge, term: str) -> str:
    """Return the words of any term of the knowledge, or nothing."""
    tables = (
        knowledge.causes,
        knowledge.states,
        knowledge.findings,
        knowledge.checks,
        knowledge.setups,
        knowledge.gates,
        knowledge.repairs,
    )
    for table in tables:
        if term in table:
            return str(table[term].label)
    return ""
