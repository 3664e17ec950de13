"""A simulated car: a vehicle, what is really wrong with it, what a technician hears at intake.

The steps of a draw:

1. A vehicle, from `AGES`, `KM_PER_YEAR`, `SALTED_SHARE`, `DRIVES` (invented, simple).
2. Causes, states, findings and all links, from the network of that vehicle.
3. Kept only if there is a chassis complaint: a trouble code, and among what the customer tells
   or the codes something that really comes from a cause. Everything else is drawn again, the
   vehicle included.
4. Intake: every code that is there; of what else is there the customer tells each with
   `TOLD`; `ASKED` other findings are asked about and answered truthfully.

What the customer leaves untold is *not* told to the model: it takes silence for no evidence,
although silence here says a little. That is how the real thing is, and it shows in the
calibration.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from api.answering.prices import kind_of, place_of
from graph.build import compile_case, compile_network
from graph.case import CaseInput, CodeRead, FindingSeen, Vehicle
from graph.compiled import CompiledCase
from graph.finding_evidence import NOT_COMPLAINED_OF
from graph.terms import Knowledge
from triage.model import Network
from triage.simulate import CarSample, sample_answers, sample_car, true_causes

__all__ = ["Garage", "SimulatedCar", "draw_car"]

_T = TypeVar("_T")

AGES = ((2.0, 0.08), (5.0, 0.2), (8.0, 0.25), (11.0, 0.22), (14.0, 0.15), (17.0, 0.1))
KM_PER_YEAR = ((9000.0, 0.3), (15000.0, 0.5), (24000.0, 0.2))
SALTED_SHARE = 0.5
DRIVES = (("fwd", 0.65), ("rwd", 0.13), ("awd", 0.14), ("4wd", 0.08))
#: Chance that the customer tells of a complaint that is there.
TOLD = 0.5
#: Fewest and most findings that the technician asks about beyond what was told.
ASKED = (4, 10)
TRIES = 1000


@dataclass(frozen=True, slots=True)
class SimulatedCar:
    """A car with its truth, compiled as a case.

    Attributes
    ----------
    case : what is known at intake
    compiled : the same, ready for inference
    present : every cause that is there
    truth : the causes that the complaint really comes from
    answers : for each check of `compiled.checks`, what each of its verdicts would be
    tries : draws until this car had a complaint
    """

    case: CaseInput
    compiled: CompiledCase
    present: frozenset[str]
    truth: frozenset[str]
    answers: tuple[tuple[bool, ...], ...]
    tries: int


class Garage:
    """The knowledge, with the networks of the vehicles seen so far."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self._networks: dict[Vehicle, Network] = {}

    def network(self, vehicle: Vehicle) -> Network:
        """Return the network of a vehicle of which nothing else is known."""
        if vehicle not in self._networks:
            self._networks[vehicle] = compile_network(self.knowledge, CaseInput(vehicle))
        return self._networks[vehicle]


def draw_car(garage: Garage, generator: np.random.Generator) -> SimulatedCar:
    """Draw vehicles until one comes in with a code and a complaint that has a cause."""
    for tries in range(1, TRIES + 1):
        vehicle = _draw_vehicle(generator)
        network = garage.network(vehicle)
        sample = sample_car(network, generator)
        case = _intake(garage.knowledge, vehicle, network, (sample, generator))
        if case is None:
            continue
        compiled = compile_case(garage.knowledge, case)
        complaint = [key for key in compiled.complaint if key in network.nodes]
        truth = true_causes(network, sample, complaint)
        if truth:
            answers = sample_answers(network, sample, compiled.checks, generator)
            present = frozenset(
                key for key in network.causes if sample.on[network.arrays.index[key]]
            )
            return SimulatedCar(case, compiled, present, truth, tuple(answers), tries)
    raise AssertionError(f"no complaint in {TRIES} draws: the knowledge gives no codes")


def _draw_vehicle(generator: np.random.Generator) -> Vehicle:
    """Return a vehicle; facts are unknown, as at a counter."""
    age = _pick(generator, AGES)
    drive = _pick(generator, DRIVES)
    salted = bool(generator.random() < SALTED_SHARE)
    return Vehicle(
        str(drive), float(age), float(age) * float(_pick(generator, KM_PER_YEAR)), salted
    )


def _pick(generator: np.random.Generator, shares: tuple[tuple[_T, float], ...]) -> _T:
    """Return one of the values by its share."""
    weights = np.array([share for _, share in shares])
    return shares[int(generator.choice(len(shares), p=weights / weights.sum()))][0]


def _intake(
    knowledge: Knowledge,
    vehicle: Vehicle,
    network: Network,
    drawn: tuple[CarSample, np.random.Generator],
) -> CaseInput | None:
    """Return what is known at intake, or nothing when no code is there."""
    sample, generator = drawn
    index = network.arrays.index
    codes = [key for key in network.nodes if key in knowledge.codes and sample.on[index[key]]]
    if not codes:
        return None
    findings = [key for key in network.nodes if kind_of(key) in knowledge.findings]
    present = [key for key in findings if sample.on[index[key]] and _complained(knowledge, key)]
    told = [key for key in present if generator.random() < TOLD]
    count = int(generator.integers(ASKED[0], ASKED[1] + 1))
    others = [key for key in findings if key not in told]
    asked = [others[k] for k in sorted(generator.permutation(len(others))[:count])]
    return CaseInput(
        vehicle,
        codes=tuple(_code(knowledge, key) for key in codes),
        findings=tuple(_seen(key, here=bool(sample.on[index[key]])) for key in (*told, *asked)),
    )


def _complained(knowledge: Knowledge, key: str) -> bool:
    """Return whether a customer would come in for a finding."""
    return knowledge.findings[kind_of(key)].group not in NOT_COMPLAINED_OF


def _code(knowledge: Knowledge, key: str) -> CodeRead:
    """Return a code as the scan shows it, its meaning known, without failure type."""
    code = knowledge.codes[key]
    layout = "current" if code.notation else "earlier"
    return CodeRead(code.notation or code.earlier[0], module="abs", layout=layout, meaning=key)


def _seen(key: str, *, here: bool) -> FindingSeen:
    """Return a finding at its place."""
    return FindingSeen(kind_of(key), "present" if here else "absent", place_of(key))
