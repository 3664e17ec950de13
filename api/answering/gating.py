"""The gates of one case: what is known of the car, by kind, against the knowledge.

A case document carries no names, and a gate closes only on a name. So the
verdicts of a case can open a gate but close none; what closes gates is the
record of events that a job keeps (`triage.gate_closing`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from api.answering.closing import house_of
from api.answering.prices import kind_of, place_of
from api.documents import GateRow
from graph.case import CaseInput
from graph.compiled import CompiledCase
from graph.terms import Knowledge
from triage.exact import Standing
from triage.gate_closing import Event, Opened, standing_gates
from triage.gates import CORNERS, OpenGate, Situation

__all__ = ["NO_ROAD", "GateRecord", "gate_rows", "gates_of", "situation_of", "unsigned_notes"]

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
    asked = {
        finding
        for gate in knowledge.gates.values()
        for trigger in gate.triggers
        for finding in trigger.findings
    }
    seen = [node for node, value in compiled.evidence.items() if value is True]
    unsure = {seen.id for seen in case.findings if seen.state == "unknown"}
    found = [v for v in case.verdicts if v.verdict == "found" and v.cause]
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
        chances=_chances(state),
        where=where,
        age_years=case.vehicle.age_years,
        salted=case.vehicle.salted_roads,
    )


def _chances(state: Standing) -> dict[str, float]:
    """Return the largest chance of each cause and state at any place."""
    chances: dict[str, float] = {}
    for row, node in enumerate(state.compiled.network.nodes):
        p = float(state.chance[row])
        if p == p:  # nan: nothing seen depends on it
            chances[kind_of(node)] = max(p, chances.get(kind_of(node), 0.0))
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


def gate_rows(knowledge: Knowledge, gates: list[OpenGate]) -> tuple[GateRow, ...]:
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
