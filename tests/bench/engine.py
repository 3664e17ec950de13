"""How long exact inference takes, beside a general engine in the same run.

(a) is all posteriors of one case from scratch: folding, order, plan, sweeps. (a) +
(b) values every candidate check as well. The peer is pyAgrum's lazy propagation
on a Bayesian network of the same nodes, pruned to the ancestors of the
evidence; making that network is not counted. Where a node has more parents
than its table could hold, the peer is left out and the row says for how many
cases.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from api.documents import read_case
from graph.build import compile_case
from graph.load import load_knowledge
from tests.bench.networks import SIZES, make_cases, make_network
from tests.oracles.agrum import gum
from triage.compiling import compile_case as fold_and_plan
from triage.exact import posterior
from triage.model import Network
from triage.stakes import Stakes
from triage.value import look_ahead

TOP = Path(__file__).resolve().parent.parent.parent
SEEDS = (1, 2, 3)
_PARENTS = 12  # the peer's tables have two to this power entries
_WORK = 3e8  # cases of more predicted work are counted, not run


def engine_rows(sizes: list[str], count: int) -> list[dict[str, object]]:
    """Return one row for each size of made-up network."""
    rows = []
    for name in sizes:
        own: list[float] = []
        both: list[float] = []
        ratio: list[float] = []
        widths: list[int] = []
        for seed in SEEDS:
            network = make_network(SIZES[name], seed)
            cases = make_cases(network, count, seed + 100)
            posterior(network, cases[0])
            for case in cases:
                own.append(_milliseconds(network, case))
                widths.append(fold_and_plan(network, case).width)
                both.append(own[-1] + _valued(network, case, SIZES[name].checks))
                other = _peer(network, case)
                if other is not None:
                    ratio.append(other / own[-1])
        rows.append(_row(name, own, both, widths) | _peer_row(ratio, len(own)))
    return rows


def catalogue_rows() -> list[dict[str, object]]:
    """Return one row for the practice cases on the shipped knowledge."""
    knowledge = load_knowledge()
    own: list[float] = []
    both: list[float] = []
    widths: list[int] = []
    dear = 0
    for path in sorted((TOP / "fixtures" / "practice" / "cases").glob("*.json")):
        compiled = compile_case(knowledge, read_case(path).to_input())
        plan = fold_and_plan(compiled.network, compiled.evidence)
        widths.append(plan.width)
        if plan.plan.cost > _WORK:
            dear += 1
            continue
        own.append(_milliseconds(compiled.network, compiled.evidence))
        started = time.perf_counter()
        look_ahead(compiled.network, compiled.evidence, compiled.checks, Stakes())
        both.append(1000.0 * (time.perf_counter() - started))
    return [_row("practice cases", own, both, widths) | {"too dear, not run": dear}]


def _milliseconds(network: Network, case: Mapping[str, bool | float]) -> float:
    """Return how long all posteriors of one case take."""
    started = time.perf_counter()
    posterior(network, case)
    return 1000.0 * (time.perf_counter() - started)


def _valued(network: Network, case: Mapping[str, bool | float], checks: int) -> float:
    """Return how long valuing that many one-verdict checks takes."""
    near = network.ancestors(case)
    open_ = [n.id for n in network.nodes.values() if n.kind == "cause" and n.id in near]
    offers = [
        SimpleNamespace(
            id=key,
            place="vehicle",
            setup="here",
            minutes=5.0,
            verdicts=[
                SimpleNamespace(target=key, p_found_if_on=0.85, p_found_if_off=0.1, node=None)
            ],
        )
        for key in (open_ + list(network.causes))[:checks]
    ]
    started = time.perf_counter()
    look_ahead(network, case, offers, Stakes())
    return 1000.0 * (time.perf_counter() - started)


def _peer(network: Network, case: Mapping[str, bool | float]) -> float | None:
    """Return the peer's milliseconds, or None where its tables would be too large."""
    near = network.ancestors(case)
    nodes = [node for key, node in network.nodes.items() if key in near]
    if any(len(node.parents) > _PARENTS for node in nodes):
        return None

    other = gum.BayesNet()
    for node in nodes:
        variable = gum.LabelizedVariable(node.id, "", 2)
        if node.parents:
            other.addNoisyORNet(variable, node.base)
            for parent in node.parents:
                other.addWeightedArc(parent.id, node.id, parent.strength)
        else:
            other.add(variable)
            other.cpt(node.id).fillWith([1.0 - node.base, node.base])
    engine = gum.LazyPropagation(other)
    engine.setEvidence({key: int(value) for key, value in case.items()})
    started = time.perf_counter()
    engine.makeInference()
    for node in nodes:
        if node.kind == "cause":
            engine.posterior(node.id)
    return 1000.0 * (time.perf_counter() - started)


def _row(name: str, own: list[float], both: list[float], widths: list[int]) -> dict[str, object]:
    """Return the figures of one network."""
    return {
        "network": name,
        "cases": len(own),
        "width": f"{int(np.median(widths))} (to {max(widths)})",
        "(a) p50 ms": float(np.median(own)),
        "(a) p95 ms": float(np.quantile(own, 0.95)),
        "(a)+(b) p50 ms": float(np.median(both)),
        "(a)+(b) p95 ms": float(np.quantile(both, 0.95)),
    }


def _peer_row(ratio: list[float], cases: int) -> dict[str, object]:
    """Return the peer's figures: how many times as long it takes."""
    return {
        "peer / (a) median": float(np.median(ratio)) if ratio else "-",
        "peer ran": f"{len(ratio)} of {cases}",
    }
