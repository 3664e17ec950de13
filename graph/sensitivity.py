"""Which links matter most for the ranking: how far each one moves the leading cause.

Every strength is an estimate. For each case the leading cause is found, and then how
far its log odds move when one link's strength is moved by one standard step of log
odds. To first order, and exactly so in the derivative: a link ``u -> y`` with strength
``s`` is split by a helper ``h`` that is on when the link acts, and for any evidence e::

    d log P(e) / d logit(s) = P(h | e) - s P(u | e)

The log odds of a cause c are ``log P(e, c) - log P(e, not c)``, so one evaluation with
c seen present and one with c seen absent give the derivative for every link at once.
A finding seen absent needs no helper: there ``P(h | e)`` is zero. One link stands for
all the arrows that it draws on a car; their derivatives are added up.

What is left out: the case is compiled once, so that ratios of evidence that were made
from strengths (blame of a failure type, caps) stay as they are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from graph.build import compile_case
from graph.case import CaseInput
from graph.compiled import CompiledCase
from graph.placing import Placed, place_knowledge
from graph.terms import Knowledge, Link
from triage import compiling
from triage.errors import TriageError
from triage.exact import Standing, stand
from triage.model import Network, Node, Parent
from triage.responsibility import inhibited_ratio, responsibility

__all__ = ["STEP", "WORK_LIMIT", "LinkWeight", "Sensitivity", "leading_cause", "sensitivity"]

#: One standard step of a strength, in natural log odds: the width of the noise with which
#: `triage.firmness` asks how firm an answer is.
STEP = 0.5
#: A case whose tables need more products than this is left out, and named.
WORK_LIMIT = 1.5e8
_DECIBANS = 10.0 / math.log(10.0)

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class LinkWeight:
    """What one link does to the leading causes when its strength goes up one step."""

    link: Link
    mean: float  # decibans, absolute, averaged over all the cases answered
    largest: float  # decibans, with its sign, in the case that it moves most
    case: str  # that case
    cause: str  # node id of the leading cause of that case
    cases: int  # in how many cases it moves the leading cause by a tenth of a deciban


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """The links by weight, heaviest first, and the cases that they were weighed on."""

    links: tuple[LinkWeight, ...]
    cases: tuple[str, ...]
    left_out: tuple[str, ...]  # cases that are too wide, or cannot be answered


def sensitivity(
    knowledge: Knowledge,
    cases: Mapping[str, CaseInput],
    *,
    work_limit: float = WORK_LIMIT,
    progress: Progress | None = None,
) -> Sensitivity:
    """Return how far one step of each link's strength moves the leading cause.

    Parameters
    ----------
    knowledge : Knowledge
    cases : name -> case
        The set over which is averaged.
    work_limit : products, > 0
        Wider cases are left out and named: their tables take a minute each.
    progress : called with (cases done, cases in all) after each case

    Returns
    -------
    Sensitivity
        Links that moved nothing are left out. Ties go by id.

    Notes
    -----
    Three evaluations a case: one to find the leading cause, two for the derivative.
    """
    placed = place_knowledge(knowledge)
    moved: dict[str, dict[str, float]] = {}
    leading: dict[str, str] = {}
    left_out = []
    for done, (name, case) in enumerate(cases.items(), start=1):
        found = _one_case(knowledge, placed, case, work_limit)
        if found is None:
            left_out.append(name)
        else:
            leading[name], steps = found
            for link, decibans in steps.items():
                moved.setdefault(link, {})[name] = decibans
        if progress:
            progress(done, len(cases))
    by_id = {link.id: link for link in knowledge.links}
    rows = [_weight(by_id[key], steps, leading) for key, steps in moved.items()]
    rows.sort(key=lambda row: (-row.mean, row.link.id))
    return Sensitivity(tuple(rows), tuple(leading), tuple(left_out))


def leading_cause(state: Standing) -> str:
    """Return the node id of the cause that most likely has a part in the complaint."""
    rho = inhibited_ratio(state.compiled, state.rows, 1.0 - state.q)
    best = int(state.rows[int(np.argmax(responsibility(state.q, rho)))])
    return list(state.compiled.network.nodes)[best]


def _weight(link: Link, steps: Mapping[str, float], leading: Mapping[str, str]) -> LinkWeight:
    """Return the row of one link."""
    case = max(steps, key=lambda name: abs(steps[name]))
    mean = sum(abs(value) for value in steps.values()) / len(leading)
    felt = sum(abs(value) >= 0.1 for value in steps.values())
    return LinkWeight(link, mean, steps[case], case, leading[case], felt)


def _one_case(
    knowledge: Knowledge, placed: Placed, case: CaseInput, work_limit: float
) -> tuple[str, dict[str, float]] | None:
    """Return the leading cause and link id -> decibans a step; None for a case left out."""
    try:
        compiled = compile_case(knowledge, case)
        plan = compiling.compile_case(compiled.network, compiled.evidence).plan
        if plan.cost > work_limit:
            return None
        cause = leading_cause(stand(compiled.network, compiled.evidence, rough=True))
        slopes = _slopes(compiled, placed, cause)
    except TriageError:
        return None
    return cause, {key: STEP * _DECIBANS * slope for key, slope in slopes.items() if slope}


def _slopes(compiled: CompiledCase, placed: Placed, cause: str) -> dict[str, float]:
    """Return link id -> d (log odds of the cause) / d logit(strength), over all its arrows."""
    network = _split(compiled, placed)
    evidence = dict(compiled.evidence)
    chances = [
        stand(network, {**evidence, cause: present}, rough=True).chance for present in (True, False)
    ]
    index = network.arrays.index
    slopes: dict[str, float] = {}
    for source, target, strength, link in _arrows(compiled, placed):
        helper = index.get(_helper(source, target))
        with_cause, without = (
            (0.0 if helper is None else float(chance[helper]))
            - strength * float(chance[index[source]])
            for chance in chances
        )
        slopes[link] = slopes.get(link, 0.0) + with_cause - without
    return slopes


def _arrows(compiled: CompiledCase, placed: Placed) -> Iterator[tuple[str, str, float, str]]:
    """Yield (source, target, strength on this car, link id) of the arrows that bear on the case."""
    for key in compiled.network.ancestors(compiled.evidence):
        drawn = {arrow.source: arrow.link.id for arrow in placed.into.get(key, ())}
        for parent in compiled.network.nodes[key].parents:
            if parent.id in drawn and 0.0 < parent.strength < 1.0:
                yield parent.id, key, parent.strength, drawn[parent.id]


def _split(compiled: CompiledCase, placed: Placed) -> Network:
    """Return the network with a helper on every arrow whose effect was not seen absent."""
    helpers = {
        (source, target): Node(_helper(source, target), "state", 0.0, (Parent(source, strength),))
        for source, target, strength, _link in _arrows(compiled, placed)
        if compiled.evidence.get(target) is not False
    }
    nodes = [_through(node, helpers) for node in compiled.network.nodes.values()]
    return Network([*nodes, *helpers.values()])


def _through(node: Node, helpers: Mapping[tuple[str, str], Node]) -> Node:
    """Return a node that is reached through the helpers."""
    parents = tuple(
        Parent(helpers[parent.id, node.id].id, 1.0) if (parent.id, node.id) in helpers else parent
        for parent in node.parents
    )
    return Node(node.id, node.kind, node.base, parents)


def _helper(source: str, target: str) -> str:
    """Return the node id of a helper; no id of the knowledge holds an arrow."""
    return f"{source}>{target}"
