"""The list of checks as rows: planned, grouped where one check is done all round."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from api.answering.prices import kind_of
from api.answering.rules import ROAD, TORQUE, hands_of, rules_for
from api.documents import CheckRow, WhileThereRow
from graph.case import CaseInput
from graph.compiled import CheckItem, CompiledCase
from graph.terms import Knowledge
from triage.gates import OpenGate
from triage.proof import Looks, looks_of, proof_gain
from triage.schedule import TIGHTEN, Plan, Shop, Step, plan_checks, while_there
from triage.stakes import Stakes
from triage.value import Outlook

__all__ = ["Bay", "Offers", "found_by_checks", "looks_at", "plan_for", "standing_at"]
__all__ += ["step_rows", "while_there_rows"]

START = "su-scan"  # where the car stands when the codes have been read
NAMED = 4  # things a row names as what the check looks for


@dataclass(frozen=True, slots=True)
class Bay:
    """How the car stands before the list is made."""

    gates: tuple[OpenGate, ...]
    on_road: bool  # whether it may be driven
    setup: str = START


def standing_at(knowledge: Knowledge, case: CaseInput) -> str:
    """Return the set-up of the last check that the case has an answer to."""
    done = [v.check for v in case.verdicts if v.check in knowledge.checks]
    return knowledge.checks[done[-1]].setup if done else START


@dataclass(frozen=True, slots=True)
class Offers:
    """The offers that may be planned now, as rows of the outlook."""

    rows: tuple[int, ...]


def plan_for(
    knowledge: Knowledge,
    compiled: CompiledCase,
    outlook: Outlook,
    stakes: Stakes,
    bay: Bay,
) -> tuple[Plan, Offers]:
    """Return the plan over the offers that the gates leave open."""
    rows = tuple(k for k, offer in enumerate(compiled.checks) if bay.on_road or offer.setup != ROAD)
    offers = [compiled.checks[k] for k in rows]
    looks = looks_at(knowledge, outlook.causes, offers, stakes)
    proof = proof_gain(outlook, looks, stakes, found_by_checks(compiled))
    gain = np.maximum(outlook.gain[list(rows)], proof)
    change = {key: setup.change_minutes for key, setup in knowledge.setups.items()}
    chance = dict(zip(outlook.causes, outlook.q.tolist(), strict=True))
    plan = plan_checks(
        gain,
        np.array([offer.minutes for offer in offers]),
        [offer.setup for offer in offers],
        Shop(bay.setup, change, stakes.per_minute, hands=hands_of(knowledge)),
        rules_for(knowledge, offers, chance, bay.gates),
    )
    return plan, Offers(rows)


def looks_at(
    knowledge: Knowledge, causes: Sequence[str], offers: Sequence[CheckItem], stakes: Stakes
) -> Looks:
    """Return the looks that checks take at causes; the knowledge says what fools them together."""
    together = [confounder.checks for confounder in knowledge.confounders]
    return looks_of(causes, offers, stakes.per_minute, together)


def found_by_checks(compiled: CompiledCase) -> frozenset[str]:
    """Return the nodes that some check has found."""
    return frozenset(
        node
        for item in compiled.items
        if item.kind == "verdict"
        for node, value in item.contributions
        if value is True or (value is not False and value > 1.0)
    )


def step_rows(
    knowledge: Knowledge, compiled: CompiledCase, outlook: Outlook, plan: Plan, offers: Offers
) -> tuple[CheckRow, ...]:
    """Return the rows of the list."""
    rows: list[CheckRow] = []
    for step in plan.steps:
        if step.offer == TIGHTEN:
            rows.append(_tighten_row(knowledge, len(rows) + 1, step))
            continue
        k = offers.rows[step.offer]
        rows.append(_row(knowledge, compiled, outlook, (k, len(rows) + 1), step))
    return tuple(rows)


def _row(
    knowledge: Knowledge,
    compiled: CompiledCase,
    outlook: Outlook,
    where: tuple[int, int],
    step: Step,
) -> CheckRow:
    """Return one row."""
    k, number = where
    offer = compiled.checks[k]
    check = knowledge.checks[offer.id]
    finds = _finds(offer, outlook, k)
    return CheckRow(
        step=number,
        id=offer.id,
        place=offer.place,
        setup=offer.setup,
        minutes=float(step.minutes),
        change_minutes=float(step.change_minutes),
        value=float(step.value),
        chance_found=_chance(offer, outlook.found[k]),
        finds=finds,
        looks_for=_names(knowledge, finds),
        how=check.how,
        caution=check.caution,
        tools=check.tools,
        fooled_by=check.fooled_by,
        limit_source=check.limit_source,
        helper=knowledge.setups[offer.setup].helper,
    )


def _tighten_row(knowledge: Knowledge, number: int, step: Step) -> CheckRow:
    """Return the step that tightens the wheels: procedure, not information."""
    check = knowledge.checks[TORQUE]
    return CheckRow(
        step=number,
        id=check.id,
        place="vehicle",
        setup=step.setup,
        minutes=float(step.minutes),
        change_minutes=float(step.change_minutes),
        value=0.0,
        chance_found=0.0,
        finds=(),
        looks_for="a wheel was off: tighten before the car moves",
        how=check.how,
        caution=check.caution,
        tools=check.tools,
        limit_source=check.limit_source,
    )


def _chance(offer: CheckItem, found: Sequence[float]) -> float:
    """Return the chance that the check shows something that is there.

    The verdicts are taken as independent. A false alarm finds nothing: of P(found) =
    sensitivity x chance + P(false alarm) x (1 - chance) only the first part counts.
    The one verdict of a check that answers as a whole is what it is: it rang, or not.
    """
    true = []
    for verdict, p in zip(offer.verdicts, found, strict=False):
        on, off = verdict.p_found_if_on, verdict.p_found_if_off
        if verdict.node is None:
            p = on * min(max((p - off) / (on - off), 0.0), 1.0) if on > off else 0.0
        true.append(p)
    return float(1.0 - np.prod([1.0 - p for p in true])) if true else 0.0


def _finds(offer: CheckItem, outlook: Outlook, k: int) -> tuple[str, ...]:
    """Return what the check can show, most telling first."""
    index = {cause: j for j, cause in enumerate(outlook.causes)}
    chances = dict(zip((v.target for v in offer.verdicts), outlook.found[k], strict=False))

    def weight(target: str) -> tuple[float, float]:
        j = index.get(target)
        part = float(outlook.r[j]) if j is not None else 0.0
        return (-part, -chances.get(target, 0.0))

    return tuple(sorted(dict.fromkeys(v.target for v in offer.verdicts), key=weight)[:NAMED])


def _names(knowledge: Knowledge, finds: Sequence[str]) -> str:
    """Return the things looked for, in words, each once."""
    words = []
    for node in finds:
        kind = kind_of(node)
        term = knowledge.causes.get(kind) or knowledge.states.get(kind)
        if term is not None:
            words.append(term.label)
    return ", ".join(dict.fromkeys(words))


def while_there_rows(
    knowledge: Knowledge, compiled: CompiledCase, outlook: Outlook, plan: Plan, offers: Offers
) -> tuple[WhileThereRow, ...]:
    """Return checks that are worth it only because the car stands right for them."""
    index = {cause: j for j, cause in enumerate(outlook.causes)}
    chosen = [compiled.checks[k] for k in offers.rows]
    extra = np.zeros(len(chosen))
    for n, offer in enumerate(chosen):
        for verdict in offer.verdicts:
            j = index.get(verdict.target)
            if j is not None and verdict.node is None:
                safety = knowledge.causes[kind_of(verdict.target)].safety
                weight = {"S3": 4.0, "S2": 1.5}.get(safety, 0.1)
                extra[n] += float(outlook.q[j]) * weight * verdict.p_found_if_on
    minutes = np.array([offer.minutes for offer in chosen])
    setups = [offer.setup for offer in chosen]
    rows = []
    for n in while_there(extra, minutes, setups, plan):
        offer = chosen[n]
        check, finds = knowledge.checks[offer.id], _finds(chosen[n], outlook, offers.rows[n])
        by_chance = sorted(finds, key=lambda t: -float(outlook.q[index[t]]) if t in index else 0.0)
        rows.append(
            WhileThereRow(
                id=offer.id,
                place=offer.place,
                setup=offer.setup,
                minutes=float(offer.minutes),
                finds=tuple(by_chance),
                looks_for=_names(knowledge, by_chance),
                how=check.how,
                caution=check.caution,
            )
        )
    return tuple(rows)
