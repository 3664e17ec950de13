"""What verdicts say: ratios on located targets, evidence on one-verdict nodes.

A verdict on a located check speaks about the target that it names::

    found       sensitivity / (1 - specificity)
    not found   (1 - sensitivity) / specificity

and about every target it covers when it names none and found nothing. "Something
found, place not said" is evidence on a node over all of them. A check with one
verdict is a node of the network. A reading replaces the word by the probability
that it lies beyond the limit (`triage.measure.conformity`). Can't tell is none.

Checks that the same thing fools are held together: what the checks of one group say
of one target is limited to the cap of the group, though never below what the
strongest of them says alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from graph.car import Car, Ledger
from graph.case import VerdictGiven
from graph.compiled import EvidenceItem, Value
from graph.doings import Doing, Target, one_verdict_node
from graph.held_checks import held_total
from graph.placing import covers
from graph.terms import SCOPES, Check, Confounder, Place
from triage.errors import ContradictionError, DocumentError, PlaceError, UnknownTermError
from triage.measure.conformity import likelihood_ratio, nonconformance_probability
from triage.model import Node

__all__ = ["add_verdicts"]

#: A reading is never taken as surer than this, as odds.
SUREST = 1000.0


@dataclass(slots=True)
class Spoken:
    """What one verdict says, before checks that are fooled together are held."""

    key: str
    check: str
    node: str  # the node that carries the evidence
    value: Value
    #: target -> (log ratio, P(found | on), P(found | off)); one entry when located
    says: Mapping[str, tuple[float, float, float]]
    located: bool
    held: dict[str, float] = field(default_factory=dict)  # target -> factor on the log


def add_verdicts(
    car: Car, ledger: Ledger, doings: Mapping[str, tuple[Doing, ...]]
) -> frozenset[str]:
    """Read the verdicts of the case into the ledger; return the doings answered.

    Raises
    ------
    UnknownTermError, PlaceError, DocumentError
        If a check, cause, place or word is not known, or the check cannot show it.
    ContradictionError
        If one doing found a target and did not.
    """
    answered: set[str] = set()
    spoken: list[Spoken] = []
    heard: dict[tuple[str, str], str] = {}
    for given in _specific_first(car.case.verdicts):
        check = _check(car, given)
        if check.kind == "intake":
            answered.add(check.id)
            continue
        doing_list = _doings(car, given, doings.get(check.id, ()), ledger)
        answered.update(doing.key for doing in doing_list)
        if given.verdict == "cant-tell":
            continue
        targets = [(doing, _named(doing, given)) for doing in doing_list]
        targets = [(doing, row) for doing, row in targets if row]
        if not targets:
            ledger.questions.append(
                f"{given.check} speaks about {given.cause or 'things'} that this car cannot have "
                "by its facts: is a fact wrong? The verdict is left out until then"
            )
        elif not _heard_before(heard, given, targets, ledger):
            spoken += _spoken(car, given, targets, ledger)
    _hold(spoken, car.knowledge.confounders)
    for one in spoken:
        for target, (log, _, _) in one.says.items():
            ledger.told[one.check, target] = ledger.told.get((one.check, target), 0.0) + log
    items: dict[str, list[tuple[str, Value]]] = {}
    for one in spoken:
        items.setdefault(one.key, []).append((one.node, _value(one)))
    ledger.items += [
        EvidenceItem(key, "verdict", tuple(row), in_complaint=False) for key, row in items.items()
    ]
    return frozenset(answered)


def _specific_first(verdicts: Iterable[VerdictGiven]) -> list[VerdictGiven]:
    """Return the verdicts that name a thing before those on a whole check."""
    return sorted(verdicts, key=lambda given: (given.cause is None, given.at is None))


def _check(car: Car, given: VerdictGiven) -> Check:
    """Return the check of a verdict; refuse what it cannot have said."""
    checks = car.knowledge.checks
    if given.check not in checks:
        raise UnknownTermError("check", given.check, checks, where="verdicts")
    check = checks[given.check]
    if given.verdict not in ("found", "not-found", "cant-tell"):
        raise DocumentError(
            f"verdict {given.verdict!r}",
            where=f"check {check.id!r}",
            allowed="found, not-found, cant-tell",
            remedy="use one of these",
        )
    if given.cause is None:
        return check
    known = (*car.knowledge.causes, *car.knowledge.states)
    if given.cause not in known:
        raise UnknownTermError("cause", given.cause, known, where=f"verdict on {check.id!r}")
    shows = [row.target for row in check.detects]
    if given.cause not in shows and check.kind != "intake":
        raise DocumentError(
            f"{check.id!r} cannot show {given.cause!r}",
            where="verdicts",
            allowed=", ".join(shows) or "a verdict without cause",
            remedy="name one of these or leave the cause out",
        )
    places = car.placed.by_term[given.cause]
    if given.at is not None and given.at not in places:
        raise PlaceError(given.cause, given.at, places, where=f"verdict on {check.id!r}")
    return check


def _doings(
    car: Car, given: VerdictGiven, doings: tuple[Doing, ...], ledger: Ledger
) -> list[Doing]:
    """Return the doings that a verdict answers: at, around or within its place."""
    check = car.knowledge.checks[given.check]
    places = SCOPES[check.per]
    place = given.place if given.place is not None else given.at
    if place is None or place in places:
        chosen: tuple[Place, ...] = places if place is None else (place,)
    else:
        chosen = tuple(other for other in places if _meet(place, other))
    if not chosen:
        raise PlaceError(check.id, str(place), places, where="verdicts")
    found = [doing for doing in doings if doing.place in chosen]
    if given.at is not None and given.place is not None:
        reached = [other for doing in found for other in _seen(doing, given)]
        if found and given.at not in reached and given.cause in car.view.removed:
            return []
        if found and given.at not in reached and reached:
            raise PlaceError(
                str(given.cause), given.at, reached, where=f"{check.id!r} done at {given.place}"
            )
    return found


def _seen(doing: Doing, given: VerdictGiven) -> list[Place]:
    return [row.place for row in doing.targets if given.cause in (None, row.term)]


def _meet(one: Place, other: Place) -> bool:
    """Return whether one place is part of the other; unknown words meet nothing."""
    try:
        return covers(one, other) or covers(other, one)
    except KeyError:
        return False


def _named(doing: Doing, given: VerdictGiven) -> list[Target]:
    """Return the targets of a doing that a verdict speaks about."""
    place = given.at if given.at is not None else given.place
    return [
        row
        for row in doing.targets
        if given.cause in (None, row.term)
        and (given.at in (None, row.place))
        and (place is None or _meet(place, row.place))
    ]


def _heard_before(
    heard: dict[tuple[str, str], str],
    given: VerdictGiven,
    targets: list[tuple[Doing, list[Target]]],
    ledger: Ledger,
) -> bool:
    """Return whether this was said already; refuse the opposite of what was said."""
    pairs = [(doing.key, row.node) for doing, rows in targets for row in rows]
    before = {pair: heard[pair] for pair in pairs if pair in heard}
    whole_found = given.verdict == "found" and len(pairs) > 1
    if whole_found and "found" in before.values():
        return True
    if not whole_found:
        for (doing, node), verdict in before.items():
            if verdict != given.verdict:
                raise ContradictionError(node, verdict, given.verdict, where=doing)
        for pair in pairs:
            heard.setdefault(pair, given.verdict)
    if before and len(before) == len(pairs) and not whole_found:
        ledger.notes.append(f"{given.check} says the same of {pairs[0][1]} twice: counted once")
        return True
    return False


def _spoken(
    car: Car,
    given: VerdictGiven,
    targets: list[tuple[Doing, list[Target]]],
    ledger: Ledger,
) -> list[Spoken]:
    """Return what one verdict says, node by node."""
    check = car.knowledge.checks[given.check]
    rows = [row for _doing, found in targets for row in found]
    nodes = {row.node for row in rows}
    key = _item_key(given, targets)
    if check.kind == "one-verdict":
        made = [one_verdict_node(doing.key, doing.targets) for doing, _found in targets]
        return _on_nodes(given, key, made, rows, ledger)
    if len(nodes) == 1 or given.verdict == "not-found":
        return [_on_target(given, key, row) for row in {row.node: row for row in rows}.values()]
    return _on_nodes(given, key, [one_verdict_node(key, rows)], rows, ledger)


def _item_key(given: VerdictGiven, targets: list[tuple[Doing, list[Target]]]) -> str:
    """Return a key that tells the verdicts of a case apart."""
    place = targets[0][0].key if len(targets) == 1 else f"{given.check}@somewhere"
    if given.cause is None:
        narrow = given.place not in (None, *(doing.place for doing, _rows in targets))
        return f"{place}:{given.place}" if narrow and given.place else place
    return f"{place}:{given.cause}" + (f"@{given.at}" if given.at else "")


def _on_target(given: VerdictGiven, key: str, row: Target) -> Spoken:
    """Return the ratio that a located verdict puts on its target."""
    p_on, p_off = row.sensitivity, 1.0 - row.specificity
    ratio = likelihood_ratio(given.verdict, given.reading, p_on, p_off)
    says = {row.node: (math.log(ratio), p_on, p_off)}
    return Spoken(key, given.check, row.node, ratio, says, located=True)


def _on_nodes(
    given: VerdictGiven, key: str, made: list[Node], rows: list[Target], ledger: Ledger
) -> list[Spoken]:
    """Return the evidence on one-verdict nodes; found among several is one of them."""
    for node in made:
        ledger.helpers[node.id] = node
    found = given.verdict == "found"
    if found and len(made) > 1:
        ledger.either(key, [node.id for node in made])
    ids = [key] if found and len(made) > 1 else [node.id for node in made]
    value: Value = found
    if given.reading is not None:
        sure = nonconformance_probability(given.reading)
        value = min(SUREST, max(1.0 / SUREST, sure / (1.0 - sure) if sure < 1.0 else SUREST))
    leak = sum(node.base for node in made) / len(made)
    says: dict[str, tuple[float, float, float]] = {}
    for row in rows:
        p_on = 1.0 - (1.0 - leak) * (1.0 - row.net_strength)
        ratio = likelihood_ratio(given.verdict, given.reading, p_on, leak)
        says[row.node] = (math.log(ratio), p_on, leak)
    return [Spoken(key, given.check, node, value, says, located=False) for node in ids]


def _hold(spoken: list[Spoken], groups: Iterable[Confounder]) -> None:
    """Record how far each verdict is held back by the groups that it belongs to."""
    for group in groups:
        members = [one for one in spoken if one.check in group.checks]
        for target in {node for one in members for node in one.says}:
            speakers: dict[str, float] = {}
            for one in members:
                if target in one.says:
                    speakers[one.check] = speakers.get(one.check, 0.0) + one.says[target][0]
            total = sum(speakers.values())
            factor = held_total(speakers, group.cap) / total if total else 1.0
            if factor < 1.0:
                for one in members:
                    if target in one.says:
                        one.held[target] = min(one.held.get(target, 1.0), factor)


def _value(one: Spoken) -> Value:
    """Return the evidence of a verdict as far as it is held back."""
    if not one.held:
        return one.value
    target, factor = min(one.held.items(), key=lambda entry: entry[1])
    log, p_on, p_off = one.says[target]
    ratio = math.exp(log * factor)
    if one.located:
        return ratio
    # Solved for the node's own ratio L: its target's ratio is (L on + 1 - on) over
    # (L off + 1 - off), with the chances of found for on and off.
    above, below = ratio * (1.0 - p_off) - (1.0 - p_on), p_on - ratio * p_off
    if above <= 0.0 or below <= 0.0:
        return one.value
    return min(SUREST, max(1.0 / SUREST, above / below))
