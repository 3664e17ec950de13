"""The account of the first cause: how it came to be first, and what could undo it.

Everything here is about one cause, the one with the largest part in the
complaint: what each statement added, its strongest paths, why it and not the part
that the code names, which open question would move it most, and in how many
perturbed answers it is still the first. What is dear on a large case is left out
there, and said to be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from api.answering.effort import Effort
from api.answering.prices import kind_of
from api.answering.rules import TORQUE, hands_of, rules_for
from api.answering.steps import Bay, Offers, found_by_checks, looks_at
from api.documents import ChangeRow, Contrast, EvidenceWeight, PathRow, Why
from graph.compiled import CheckItem, CompiledCase, EvidenceItem, combine
from graph.terms import Knowledge
from triage.arrays import Floats
from triage.exact import Standing
from triage.explain import Move, incremental, moves
from triage.firmness import Firmness, check_stays, share_range, top_stays
from triage.proof import spread, suspects_of, worth
from triage.schedule import TIGHTEN, Plan, Rules, Shop, Step, plan_checks
from triage.stakes import Stakes, loss
from triage.value import Outlook

__all__ = [
    "ORDER",
    "Account",
    "added_one_by_one",
    "changes_of",
    "firmer",
    "rather_than",
    "said",
    "why_first",
]

ORDER = "codes, then what was found or told, then verdicts of checks; as the case states them"
_KINDS = ("code", "finding", "verdict")
#: Open questions of each kind that are shown.
_SHOWN = 3
#: Checks that stand a chance to come first in a perturbed answer, besides those listed.
_REACH = 40


@dataclass(frozen=True, slots=True)
class Account:
    """What the account is made from."""

    knowledge: Knowledge
    compiled: CompiledCase
    outlook: Outlook
    firm: Firmness
    plan: Plan
    offers: Offers
    stakes: Stakes
    bay: Bay
    effort: Effort


def said(item: EvidenceItem) -> Sequence[tuple[str, bool | float]]:
    """Return what an item says about the network."""
    return item.contributions


def why_first(
    account: Account,
    ranked: Sequence[str],
    told: tuple[dict[str, list[float]], dict[str, tuple[PathRow, ...]]],
    pause: Callable[[], None] = lambda: None,
) -> Why | None:
    """Return the account of the first cause, or nothing where there is none.

    Parameters
    ----------
    account : what it is made from
    ranked : causes, the first first, at least with the runner-up
    told : leave-one-out weights of `ranked` and of the parts that codes name, and the
        strongest paths of the first cause
    pause : called before each of its three dear parts, and between the runs of the last
    """
    if not ranked:
        return None
    first, (weights, paths) = ranked[0], told
    pause()
    order, parts = _incremental(account, first)
    pause()
    would_change = _would_change(account, first)
    pause()
    why = Why(
        cause=first,
        order=ORDER if parts else "",
        prior_decibans=order[0] if parts else None,
        incremental=parts,
        posterior_decibans=order[1] if parts else None,
        paths=paths.get(first, ()),
        contrast=_contrast(account, ranked, weights),
        would_change=would_change,
    )
    return firmer(account, why, pause)


def firmer(account: Account, why: Why, pause: Callable[[], None] = lambda: None) -> Why:
    """Return an account of the first cause with further perturbed answers.

    Parameters
    ----------
    account : what it is made from; of the perturbed answers the further ones alone
    why : the account as far as it is made
    pause : called between the runs
    """
    before, more = why.perturbations, account.firm.runs
    if not more:
        return why
    top = _together((why.firm_top, before), (top_stays(account.firm, account.outlook.r), more))
    check = _together((why.firm_check, before), (_firm_check(account, pause), more))
    runs = before + more
    return why.model_copy(
        update={
            "firm_top": top,
            "firm_top_range": share_range(top, runs) if top is not None else None,
            "firm_check": check,
            "firm_check_range": share_range(check, runs) if check is not None else None,
            "perturbations": runs,
        }
    )


def _together(one: tuple[float | None, int], other: tuple[float | None, int]) -> float | None:
    """Return the share of the runs of both; None where there is nothing to judge."""
    if other[0] is None:
        return None
    times = round((one[0] or 0.0) * one[1]) + round(other[0] * other[1])
    return times / (one[1] + other[1])


def _incremental(
    account: Account, first: str
) -> tuple[tuple[float, float], tuple[EvidenceWeight, ...]]:
    """Return what each statement adds, where the case is small enough."""
    if not account.effort.account:
        return (0.0, 0.0), ()
    return added_one_by_one(account.outlook.state, account.compiled, first)


def added_one_by_one(
    state: Standing, compiled: CompiledCase, cause: str
) -> tuple[tuple[float, float], tuple[EvidenceWeight, ...]]:
    """Return prior and posterior in decibans, and what each statement adds in `ORDER`."""
    items = sorted(compiled.items, key=lambda item: _KINDS.index(item.kind))
    told = incremental(state, items, combine, (cause,))[cause]
    parts = tuple(
        EvidenceWeight(finding=item.key, decibans=part)
        for item, part in zip(items, told.parts, strict=True)
    )
    return (told.prior_decibans, told.posterior_decibans), parts


def _contrast(
    account: Account, ranked: Sequence[str], weights: dict[str, list[float]]
) -> Contrast | None:
    """Return why the first cause and not the part, or the runner-up where it is the part."""
    first, parts = ranked[0], [p for p in account.compiled.parts if p in weights]
    others = [p for p in parts if p != first] if first not in parts else list(ranked[1:2])
    if not others or first not in weights or others[0] not in weights:
        return None
    index = {cause: k for k, cause in enumerate(account.outlook.causes)}
    other = max(others, key=lambda node: float(account.outlook.r[index[node]]))
    return rather_than(account.compiled, weights, first, other)


def rather_than(
    compiled: CompiledCase, weights: dict[str, list[float]], cause: str, other: str
) -> Contrast:
    """Return which statements speak for one cause rather than the other, and how much."""
    rows = [
        EvidenceWeight(finding=item.key, decibans=mine - its)
        for item, mine, its in zip(compiled.items, weights[cause], weights[other], strict=True)
        if abs(mine - its) >= 1.0
    ]
    return Contrast(other=other, weights=tuple(sorted(rows, key=lambda w: -abs(w.decibans))))


def _would_change(account: Account, first: str) -> tuple[ChangeRow, ...]:
    """Return the open findings and checks whose answer moves the first cause most."""
    if not account.effort.changes:
        return ()
    return changes_of(account.knowledge, account.compiled, account.outlook.state, first)


def changes_of(
    knowledge: Knowledge, compiled: CompiledCase, state: Standing, cause: str
) -> tuple[ChangeRow, ...]:
    """Return the open findings and checks whose answer moves a cause most."""
    network = compiled.network
    index = network.arrays.index
    open_ = [
        key
        for key, node in network.nodes.items()
        if kind_of(key) in knowledge.findings
        and node.kind == "finding"
        and state.compiled.seen[index[key]] < 0
        and state.compiled.ratio[index[key]] == 1.0
    ]
    asked = [(key, 1.0, 0.0) for key in open_]
    names = [(key, "") for key in open_]
    for offer in compiled.checks:
        doing = offer.id if offer.place == "vehicle" else f"{offer.id}@{offer.place}"
        for v in offer.verdicts[:1] if offer.verdicts[0].node else offer.verdicts:
            node = (v.node, 1.0, 0.0) if v.node else (v.target, v.p_found_if_on, v.p_found_if_off)
            asked.append(node)
            names.append((doing, "" if v.node else v.target))
    told = moves(state, cause, asked)
    ranked = sorted(range(len(told)), key=lambda k: -told[k].expected)
    findings = [k for k in ranked if k < len(open_)][:_SHOWN]
    checks: dict[str, int] = {}
    for k in ranked:
        if k >= len(open_) and len(checks) < _SHOWN:
            checks.setdefault(names[k][0], k)
    best = sorted([*findings, *checks.values()], key=lambda k: -told[k].expected)
    return tuple(
        _change_row(names[k], told[k], is_finding=k < len(open_))
        for k in best
        if told[k].expected >= 0.005
    )


def _change_row(name: tuple[str, str], move: Move, *, is_finding: bool) -> ChangeRow:
    """Return one row, chances kept inside [0, 1] against rounding."""
    chance, if_yes, if_no = np.clip((move.chance, move.if_yes, move.if_no), 0.0, 1.0).tolist()
    return ChangeRow(
        id=name[0],
        kind="finding" if is_finding else "check",
        looks_for=name[1],
        chance=chance,
        if_yes=if_yes,
        if_no=if_no,
    )


def _firm_check(account: Account, pause: Callable[[], None]) -> float | None:
    """Return in how many perturbed answers the next check stays; None where a gate sets it.

    The same check at another place is the same: which corner comes first of four that are
    alike says nothing about what to do next.
    """
    forced = any(gate.because and gate.closes_on for gate in account.bay.gates)
    if forced or not account.plan.steps:
        return None
    offers = [account.compiled.checks[k] for k in account.offers.rows]
    gains = _gains(account, offers)
    now = next(gains)
    keep = _in_reach(account, offers, now)
    few = [offers[k] for k in keep]
    knowledge, minutes = account.knowledge, np.array([offer.minutes for offer in few])
    change = {key: setup.change_minutes for key, setup in knowledge.setups.items()}
    hands = hands_of(knowledge)
    shop = Shop(account.bay.setup, change, account.stakes.per_minute, hands=hands)
    rules = _rules(account, few)

    def first(gain: Floats) -> str:
        pause()
        steps = plan_checks(gain[keep], minutes, [offer.setup for offer in few], shop, rules).steps
        return _first_of(steps, few)

    return check_stays(first, _first_of(account.plan.steps, offers), gains)


def _first_of(steps: Sequence[Step], offers: Sequence[CheckItem]) -> str:
    """Return the id of the first check of a list, nothing where it is empty."""
    if not steps:
        return ""
    return TORQUE if steps[0].offer == TIGHTEN else offers[steps[0].offer].id


def _rules(account: Account, offers: Sequence[CheckItem]) -> Rules:
    """Return what must come before what."""
    chance = dict(zip(account.outlook.causes, account.outlook.q.tolist(), strict=True))
    return rules_for(account.knowledge, offers, chance, account.bay.gates)


def _in_reach(account: Account, offers: Sequence[CheckItem], now: Floats) -> list[int]:
    """Return the checks that can come first: what is listed, what brings most, what must be."""
    rules = _rules(account, offers)
    rate = now.sum(axis=1) / np.array([offer.minutes for offer in offers])
    keep = {step.offer for step in account.plan.steps} - {TIGHTEN}
    keep |= set(np.argsort(-rate, kind="stable")[:_REACH].tolist())
    return sorted(keep.union(rules.first, *rules.gates.values()))


def _gains(account: Account, offers: Sequence[CheckItem]) -> Iterator[Floats]:
    """Yield what each check is worth now, and in each perturbed answer, as the list counts it.

    What a check tells about all causes is not worked out again in each run: it is scaled with
    what there is to lose by each. What finding a cause is worth is.
    """
    outlook, stakes, firm = account.outlook, account.stakes, account.firm
    told, causes = outlook.gain[list(account.offers.rows)], outlook.causes
    looks, found = (
        looks_at(account.knowledge, causes, offers, stakes),
        found_by_checks(account.compiled),
    )
    prices, shape = _prices(account), (len(offers), len(causes))
    now = np.maximum(outlook.loss, 1e-9)
    for q, part in ((outlook.q, outlook.r), *zip(firm.samples, firm.parts, strict=True)):
        chances = np.nan_to_num(q), np.nan_to_num(part)
        scale = np.where(outlook.loss > 1e-9, loss(*chances, prices) / now, 1.0)
        proof = worth(looks, suspects_of(causes, chances, stakes, found))
        yield np.maximum(told * scale, spread(looks, proof, shape))


def _prices(account: Account) -> tuple[float, Floats, Floats]:
    """Return comeback, weighed danger and repair prices of the causes."""
    stakes, causes = account.stakes, account.outlook.causes
    danger = np.array([stakes.danger.get(key, 0.0) for key in causes])
    repair = np.array([stakes.repair.get(key, stakes.repair_default) for key in causes])
    return stakes.comeback, stakes.danger_weight * danger, repair
