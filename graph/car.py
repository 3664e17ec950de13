"""One car without its complaint: the network's nodes, and a ledger for evidence.

A `Car` is the placed knowledge after facts, roads, age, mileage and context have
had their say. A `Ledger` collects what the statements about it amount to.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field

from graph.case import CaseInput
from graph.compiled import EvidenceItem
from graph.facts import FactView, view_facts
from graph.odds_rules import RuleEffects, rule_effects
from graph.placing import Placed, place_knowledge
from graph.priors import is_salted, priors
from graph.terms import Knowledge, Place
from triage.model import Node, Parent

__all__ = ["Car", "Ledger", "make_car", "strongest_paths"]


@dataclass(slots=True)
class Car:
    """The knowledge as it applies to one car."""

    knowledge: Knowledge
    placed: Placed
    case: CaseInput
    view: FactView
    nodes: dict[str, Node]  # without helper nodes and checks
    notes: tuple[str, ...] = ()
    ruled: frozenset[str] = frozenset()  # contexts and findings that a rule has weighed

    def places(self, term: str) -> dict[Place, str]:
        """Return place -> node id of a term, only where this car can have it."""
        found = self.placed.by_term.get(term, {})
        return {place: node for place, node in found.items() if node in self.nodes}


@dataclass(slots=True)
class Ledger:
    """What has been read so far."""

    items: list[EvidenceItem] = field(default_factory=list)
    helpers: dict[str, Node] = field(default_factory=dict)
    parts: list[str] = field(default_factory=list)
    questions: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    #: (check, target) -> sum of the log ratios that its verdicts give, before they are held
    told: dict[tuple[str, str], float] = field(default_factory=dict)

    def either(self, key: str, nodes: list[str]) -> str:
        """Return a node that is on when at least one of `nodes` is: strength 1, leak 0."""
        self.helpers[key] = Node(key, "finding", 0.0, tuple(Parent(node, 1.0) for node in nodes))
        return key


def make_car(knowledge: Knowledge, case: CaseInput) -> Car:
    """Return the knowledge as it applies to the car of a case.

    Raises
    ------
    UnknownTermError, ContradictionError, ParameterError, KnowledgeError
        If facts, context or numbers of the case cannot be, or links have no meaning.
    """
    placed = place_knowledge(knowledge)
    view = view_facts(knowledge, placed, case.vehicle)
    rules = rule_effects(knowledge, case)
    chances = priors(knowledge, view, case, rules)
    leaks = _leaks(knowledge, salted=is_salted(case.vehicle))
    touched = {target for _source, target in view.strengths}
    nodes: dict[str, Node] = {}
    for key, instance in placed.nodes.items():
        if key in view.removed:
            continue
        base = chances[key] if instance.kind == "cause" else leaks[instance.term]
        parents = placed.parents[key]
        if key in touched:
            parents = _changed(parents, key, view)
        if view.removed:
            parents = tuple(p for p in parents if p.id not in view.removed)
        nodes[key] = Node(key, instance.kind, base, parents)
    ruled = frozenset(term for term, _cause in rules.replaced)
    return Car(knowledge, placed, case, view, nodes, _notes(case, rules), ruled)


def _notes(case: CaseInput, rules: RuleEffects) -> tuple[str, ...]:
    """Return what was taken for granted about the car, and which rules held."""
    vehicle = case.vehicle
    open_facts = [
        words
        for words, known in (
            ("roads: taken as salted", vehicle.salted_roads is not None),
            ("age: no age curve, shares of a car of 10 years", vehicle.age_years is not None),
            ("mileage: no mileage curve", vehicle.odometer_km is not None),
            ("drive: shares of a front-drive car", vehicle.drivetrain != "unknown"),
        )
        if not known
    ]
    return (*(f"not stated, {words}" for words in open_facts), *rules.because)


def _leaks(knowledge: Knowledge, *, salted: bool) -> dict[str, float]:
    """Return the leak of every state, finding and code for salted or dry roads."""
    leaks = {key: state.leak for key, state in knowledge.states.items()}
    leaks.update({key: code.leak for key, code in knowledge.codes.items()})
    for key, finding in knowledge.findings.items():
        leaks[key] = finding.leak_salted if salted else finding.leak_dry
    return leaks


def _changed(parents: tuple[Parent, ...], key: str, view: FactView) -> tuple[Parent, ...]:
    """Return the parents of a node with the strengths that the facts give them."""
    strengths = {parent.id: parent.strength for parent in parents}
    for (source, target), strength in view.strengths.items():
        if target == key:
            strengths[source] = strength
    return tuple(Parent(source, value) for source, value in strengths.items() if value > 0.0)


def strongest_paths(car: Car, node: str) -> dict[str, float]:
    """Return for each cause the product of link strengths on its strongest way to `node`.

    A way ends at the first cause it meets: what lies behind that cause acts
    through it, and says nothing more of how the node came on. Cost: one heap
    entry for each link among the ancestors.
    """
    best: dict[str, float] = {}
    heap = [(-1.0, node)]
    while heap:
        weight, key = heapq.heappop(heap)
        if key in best:
            continue
        best[key] = -weight
        if key == node or car.nodes[key].kind != "cause":
            for parent in car.nodes[key].parents:
                if parent.id not in best:
                    heapq.heappush(heap, (weight * parent.strength, parent.id))
    return {key: strength for key, strength in best.items() if car.nodes[key].kind == "cause"}
