"""From kinds to a car: every kind is put at its places, every link is drawn out.

Knowledge is written once per kind. Here a kind becomes one node for each place
of its scope, and a link becomes one arrow for each pair of places that its reach
word joins. `RELATIONS` lists every combination of source level, reach word and
target level that has a meaning; any other combination, and a link that ends up
joining nothing, is an error in the knowledge and is raised as one.

Two links can draw the same arrow (a front-axle link and a whole-vehicle link of
one pair). They describe one event seen twice, so the stronger one is taken and
the number of such meetings is kept in `Placed.merged`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from graph.terms import SCOPES, Knowledge, Link, Place
from triage.errors import KnowledgeError
from triage.gates import CORNERS
from triage.model import Parent

__all__ = [
    "RELATIONS",
    "Instance",
    "Placed",
    "PlacedLink",
    "covers",
    "instance_id",
    "level_of",
    "place_knowledge",
    "placed_pairs",
]

_OPPOSITE: Mapping[Place, Place] = {"lf": "rf", "rf": "lf", "lr": "rr", "rr": "lr"}
_ALL = ("lf", "rf", "lr", "rr")


def covers(wide: Place, narrow: Place) -> bool:
    """Return whether every corner of `narrow` is part of `wide`.

    Examples
    --------
    >>> covers("front", "lf"), covers("lf", "front")
    (True, False)
    """
    return CORNERS[narrow] <= CORNERS[wide]


def instance_id(term: str, place: Place) -> str:
    """Return the node id of a term at a place; the whole vehicle is left out.

    Examples
    --------
    >>> instance_id("rc-bearing-play", "lr"), instance_id("st-lash", "vehicle")
    ('rc-bearing-play@lr', 'st-lash')
    """
    return term if place == "vehicle" else f"{term}@{place}"


def level_of(place: Place) -> str:
    """Return the level of a place: corner, axle or vehicle."""
    if place in _OPPOSITE:
        return "corner"
    return "axle" if place in ("front", "rear") else "vehicle"


def _axle(place: Place) -> Place:
    return "front" if covers("front", place) else "rear"


def _same(place: Place) -> tuple[Place, ...]:
    return (place,)


def _own_axle(place: Place) -> tuple[Place, ...]:
    return (_axle(place),)


def _corners_of_axle(place: Place) -> tuple[Place, ...]:
    return tuple(corner for corner in _ALL if covers(_axle(place), corner))


def _opposite(place: Place) -> tuple[Place, ...]:
    return (_OPPOSITE[place],)


def _fixed(*places: Place) -> Callable[[Place], tuple[Place, ...]]:
    return lambda _place: places


#: (level of the source, reach word, level of the target) -> target places that a
#: source place reaches. A target that has no such place is simply not joined.
RELATIONS: Mapping[tuple[str, str, str], Callable[[Place], tuple[Place, ...]]] = {
    ("corner", "same-corner", "corner"): _same,
    ("corner", "same-corner", "axle"): _own_axle,
    ("corner", "same-corner", "vehicle"): _fixed("vehicle"),
    ("corner", "same-axle", "corner"): _corners_of_axle,
    ("corner", "same-axle", "axle"): _own_axle,
    ("axle", "same-axle", "corner"): _corners_of_axle,
    ("axle", "same-axle", "axle"): _same,
    ("axle", "same-axle", "vehicle"): _fixed("vehicle"),
    ("corner", "opp-side", "corner"): _opposite,
    ("corner", "global", "vehicle"): _fixed("vehicle"),
    ("axle", "global", "vehicle"): _fixed("vehicle"),
    ("vehicle", "global", "vehicle"): _fixed("vehicle"),
    ("vehicle", "global", "axle"): _fixed("front", "rear"),
    ("corner", "any-corner", "corner"): _fixed(*_ALL),
    ("vehicle", "any-corner", "corner"): _fixed(*_ALL),
    ("vehicle", "to-front", "corner"): _fixed("lf", "rf"),
    ("vehicle", "to-front", "axle"): _fixed("front"),
    ("vehicle", "to-rear", "corner"): _fixed("lr", "rr"),
    ("vehicle", "to-rear", "axle"): _fixed("rear"),
}


@dataclass(frozen=True, slots=True)
class Instance:
    """One node: a term at a place."""

    id: str
    term: str
    place: Place
    kind: str  # cause | state | finding


@dataclass(frozen=True, slots=True)
class PlacedLink:
    """One arrow between two nodes, and the link that it was drawn from."""

    source: str
    target: str
    strength: float
    link: Link


@dataclass(frozen=True, slots=True)
class Placed:
    """What the knowledge says of a car of which nothing is known yet."""

    nodes: Mapping[str, Instance]
    by_term: Mapping[str, Mapping[Place, str]]  # term or star family -> place -> node id
    into: Mapping[str, tuple[PlacedLink, ...]]  # node id -> arrows into it
    parents: Mapping[str, tuple[Parent, ...]]  # the same, as the network wants them
    links: int  # arrows, after meetings were joined
    merged: int  # arrows that met a stronger one of the same pair


def placed_pairs(
    link: Link, sources: Mapping[Place, str], targets: Mapping[Place, str]
) -> list[tuple[str, str]]:
    """Return the (source node, target node) pairs that one link joins.

    Parameters
    ----------
    link : Link
        Its `reach` is a word of `RELATIONS`, with an optional prefix ``front>``,
        ``rear>``, ``left>`` or ``right>`` that keeps only such source places.
    sources, targets : mapping from place to node id
        Where the two terms can be.

    Raises
    ------
    KnowledgeError
        If a combination has no meaning or the link joins nothing.
    """
    prefix, _, word = link.reach.rpartition(">")
    found: list[tuple[str, str]] = []
    for place, source in sources.items():
        if prefix and (place == "vehicle" or not covers(prefix, place)):
            continue
        for level in {level_of(target) for target in targets}:
            reached = _reached(link, (level_of(place), word, level), targets)(place)
            found += [(source, targets[other]) for other in reached if other in targets]
    if not found:
        raise KnowledgeError(
            f"link {link.id} ({link.source} {link.reach} {link.target}) joins no two places; "
            f"the source can be at {', '.join(sources)}, the target at {', '.join(targets)}; "
            "correct its reach or a scope"
        )
    return found


def _reached(
    link: Link, key: tuple[str, str, str], targets: Mapping[Place, str]
) -> Callable[[Place], tuple[Place, ...]]:
    """Return the relation of a combination, or say which ones exist."""
    single_axle = key[1] == "global" and key[2] == "axle" and len(targets) == 1
    if key in RELATIONS and (single_axle or key[1:] != ("global", "axle")):
        return RELATIONS[key]
    allowed = sorted({word for source, word, target in RELATIONS if (source, target) == key[::2]})
    raise KnowledgeError(
        f"link {link.id} ({link.source} {link.reach} {link.target}) goes from {key[0]} to "
        f"{key[2]} by {key[1]!r}, which has no meaning; allowed there: "
        f"{', '.join(allowed) or 'nothing'}; correct its reach or a scope"
    )


def place_knowledge(knowledge: Knowledge) -> Placed:
    """Return the knowledge with every kind at its places; computed once per value.

    Raises
    ------
    KnowledgeError
        If a link names a term nobody defines, has a reach without meaning, or
        joins nothing.
    """
    for held, placed in _HELD:
        if held is knowledge:
            return placed
    placed = _place(knowledge)
    _HELD.insert(0, (knowledge, placed))
    del _HELD[4:]
    return placed


#: The last few values that were placed. A `Knowledge` holds mappings and so has no
#: hash; it is frozen, so identity says enough, and holding it keeps identity unique.
_HELD: list[tuple[Knowledge, Placed]] = []


def _place(knowledge: Knowledge) -> Placed:
    """Place all kinds and draw out all active links."""
    nodes = {node.id: node for node in _instances(knowledge)}
    by_term: dict[str, dict[Place, str]] = {}
    for node in nodes.values():
        by_term.setdefault(node.term, {})[node.place] = node.id
    for code in knowledge.codes.values():
        if code.family:
            by_term.setdefault(f"{code.family}-*", {})[code.place] = code.id
    best: dict[tuple[str, str], PlacedLink] = {}
    drawn = 0
    for link in knowledge.links:
        if link.deprecated:
            continue
        pairs = placed_pairs(link, _of(by_term, link, link.source), _of(by_term, link, link.target))
        drawn += len(pairs)
        for pair in pairs:
            if pair not in best or best[pair].strength < link.strength:
                best[pair] = PlacedLink(*pair, link.strength, link)
    into: dict[str, list[PlacedLink]] = {key: [] for key in nodes}
    for arrow in best.values():
        into[arrow.target].append(arrow)
    return Placed(
        nodes,
        by_term,
        {key: tuple(arrows) for key, arrows in into.items()},
        {key: tuple(Parent(a.source, a.strength) for a in arrows) for key, arrows in into.items()},
        len(best),
        drawn - len(best),
    )


def _instances(knowledge: Knowledge) -> Iterable[Instance]:
    """Return one node for each kind and place: causes, states, findings, codes."""
    for kind, terms in (
        ("cause", knowledge.causes.values()),
        ("state", knowledge.states.values()),
        ("finding", knowledge.findings.values()),
    ):
        for term in terms:
            for place in SCOPES[term.scope]:
                yield Instance(instance_id(term.id, place), term.id, place, kind)
    for code in knowledge.codes.values():
        yield Instance(code.id, code.id, code.place, "finding")


def _of(by_term: Mapping[str, Mapping[Place, str]], link: Link, term: str) -> Mapping[Place, str]:
    """Return the places of a term that a link names."""
    if term not in by_term:
        raise KnowledgeError(
            f"link {link.id} names {term!r}, which no file defines; define it or correct the link"
        )
    return by_term[term]
