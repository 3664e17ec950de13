"""The gates of one case: what is known of the car, by kind, against the knowledge."""

from __future__ import annotations

from api.answering.prices import kind_of
from api.documents import GateRow
from graph.case import CaseInput
from graph.compiled import CompiledCase
from graph.terms import Knowledge
from triage.exact import Standing
from triage.gates import OpenGate, Situation, open_gates

__all__ = ["NO_ROAD", "gate_rows", "gates_of", "situation_of"]

#: Levels at which the car is not taken on the road.
NO_ROAD = ("do-not-drive", "no-road-test-until-lift-check")


def situation_of(case: CaseInput, compiled: CompiledCase, state: Standing) -> Situation:
    """Return what is known of the car, by kind."""
    present = {kind_of(node) for node, value in compiled.evidence.items() if value is True}
    found = {v.cause for v in case.verdicts if v.verdict == "found" and v.cause}
    passed = {v.check for v in case.verdicts if v.verdict == "not-found" and v.cause is None}
    failed = {v.check for v in case.verdicts if v.verdict == "found"}
    chances: dict[str, float] = {}
    for row, node in enumerate(state.compiled.network.nodes):
        p = float(state.chance[row])
        if p == p:  # nan: nothing seen depends on it
            chances[kind_of(node)] = max(p, chances.get(kind_of(node), 0.0))
    return Situation(
        present=frozenset(present),
        contexts=frozenset(case.context),
        facts=frozenset(case.vehicle.facts),
        found=frozenset(found),
        chances=chances,
        passed=frozenset(passed - failed),
        age_years=case.vehicle.age_years,
        salted=case.vehicle.salted_roads,
    )


def gates_of(knowledge: Knowledge, situation: Situation) -> list[OpenGate]:
    """Return the open gates that stand before driving, testing or working now."""
    now = [gate for gate in knowledge.gates.values() if gate.stage in {"road-test", "work"}]
    return open_gates(now, situation)


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
                level=gate.level,
                because=gate.because,
                closes_on=gate.closes_on,
                closes_how=known.closes_how,
                stage=known.stage,
                basis=known.basis,
            )
        )
    return tuple(rows)
