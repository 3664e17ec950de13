"""The hard peer: pyAgrum's Shafer-Shenoy engine on the same pruned and factored form.

A general engine that is given a noisy-OR network as a user would write it down spends its
time on tables that noisy-OR does not need. That would be an easy win and says
little. So the peer gets what this project's own engine computes on: ancestors of the
evidence alone, findings seen absent folded into weights on their parents, one collector
for each noisy-OR node. pyAgrum has no axis that is joined by OR; each collector is a chain
of binary variables, "is anything switching it on among the first k parents", so that no
factor has more than three variables. Making the field is not counted; inference and
reading every cause's posterior is.

For valuing checks the peer is asked as its own interface has it: the check's node
clamped on, then off, each inference on the engine that has its junction tree already.
A check with a likelihood instead of a verdict for certain is one inference too.

Agreement is asserted before any time counts. Both sides compute in doubles by sums and
products of numbers that are not negative, so that a relative tolerance of 1e-9 leaves room
for some million roundings.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.oracles.agrum import gum
from triage.arrays import Floats, Ints
from triage.compiling import compile_case
from triage.folding import GATE, PRESENT, Folded
from triage.model import Network
from triage.ordering import put_in_order
from triage.planning import make_plan

__all__ = ["TOLERANCE", "Field", "as_users_do", "field_of"]

TOLERANCE = 1e-9  # relative, on every cause's posterior
_PARENTS = 8  # a table of a Bayesian network has two to this power entries, its cliques more

gum.setNumberOfThreads(1)


class Factors(dict[tuple[str, ...], Floats]):
    """Factors by their variables, which are the axes of each in that order."""


@dataclass(frozen=True, slots=True)
class Field:
    """One case as a Markov field, and the variable of each cause that is in it."""

    graph: Any
    variables: Mapping[str, str]

    def engine(self) -> Any:
        """Return a fresh engine that has computed nothing."""
        return gum.ShaferShenoyMRFInference(self.graph)

    def posteriors(self, engine: Any) -> dict[str, float]:
        """Run the inference and return P(on) of every cause in the field."""
        engine.makeInference()
        return {key: float(engine.posterior(name)[1]) for key, name in self.variables.items()}

    def timed(self) -> tuple[float, dict[str, float], Any]:
        """Return milliseconds, posteriors, and the engine."""
        engine = self.engine()
        started = time.thread_time()
        answer = self.posteriors(engine)
        return 1000.0 * (time.thread_time() - started), answer, engine

    def timed_check(self, engine: Any, cause: str) -> float:
        """Return the milliseconds that both sides of one check take."""
        name = self.variables[cause]
        started = time.thread_time()
        for side in (1, 0):
            (engine.chgEvidence if engine.hasEvidence(name) else engine.addEvidence)(name, side)
            self.posteriors(engine)
        took = 1000.0 * (time.thread_time() - started)
        engine.eraseAllEvidence()
        return took


def field_of(network: Network, case: Mapping[str, bool | float]) -> Field:
    """Return the pruned and factored case as a Markov field."""
    compiled = compile_case(network, case)
    folded, nodes = compiled.folded, compiled.local.nodes
    graph, factors = gum.MarkovRandomField(), Factors()
    values, order = np.flatnonzero(folded.value_axis >= 0), _family_order(folded)
    keys = list(network.nodes)
    for row in values:
        axis = int(folded.value_axis[row])
        _add(graph, f"v{axis}")
        if folded.collector_axis[row] < 0 or np.any(folded.unary[axis] != 1.0):
            _multiply(factors, [f"v{axis}"], folded.unary[axis])
    for collector in np.flatnonzero(folded.axis_sort != 0):
        _chain((graph, factors), folded, int(collector), order)
    for names, table in factors.items():
        graph.addFactor(list(names))[:] = np.ascontiguousarray(table.T)
    kinds = {keys[nodes[row]]: f"v{folded.value_axis[row]}" for row in values}
    return Field(graph, {k: v for k, v in kinds.items() if network.nodes[k].kind == "cause"})


def _multiply(factors: Factors, names: list[str], table: Floats) -> None:
    """Put a factor to the others; the peer wants one for each set of variables."""
    order = sorted(range(len(names)), key=names.__getitem__)
    key, sorted_ = tuple(names[i] for i in order), np.transpose(table, order)
    factors[key] = factors[key] * sorted_ if key in factors else sorted_


def _family_order(folded: Folded) -> Ints:
    """Return for each axis its place in a walk of the elimination tree, subtree by subtree.

    Chains that follow it keep what belongs together together: with the parents in any other order
    the peer's tables can be a thousand times as large.
    """
    plan = make_plan(folded, put_in_order(folded, thorough=True))
    steps = plan.sequence.size
    inside = np.zeros(steps, np.bool_)
    inside[plan.child] = True
    order = np.empty(steps, np.int64)
    stack, place = np.flatnonzero(~inside).tolist(), steps
    while stack:  # a step before its children, filled from the end
        step, place = stack.pop(), place - 1
        order[plan.sequence[step]] = place
        stack += plan.child[plan.child_start[step] : plan.child_start[step + 1]].tolist()
    return order


def _add(graph: Any, name: str) -> None:
    """Add a binary variable."""
    graph.add(gum.LabelizedVariable(name, "", 2))


def _chain(to: tuple[Any, Factors], folded: Folded, collector: int, order: Ints) -> None:
    """Add the factors of one noisy-OR node: a chain over its parents that ends in its gate."""
    graph, factors = to
    mine = np.flatnonzero(folded.link_collector == collector)
    mine = mine[np.argsort(order[folded.link_value[mine]])]
    parents = [f"v{folded.link_value[k]}" for k in mine]
    strengths = [float(folded.link_strength[k]) for k in mine]
    gate, names = folded.gate[collector], parents[:1]
    table = np.array([[1.0, 0.0], [1.0 - strengths[0], strengths[0]]])  # [first parent, collected]
    for k in range(1, len(parents)):
        both = np.zeros((*table.shape[:-1], 2, 2))  # [..., next parent, collected]
        for on, silent in ((0, 1.0), (1, 1.0 - strengths[k])):
            both[..., on, 0] = table[..., 0] * silent
            both[..., on, 1] = table[..., 1] + table[..., 0] * (1.0 - silent)
        names, table = [*names, parents[k]], both
        if k < len(parents) - 1:
            so_far = f"n{collector}-{k}"
            _add(graph, so_far)
            _multiply(factors, [*names, so_far], table)
            names, table = [so_far], np.eye(2)
    if folded.axis_sort[collector] == PRESENT:
        table = table @ gate[:, 0]
    elif folded.axis_sort[collector] == GATE:
        table = table @ gate
        names = [*names, f"v{folded.value_axis[folded.axis_node[collector]]}"]
    _multiply(factors, names, table)


def as_users_do(network: Network, case: Mapping[str, bool | float]) -> tuple[float, float] | None:
    """Return the milliseconds of two Bayes-net engines as a user would call them, or None.

    Lazy propagation and Shafer-Shenoy on the noisy-OR network of the evidence's ancestors. None
    where a node has more parents than its table could hold.
    """
    near = network.ancestors(case)
    nodes = [node for key, node in network.nodes.items() if key in near]
    if any(len(node.parents) > _PARENTS for node in nodes):
        return None
    other = gum.BayesNet()
    for node in nodes:
        variable = gum.LabelizedVariable(node.id, "", 2)
        parents = [parent for parent in node.parents if parent.strength > 0.0]
        if parents:
            other.addNoisyORNet(variable, node.base)
            for parent in parents:
                other.addWeightedArc(parent.id, node.id, parent.strength)
        else:
            other.add(variable)
            other.cpt(node.id).fillWith([1.0 - node.base, node.base])
    told = {k: int(v) if isinstance(v, bool) else [1.0, v] for k, v in case.items()}
    causes = [node.id for node in nodes if node.kind == "cause"]
    took = []
    for kind in (gum.LazyPropagation, gum.ShaferShenoyInference):
        engine = kind(other)
        engine.setEvidence(told)
        started = time.thread_time()
        engine.makeInference()
        for key in causes:
            engine.posterior(key)
        took.append(1000.0 * (time.thread_time() - started))
    return took[0], took[1]
