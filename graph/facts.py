"""What the vehicle's facts do to the network: terms removed, odds and links changed.

A fact that is stated removes what such a car cannot have and changes odds and
link strengths as its effects say. A fact that nobody has stated removes nothing:
the share of cars that have it, by drive and age, stands in as a factor on the
odds. All shares and factors are starting estimates, from memory.

For a term and one open question (front suspension: strut, double arm, solid
axle...) the share is that of the facts which let a car have the term. Facts of
several questions can each enable one term: the largest enabling share counts,
and never more than what the excluding facts of any open question leave.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from graph.case import Vehicle
from graph.placing import Placed, covers, placed_pairs
from graph.terms import Fact, FactEffect, Knowledge, Link, Place
from triage.errors import ContradictionError, UnknownTermError

__all__ = ["FactView", "facts_of", "view_facts"]

#: The fact that each drive of the vehicle states.
DRIVES: Mapping[str, str] = {
    "fwd": "vf-drive-fwd",
    "rwd": "vf-drive-rwd",
    "awd": "vf-drive-awd",
    "4wd": "vf-drive-part-time",
}
#: A car with both axles driven has what a front-drive and a rear-drive car have.
BOTH_AXLES = frozenset({"vf-drive-awd", "vf-drive-part-time"})
ONE_AXLE = frozenset({"vf-drive-fwd", "vf-drive-rwd"})
#: Age and drive that stand in where nobody has said.
TYPICAL_AGE, TYPICAL_DRIVE = 10.0, "fwd"
#: A link that a fact makes stronger stays below certainty.
STRONGEST_LINK = 0.97
#: No answer that is still open is ever taken as impossible.
LEAST_SHARE = 0.01


@dataclass(slots=True)
class FactView:
    """What the facts of one car say about the placed knowledge."""

    known: tuple[str, ...] = ()
    removed: dict[str, str] = field(default_factory=dict)  # node or check -> fact
    odds: dict[str, float] = field(default_factory=dict)  # cause node -> factor
    strengths: dict[tuple[str, str], float] = field(default_factory=dict)


def facts_of(knowledge: Knowledge, vehicle: Vehicle) -> tuple[Fact, ...]:
    """Return the facts that are stated, the drive among them.

    Raises
    ------
    UnknownTermError
        If a fact is not known.
    ContradictionError
        If two facts answer one question differently.
    """
    named = {key: fact for fact in knowledge.facts.values() for key in (fact.id, *fact.aliases)}
    for key in vehicle.facts:
        if key not in named:
            raise UnknownTermError("vehicle fact", key, named, where="vehicle.facts")
    stated = list({named[key].id: named[key] for key in vehicle.facts}.values())
    drive = knowledge.facts.get(DRIVES.get(vehicle.drivetrain, ""))
    if drive is not None and drive not in stated:
        same = [fact for fact in stated if fact.question == drive.question]
        if not (vehicle.drivetrain == "4wd" and same and same[0].id in BOTH_AXLES):
            stated.append(drive)
    answered: dict[str, str] = {}
    for fact in stated:
        other = answered.setdefault(fact.question or fact.id, fact.id)
        if other != fact.id:
            raise ContradictionError(fact.question, other, fact.id, where="vehicle.facts")
    return tuple(stated)


def view_facts(knowledge: Knowledge, placed: Placed, vehicle: Vehicle) -> FactView:
    """Return what the stated facts remove and change, and what the open ones weigh."""
    stated = facts_of(knowledge, vehicle)
    view = FactView(tuple(fact.id for fact in stated))
    for fact in stated:
        for effect in fact.effects:
            _apply(knowledge, placed, view, fact, effect)
    _weigh_open(knowledge, placed, vehicle, view)
    return view


def _apply(
    knowledge: Knowledge, placed: Placed, view: FactView, fact: Fact, effect: FactEffect
) -> None:
    """Apply one effect of a stated fact."""
    if effect.link_to:
        _change_link(knowledge, placed, view, effect)
        return
    if effect.term.startswith("ck-") and effect.factor == 0.0:
        view.removed[effect.term] = fact.id
    for node in _nodes(placed, effect.term, effect.where):
        if effect.factor == 0.0:
            view.removed[node] = fact.id
        elif placed.nodes[node].kind == "cause":
            view.odds[node] = view.odds.get(node, 1.0) * effect.factor


def _nodes(placed: Placed, term: str, where: str = "") -> list[str]:
    """Return the nodes of a term or star family, at the named axle only if given."""
    places: Mapping[Place, str] = placed.by_term.get(term, {})
    return [node for place, node in places.items() if not where or covers(where, place)]


def _change_link(knowledge: Knowledge, placed: Placed, view: FactView, effect: FactEffect) -> None:
    """Record the new strength of every arrow from one term to another."""
    targets = set(_nodes(placed, effect.link_to))
    sources = set(_nodes(placed, effect.term, effect.where))
    arrows = [a for target in targets for a in placed.into[target] if a.source in sources]
    for arrow in arrows:
        scaled = min(STRONGEST_LINK, arrow.strength * effect.factor)
        strength = scaled if effect.link_strength is None else effect.link_strength
        view.strengths[arrow.source, arrow.target] = strength
    if not arrows and effect.link_strength:
        _new_link(placed, view, effect)


def _new_link(placed: Placed, view: FactView, effect: FactEffect) -> None:
    """Draw a link that only cars with this fact have: both ends on the whole vehicle."""
    sources = placed.by_term.get(effect.term, {})
    targets = placed.by_term.get(effect.link_to, {})
    if sources and targets:
        link = Link("(fact)", effect.term, "global", effect.link_to, 0.5, "")
        for pair in placed_pairs(link, sources, targets):
            view.strengths[pair] = effect.link_strength or 0.0


@dataclass(slots=True)
class _Open:
    """What the answers that are still possible leave of each term."""

    enable: dict[str, float] = field(default_factory=dict)  # term -> largest share
    limit: dict[str, float] = field(default_factory=dict)  # node -> largest share
    answer: dict[str, str] = field(default_factory=dict)  # term -> fact that was stated

    def enabled(self, facts: list[Fact], shares: Mapping[str, float]) -> None:
        """Take in which terms the answers to one question let a car have."""
        for term, share in _enabling(facts, shares).items():
            self.enable[term] = max(self.enable.get(term, 0.0), share)

    def excluded(self, placed: Placed, facts: list[Fact], shares: Mapping[str, float]) -> None:
        """Take in which nodes the answers to one open question rule out."""
        for node, share in _excluded(placed, facts, shares).items():
            self.limit[node] = min(self.limit.get(node, 1.0), max(LEAST_SHARE, 1.0 - share))


def _weigh_open(knowledge: Knowledge, placed: Placed, vehicle: Vehicle, view: FactView) -> None:
    """Remove what no answer allows; weigh causes by the shares of open answers."""
    still = _Open()
    for facts in _questions(knowledge).values():
        said = [fact.id for fact in facts if fact.id in view.known]
        if said:
            allowed = {*said, *(ONE_AXLE if BOTH_AXLES & {*said} else ())}
            still.enabled(facts, {fact.id: float(fact.id in allowed) for fact in facts})
            still.answer.update({term: said[0] for fact in facts for term in fact.enables})
        elif shares := _shares(facts, vehicle):
            still.enabled(facts, shares)
            still.excluded(placed, facts, shares)
        else:
            still.enabled(facts, {fact.id: 1.0 for fact in facts})
    for term, share in still.enable.items():
        for node in _nodes(placed, term):
            if share == 0.0:
                view.removed.setdefault(node, still.answer[term])
            still.limit[node] = min(still.limit.get(node, 1.0), share)
    for node, share in still.limit.items():
        if placed.nodes[node].kind == "cause" and share > 0.0:
            view.odds[node] = view.odds.get(node, 1.0) * share


def _questions(knowledge: Knowledge) -> dict[str, list[Fact]]:
    """Return the facts by the question that they answer."""
    questions: dict[str, list[Fact]] = {}
    for fact in knowledge.facts.values():
        questions.setdefault(fact.question or fact.id, []).append(fact)
    return questions


def _shares(facts: Iterable[Fact], vehicle: Vehicle) -> dict[str, float]:
    """Return the share of cars with each fact of an open question; empty = not recorded.

    Where shares of some answers are recorded, the other answers divide the rest.
    """
    facts = list(facts)
    listed = {fact.id: share for fact in facts if (share := _share(fact, vehicle)) is not None}
    if not listed:
        return {}
    others = [fact.id for fact in facts if fact.id not in listed]
    rest = max(0.0, 1.0 - sum(listed.values()))
    return {**listed, **{key: max(rest / len(others), LEAST_SHARE) for key in others}}


def _share(fact: Fact, vehicle: Vehicle) -> float | None:
    """Return the recorded share of a fact for this drive and age, if there is one."""
    age = TYPICAL_AGE if vehicle.age_years is None else vehicle.age_years
    for drive in (vehicle.drivetrain, TYPICAL_DRIVE):
        for (row, low, high), share in fact.default_shares.items():
            if row == drive and low <= int(age) <= high:
                return share
        if drive != "unknown":
            break
    return None


def _enabling(facts: Iterable[Fact], shares: Mapping[str, float]) -> dict[str, float]:
    """Return for each enabled term the share of cars whose answer enables it."""
    total: dict[str, float] = {}
    for fact in facts:
        for term in dict.fromkeys(fact.enables):
            total[term] = min(1.0, total.get(term, 0.0) + shares[fact.id])
    return total


def _excluded(
    placed: Placed, facts: Iterable[Fact], shares: Mapping[str, float]
) -> dict[str, float]:
    """Return for each node the share of cars whose answer rules it out."""
    total: dict[str, float] = {}
    for fact in facts:
        for effect in fact.effects:
            if effect.factor == 0.0 and not effect.link_to:
                for node in _nodes(placed, effect.term, effect.where):
                    total[node] = min(1.0, total.get(node, 0.0) + shares[fact.id])
    return total
