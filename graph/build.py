"""From knowledge and one car to a network, its evidence and the checks on offer.

The order of the work: facts, roads, age, mileage and context make the car
(`graph.car`); codes, findings and verdicts are read into a ledger
(`graph.reading`); the doings that nobody has answered become the offer. What does
not depend on the case is placed once per knowledge (`graph.placing`), what does not
depend on verdicts once per car (`graph.prepared`).
"""

from __future__ import annotations

from graph.car import Car, Ledger
from graph.case import CaseInput
from graph.compiled import CompiledCase, combine
from graph.held_checks import held_back
from graph.prepared import prepare
from graph.reading import read_case
from graph.terms import Knowledge
from triage.model import Network

__all__ = ["compile_case", "compile_network"]

#: The order in which intake is done; one that is not named here goes last.
INTAKE_ORDER = (
    "ck-safety-questions",
    "ck-history-interview",
    "ck-recent-work-review",
    "ck-full-scan",
    "ck-save-freeze-frame",
    "ck-status-bits",
)
#: Procedure that belongs to later stages of a job, not to its beginning.
LATER = frozenset({"ck-clear-and-return", "ck-road-standard", "ck-verify-drive", "ck-rescan"})
#: Contexts that only the question for recent work brings to light.
RECENT_WORK = ("-recent", "cx-winter-wheels", "cx-collision-repair")


def compile_case(knowledge: Knowledge, case: CaseInput) -> CompiledCase:
    """Return one car ready for inference: network, evidence, complaint, checks.

    Parameters
    ----------
    knowledge : Knowledge
        Kinds and links, checked when they were loaded.
    case : CaseInput
        What is known of the car.

    Returns
    -------
    CompiledCase
        The network holds every node that this car can have, the one-verdict nodes
        of all its checks, and the helper nodes that open places and meanings need.

    Raises
    ------
    UnknownTermError
        If an id of the case is not known.
    PlaceError
        If something is stated at a place where it cannot be.
    ContradictionError
        If two statements cannot both hold.
    CodeFormatError, DocumentError, ParameterError
        If a code, a word or a number cannot be read.
    KnowledgeError
        If a link has no meaning.
    """
    ready = prepare(knowledge, case)
    car, ledger = ready.car, Ledger(notes=list(ready.car.notes))
    answered = read_case(car, ledger, ready.doings)
    network = ready.network(ledger)
    evidence = combine(ledger.items)
    complaint = frozenset(
        node
        for item in ledger.items
        if item.in_complaint
        for node, value in item.contributions
        if value is True
    )
    return CompiledCase(
        network=network,
        evidence=evidence,
        items=tuple(ledger.items),
        complaint=complaint,
        checks=tuple(
            held_back(item, ledger.told, knowledge.confounders)
            for key, item in ready.offers.items()
            if key not in answered
        ),
        intake=_intake(car, answered),
        questions=tuple(dict.fromkeys(ledger.questions)),
        notes=tuple(dict.fromkeys(ledger.notes)),
        parts=tuple(ledger.parts),
    )


def compile_network(knowledge: Knowledge, case: CaseInput | None = None) -> Network:
    """Return the network alone, of a case or of a car of which nothing is known."""
    return compile_case(knowledge, case or CaseInput()).network


def _intake(car: Car, answered: frozenset[str]) -> tuple[str, ...]:
    """Return the intake checks that the case has not done yet.

    A check counts as done when the case holds a verdict on it, or already holds
    what it would bring: a status on every code, a freeze-frame finding, recent work.
    """
    case = car.case
    brought = {
        "ck-status-bits": bool(case.codes) and all(read.status for read in case.codes),
        "ck-save-freeze-frame": any(seen.id.startswith("sy-ff-") for seen in case.findings),
        "ck-recent-work-review": any(
            key.endswith(RECENT_WORK[0]) or key in RECENT_WORK[1:] for key in case.context
        ),
    }
    open_ones = [
        check.id
        for check in car.knowledge.checks.values()
        if check.kind == "intake"
        and check.id not in answered
        and check.id not in LATER
        and not brought.get(check.id, False)
    ]
    named = [key for key in INTAKE_ORDER if key in open_ones]
    return (*named, *(key for key in open_ones if key not in INTAKE_ORDER))
