"""What must come before what on the list, as the knowledge states it.

Read from the gates: a check on which an opened gate closes comes first; before
the first road check come the checks of the pre-drive gate; a check that a gate
names as coming after others comes after them. Joints are proven before the car
goes to the alignment rack: whatever shows one of the things that open that gate
comes before every check there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from api.answering.prices import kind_of
from graph.compiled import CheckItem
from graph.terms import Gate, Knowledge
from triage.gates import OpenGate
from triage.precedence import Refit, Rules

__all__ = ["ROAD", "TORQUE", "hands_of", "rules_for"]

ROAD, WHEEL_OFF, RACK = "su-road", "su-wheel-off", "su-rack"
TORQUE = "ck-wheel-nut-torque"
PRE_DRIVE = "sg-pre-road-test"
TIGHT_FIRST = "sg-align-before-parts"
ALIGN = "AL"  # the follow-up "alignment" of a repair


def rules_for(
    knowledge: Knowledge,
    offers: Sequence[CheckItem],
    chance: Mapping[str, float],
    gates: Sequence[OpenGate],
) -> Rules:
    """Return the rules over the offers.

    Parameters
    ----------
    knowledge : Knowledge
    offers : checks that may be planned now
    chance : cause -> posterior, to choose the place where a gate is closed
    gates : the open gates
    """
    pre_drive = next((gate.closes_on for gate in gates if gate.id == PRE_DRIVE), ())
    doings: dict[str, list[int]] = {}
    for k, offer in enumerate(offers):
        doings.setdefault(offer.id, []).append(k)
    wanted = [k for check in pre_drive for k in doings.get(check, ())]
    return Rules(
        first=_closers(offers, chance, gates),
        gates={ROAD: tuple(k for k in wanted if offers[k].setup != ROAD)},
        before=tuple(_before(knowledge, gate, offers, doings) for gate in knowledge.gates.values()),
        refit=_refit(knowledge, offers),
    )


def hands_of(knowledge: Knowledge) -> dict[str, int]:
    """Return the people that each set-up takes, where it is not one."""
    return {key: 2 for key, setup in knowledge.setups.items() if setup.helper}


def _closers(
    offers: Sequence[CheckItem], chance: Mapping[str, float], gates: Sequence[OpenGate]
) -> tuple[int, ...]:
    """Return the offers that close a gate which something opened, the likeliest place each."""

    def likely(k: int) -> float:
        return sum(chance.get(verdict.target, 0.0) for verdict in offers[k].verdicts)

    chosen: list[int] = []
    for gate in gates:
        for check in gate.closes_on if gate.because else ():
            places = [k for k, offer in enumerate(offers) if offer.id == check]
            if places:
                chosen.append(max(places, key=lambda k: (likely(k), -k)))
    return tuple(dict.fromkeys(chosen))


def _before(
    knowledge: Knowledge,
    gate: Gate,
    offers: Sequence[CheckItem],
    doings: Mapping[str, Sequence[int]],
) -> tuple[frozenset[int], frozenset[int]]:
    """Return the offers that come earlier and those that come later by one gate."""
    late = {k for check in gate.before for k in doings.get(check, ())}
    early = {k for check in gate.closes_on for k in doings.get(check, ())}
    if gate.id == TIGHT_FIRST:
        late |= {k for k, offer in enumerate(offers) if offer.setup == RACK}
        loose = _loose_things(knowledge, gate)
        early |= {
            k
            for k, offer in enumerate(offers)
            if any(kind_of(verdict.target) in loose for verdict in offer.verdicts)
        }
    return frozenset(early - late), frozenset(late)


def _loose_things(knowledge: Knowledge, gate: Gate) -> set[str]:
    """Return what opens the gate, what leads to it, and what is aligned after its repair."""
    about = {term for trigger in gate.triggers for term in trigger.verdicts}
    about |= {link.source for link in knowledge.links if link.target in about}
    for repair in knowledge.repairs.values():
        if ALIGN in repair.follow_ups:
            about.update(repair.fixes)
    return about


def _refit(knowledge: Knowledge, offers: Sequence[CheckItem]) -> Refit | None:
    """Return tightening the wheels before the car moves."""
    check = knowledge.checks.get(TORQUE)
    if check is None:
        return None
    same = next((k for k, offer in enumerate(offers) if offer.id == TORQUE), -1)
    return Refit(WHEEL_OFF, ROAD, check.setup, check.minutes, same)
