"""What findings say: present, absent, somewhere, nowhere.

A finding at a place of its scope is evidence on that node. A wider place, or none,
means *somewhere there*: present is evidence on a node that is on when any of them
is, absent is evidence on each of them. Unknown is no evidence.

A finding of the whole car can be told with a narrower place ("it hums from the back
left"). It counts as the finding; the place is kept as a hint and is no evidence, because
where a person hears a thing is not where it is. Absent at a narrower place says nothing
about the whole car and is only noted.

Some statements are one memory told twice, and are scored once: of a broad finding
and its special cases only the special case counts; of exclusive answers to one
question only the one that was given; and where a context of the case says the
same as a finding, the context has moved the priors already and the finding is left
out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from graph.car import Car, Ledger
from graph.case import FindingSeen
from graph.compiled import EvidenceItem
from graph.placing import covers
from graph.terms import Place
from triage.errors import ContradictionError, DocumentError, PlaceError, UnknownTermError
from triage.gates import CORNERS

__all__ = ["MATCHING_CONTEXTS", "NOT_COMPLAINED_OF", "add_findings"]

_WORK = (
    "cx-wheel-off-recent",
    "cx-tyres-recent",
    "cx-winter-wheels",
    "cx-steering-alignment-recent",
    "cx-hub-axle-recent",
    "cx-suspension-recent",
    "cx-brake-work-recent",
    "cx-engine-gearbox-recent",
    "cx-module-recent",
    "cx-collision-repair",
)
#: finding -> contexts that say the same thing (common practice, no source).
MATCHING_CONTEXTS: Mapping[str, tuple[str, ...]] = {
    "sy-lamp-after-service": (*_WORK, "cx-battery-recent"),
    "sy-ff-odo-service": _WORK,
    "sy-since-tyres": ("cx-tyres-recent", "cx-wheel-off-recent", "cx-winter-wheels"),
    "sy-since-work": _WORK[3:],
    "sy-since-battery": ("cx-battery-recent",),
    "sy-since-hit": ("cx-strike",),
    "sy-lamp-mil": ("cx-engine-lamp",),
    "sy-only-after-sat": ("cx-sat-long",),
    "sy-acts-slippery": ("cx-low-grip-when-it-happened",),
}
#: Groups of findings that a technician sees, a tool shows, or that only say when:
#: evidence, but not what the customer came for.
NOT_COMPLAINED_OF = frozenset({"seen", "freeze-frame", "when"})
STATES = ("present", "absent", "unknown")


def add_findings(car: Car, ledger: Ledger) -> None:
    """Read the findings of the case into the ledger.

    Raises
    ------
    UnknownTermError
        If an id is no finding and no state.
    PlaceError
        If the thing cannot be at the place.
    ContradictionError
        If a node is stated as present and as absent.
    """
    scored = [seen for seen in car.case.findings if seen.state != "unknown"]
    scored = [wide for seen in scored if (wide := _widened(car, seen, ledger)) is not None]
    stated = [_checked(car, seen) for seen in dict.fromkeys(scored)]
    said = {word: {seen.id for seen in scored if seen.state == word} for word in STATES}
    _contradictions(stated)
    for seen, nodes in stated:
        reason = _unscored(car, seen, said)
        if reason:
            ledger.notes.append(f"{_key(seen)} {seen.state}: {reason}")
        elif not nodes:
            _ask_removed(car, seen, ledger)
        else:
            ledger.items.append(_item(car, seen, nodes, ledger, stated))


def _key(seen: FindingSeen) -> str:
    return f"{seen.id}@{seen.place}" if seen.place not in (None, "vehicle") else seen.id


def _widened(car: Car, seen: FindingSeen, ledger: Ledger) -> FindingSeen | None:
    """Return a finding of the whole car without its narrower place; None = nothing to score."""
    finding = car.knowledge.findings.get(seen.id)
    if finding is None or finding.scope != "vehicle" or not _is_narrower(seen.place):
        return seen
    kept = f"{_key(seen)} {seen.state}: the place is kept as a hint and not used as evidence"
    if seen.state == "absent":
        ledger.notes.append(f"{kept}; absent there only, so nothing is scored")
        return None
    ledger.notes.append(f"{kept}; it counts as {seen.id} of the whole car")
    return replace(seen, place=None)


def _is_narrower(place: Place | None) -> bool:
    """Return whether a place is a part of the car."""
    return place in CORNERS and place != "vehicle"


def _checked(car: Car, seen: FindingSeen) -> tuple[FindingSeen, tuple[str, ...]]:
    """Return a finding with the nodes it speaks about, on this car."""
    known = (*car.knowledge.findings, *car.knowledge.states)
    if seen.id not in known:
        raise UnknownTermError("finding", seen.id, known, where="findings")
    if seen.state not in STATES:
        raise DocumentError(
            f"state {seen.state!r}",
            where=f"finding {seen.id!r}",
            allowed=", ".join(STATES),
            remedy="use one of these",
        )
    allowed = tuple(car.placed.by_term[seen.id])
    wanted = _places(seen.place, allowed)
    if not wanted:
        raise PlaceError(seen.id, str(seen.place), _allowed_places(allowed), where="findings")
    here = car.places(seen.id)
    return seen, tuple(here[place] for place in wanted if place in here)


def _places(place: Place | None, allowed: tuple[Place, ...]) -> tuple[Place, ...]:
    """Return the allowed places that lie within a stated one; all where none is stated."""
    if place is None:
        return allowed
    try:
        return tuple(other for other in allowed if covers(place, other))
    except KeyError:
        return ()


def _allowed_places(allowed: tuple[Place, ...]) -> tuple[Place, ...]:
    """Return the places to offer: those of the scope, and the wider ones over them."""
    wider = [place for place in ("front", "rear", "left", "right") if place not in allowed]
    return (*allowed, *(place for place in wider if _places(place, allowed)))


def _contradictions(stated: list[tuple[FindingSeen, tuple[str, ...]]]) -> None:
    """Refuse a node that is present and absent, and a "somewhere" that is nowhere."""
    absent = {node: seen for seen, nodes in stated if seen.state == "absent" for node in nodes}
    for seen, nodes in stated:
        if seen.state == "present" and nodes and all(node in absent for node in nodes):
            other = absent[nodes[0]]
            first = f"present at {seen.place or 'some place'}"
            raise ContradictionError(
                seen.id, first, f"absent at {other.place or 'every place'}", where="findings"
            )


def _unscored(car: Car, seen: FindingSeen, said: Mapping[str, set[str]]) -> str:
    """Return why a finding is not scored, or nothing."""
    finding = car.knowledge.findings.get(seen.id)
    if finding is None:
        return ""
    if seen.state == "present" and seen.id in car.ruled:
        return "left unscored, because a rule has moved the priors for it already"
    special = [
        key
        for key in said["present"] - {seen.id}
        if car.knowledge.findings.get(key) and car.knowledge.findings[key].specific_of == seen.id
    ]
    if special:
        return f"left unscored, because {special[0]} says the same more closely"
    if seen.state == "absent":
        return _implied(car, seen, said)
    same = [key for key in MATCHING_CONTEXTS.get(seen.id, ()) if key in car.case.context]
    if same:
        return f"left unscored, because the context {same[0]} has moved the priors already"
    return ""


def _implied(car: Car, seen: FindingSeen, said: Mapping[str, set[str]]) -> str:
    """Return why an absent finding adds nothing, or nothing."""
    findings = car.knowledge.findings
    finding = findings[seen.id]
    chosen = [
        key
        for key in said["present"]
        if finding.choice and key in findings and findings[key].choice == finding.choice
    ]
    if chosen:
        return f"left unscored, because {chosen[0]} answers the same question"
    if finding.specific_of in said["absent"]:
        return f"left unscored, because {finding.specific_of} is absent altogether"
    return ""


def _ask_removed(car: Car, seen: FindingSeen, ledger: Ledger) -> None:
    """Ask about a finding that the facts say this car cannot have."""
    if seen.state != "present":
        return
    removed = car.view.removed
    nodes = car.placed.by_term[seen.id].values()
    facts = ", ".join(sorted({removed[node] for node in nodes if node in removed}))
    ledger.questions.append(
        f"{_key(seen)} was seen, but by {facts} this car cannot have it: which of the two is "
        "wrong? The finding is left out until then"
    )


def _item(
    car: Car,
    seen: FindingSeen,
    nodes: tuple[str, ...],
    ledger: Ledger,
    stated: list[tuple[FindingSeen, tuple[str, ...]]],
) -> EvidenceItem:
    """Return the evidence item of one finding."""
    if seen.state == "absent":
        return EvidenceItem(
            _key(seen), "finding", tuple((node, False) for node in nodes), in_complaint=False
        )
    finding = car.knowledge.findings.get(seen.id)
    complained = finding is not None and finding.group not in NOT_COMPLAINED_OF
    absent = {n for other, ns in stated if other.state == "absent" for n in ns}
    left = [node for node in nodes if node not in absent]
    node = left[0]
    if len(left) > 1:
        node = ledger.either(f"{seen.id}@{seen.place or 'somewhere'}", left)
        ledger.notes.append(
            f"{seen.id} is present, its place within {seen.place or 'the car'} open"
        )
    return EvidenceItem(_key(seen), "finding", ((node, True),), in_complaint=complained)
