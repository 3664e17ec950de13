"""The gates of one case: what is known of the car, by kind, against the knowledge.

A case document carries no names, and a gate closes only on a name. So the
verdicts of a case can open a gate but close none; what closes gates is the
record of events that a job keeps (`triage.gate_closing`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from api.answering.closing import house_of
from api.answering.prices import kind_of, place_of
from api.documents import GateChance, GateRow
from graph.case import CaseInput
from graph.compiled import CompiledCase
from graph.terms import Knowledge
from triage.exact import Standing, as_if_independent
from triage.gate_closing import Event, Opened, standing_gates
from triage.gates import CORNERS, OpenGate, Opening, Situation, openings

__all__ = [
    "NO_ROAD",
    "GateRecord",
    "barring",
    "gate_rows",
    "gates_of",
    "likely_rows",
    "openings_in",
    "situation_of",
    "unsigned_notes",
]

#: Levels at which the car is not taken on the road.
NO_ROAD = ("do-not-drive", "no-road-test-until-lift-check")
#: Stages whose gates stand before driving, testing or working now.
NOW = frozenset({"road-test", "work"})


@dataclass(frozen=True, slots=True)
class GateRecord:
    """What a job has written down about its gates.

    Attributes
    ----------
    events : in the order in which things happened
    licensed : names on the shop's list for licensed practice; empty = it keeps none
    """

    events: tuple[Event, ...] = ()
    licensed: frozenset[str] = frozenset()


def situation_of(
    case: CaseInput, compiled: CompiledCase, state: Standing, knowledge: Knowledge
) -> Situation:
    """Return what is known of the car, by kind.

    Something that was asked about and is unknown counts as yes where a gate asks
    for it.
    """
    triggers = [trigger for gate in knowledge.gates.values() for trigger in gate.triggers]
    asked = {finding for trigger in triggers for finding in trigger.findings}
    seen = [node for node, value in compiled.evidence.items() if value is True]
    unsure = {seen.id for seen in case.findings if seen.state == "unknown"}
    found = [v for v in case.verdicts if v.verdict == "found" and v.cause]
    chances = _chances(state, frozenset(t.chance_of for t in triggers))
    where: dict[str, frozenset[str]] = {}
    places = [(kind_of(node), place_of(node)) for node in seen]
    places += [(v.cause or "", v.at or v.place or "vehicle") for v in found]
    for kind, place in places:
        where[kind] = where.get(kind, frozenset()) | CORNERS.get(place, CORNERS["vehicle"])
    return Situation(
        present=frozenset(kind for kind, _ in places[: len(seen)]),
        unsure=frozenset(unsure & asked),
        contexts=frozenset(case.context),
        facts=frozenset(case.vehicle.facts),
        found=frozenset(v.cause for v in found if v.cause),
        chances={kind: max(at.values()) for kind, at in chances.items()},
        chance_at={kind: at for kind, at in chances.items() if set(at) <= CORNERS["vehicle"]},
        where=where,
        age_years=case.vehicle.age_years,
        salted=case.vehicle.salted_roads,
    )


def _chances(state: Standing, asked: frozenset[str]) -> dict[str, dict[str, float]]:
    """Return the chance of each term that a trigger asks about, by place.

    A risk that nothing seen depends on has no place in the tables; it is taken as
    the noisy-OR of its parents' chances. Faults that show together count twice
    there, so that the figure is rather too high than too low.
    """
    network = state.compiled.network
    chances: dict[str, dict[str, float]] = {}
    for row, node in enumerate(network.nodes):
        if kind_of(node) in asked:
            p = float(state.chance[row])
            if p != p:  # nan: nothing seen depends on it
                p = as_if_independent(network, state.chance, row)
            chances.setdefault(kind_of(node), {})[place_of(node)] = p
    return chances


def gates_of(
    knowledge: Knowledge,
    situation: Situation,
    case: CaseInput,
    record: GateRecord,
) -> list[OpenGate]:
    """Return the open gates that stand before driving, testing or working now."""
    now = [gate for gate in knowledge.gates.values() if gate.stage in NOW]
    house = house_of(knowledge, record.licensed)
    return standing_gates(now, situation, [*_shown(knowledge, case), *record.events], house)


def openings_in(knowledge: Knowledge, situation: Situation) -> list[Opening]:
    """Return every trigger that holds in a situation, with the corners it concerns."""
    gates = [gate for gate in knowledge.gates.values() if gate.stage in NOW]
    return [hit for gate in gates for hit in openings(gate, situation) if hit.because]


def likely_rows(knowledge: Knowledge, situation: Situation) -> tuple[GateChance, ...]:
    """Return the triggers whose chance is over its threshold, their gates being open or not."""
    only = [
        replace(gate, triggers=tuple(one for one in gate.triggers if one.chance_of))
        for gate in knowledge.gates.values()
        if gate.stage in NOW
    ]
    return tuple(
        GateChance(
            gate=hit.gate,
            because=hit.because,
            level=hit.level,  # type: ignore[arg-type]
            corners=tuple(sorted(hit.corners)),  # type: ignore[arg-type]
        )
        for gate in only
        for hit in openings(gate, situation)
    )


def _shown(knowledge: Knowledge, case: CaseInput) -> list[Event]:
    """Return what the one-verdict checks of a case found, as openings.

    A sinking pedal that a check has shown is as good a reason as one that the
    customer tells of.
    """
    out: list[Event] = []
    for verdict in case.verdicts:
        check = knowledge.checks.get(verdict.check)
        if verdict.verdict != "found" or check is None or check.kind != "one-verdict":
            continue
        for gate in knowledge.gates.values():
            if check.id in gate.closes_on and gate.triggers:
                because = f"{check.label.lower()}: something was found"
                out.append(Opened(gate.id, because, gate.level))
    return out


def barring(knowledge: Knowledge, gates: Sequence[OpenGate]) -> list[OpenGate]:
    """Return the gates that keep the car off the road beyond what every car needs.

    A gate that asks for nothing but what comes before any road test anyway, such as
    a look at the brake lamps, bars nothing more.
    """
    usual = {
        check
        for gate in knowledge.gates.values()
        if gate.always and gate.stage == "road-test"
        for check in gate.closes_on
    }
    return [
        gate
        for gate in gates
        if gate.because
        and gate.level in NO_ROAD
        and (gate.level == NO_ROAD[0] or not set(gate.places) or set(gate.places) - usual)
    ]


def unsigned_notes(
    case: CaseInput, gates: Sequence[OpenGate], record: GateRecord
) -> tuple[str, ...]:
    """Return a note for each check that is answered but closes nothing without a name."""
    if record.events:
        return ()
    answered = {v.check for v in case.verdicts if v.verdict == "not-found"}
    named = {check for gate in gates if gate.because for check in gate.closes_on}
    return tuple(
        f"{check} is answered without a name: it closes no gate until somebody signs it"
        for check in sorted(answered & named)
    )


def gate_rows(knowledge: Knowledge, gates: Sequence[OpenGate]) -> tuple[GateRow, ...]:
    """Return the gates as they are shown: those that something opened, and the pre-drive one."""
    rows = []
    for gate in gates:
        known = knowledge.gates[gate.id]
        if not gate.because and known.stage != "road-test":
            continue
        rows.append(
            GateRow(
                id=gate.id,
                level=gate.level,  # type: ignore[arg-type]
                because=gate.because,
                closes_on=gate.closes_on,
                closes_how=known.closes_how,
                missing=gate.missing,
                stage=known.stage,
                basis=known.basis,
            )
        )
    return tuple(rows)
