"""What closes a safety gate: a record of events, read in order.

A gate that has opened stays open whatever becomes of what opened it: a lamp that
goes out, a code that is cleared, a customer who says that it is fine close
nothing. It closes when each of its *groups* of checks has been done at every
corner concerned, after the last thing that opened it, with nothing found and the
name of somebody who may say so. Within a group any one check will do; the groups
are all needed. A check that found something counts against the gate until it has
been done again with nothing found.

Who may lower a gate depends on how grave it is; a trainee lowers none. A senior
technician may overrule a gate with a reason and what was done instead. Where the
shop keeps a list for licensed practice, names outside it count for nothing at the
gates that the list guards.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

from triage.gates import CORNERS, LEVELS, Gate, OpenGate, Opening, Situation, gravest, openings

__all__ = [
    "MAY_LOWER",
    "Answered",
    "Closing",
    "Event",
    "House",
    "Looked",
    "Opened",
    "Overruled",
    "Person",
    "Signed",
    "standing_gates",
    "why_refused",
]

#: Who may lower a gate of each level (a trainee may lower none).
MAY_LOWER: Mapping[str, frozenset[str]] = {
    "do-not-drive": frozenset({"senior"}),
    "no-road-test-until-lift-check": frozenset({"technician", "senior"}),
    "road-test-lot-only": frozenset({"technician", "senior"}),
    "lot-or-spare-limit": frozenset({"technician", "senior"}),
    "none": frozenset({"technician", "senior"}),
}


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who puts a name to something."""

    name: str
    role: str  # technician | senior | trainee


@dataclass(frozen=True, slots=True)
class Opened:
    """A trigger was seen to hold."""

    gate: str
    because: str
    level: str
    corners: frozenset[str] = CORNERS["vehicle"]


@dataclass(frozen=True, slots=True)
class Answered:
    """A safety question was put about a finding."""

    finding: str
    answer: str  # yes | no | unknown | skipped; only no counts as no
    corners: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Looked:
    """A check was done at a place."""

    check: str
    place: str
    result: str  # not-found | found | cant-tell
    who: Person
    finds: tuple[str, ...] = ()  # causes and states found


@dataclass(frozen=True, slots=True)
class Signed:
    """Somebody states that what the gate asks for has been done."""

    gate: str
    who: Person


@dataclass(frozen=True, slots=True)
class Overruled:
    """Somebody opens the way although the gate is open."""

    gate: str
    who: Person
    reason: str
    instead: str  # what was done instead
    when: str  # as the record's clock wrote it


Event: TypeAlias = Opened | Answered | Looked | Signed | Overruled


@dataclass(frozen=True, slots=True)
class Closing:
    """How one gate closes.

    Attributes
    ----------
    groups : of checks; one of each group at each corner that it can see
    after_find : checks needed besides, once anything has been found
    senior : only a senior technician's name closes it
    lowers_to : level that stays until it is signed, when the checks are done
    """

    groups: tuple[tuple[str, ...], ...] = ()
    after_find: tuple[str, ...] = ()
    senior: bool = False
    lowers_to: str = ""


@dataclass(frozen=True, slots=True)
class House:
    """What the knowledge and the shop say about closing.

    Attributes
    ----------
    rules : by gate; one that is not named needs each of its checks
    sees : corners that each check can see, all of its doings together
    whole : checks that are done once for the whole car
    licensed_gates : gates that the shop's list guards
    licensed : names on the shop's list; empty = the shop keeps none
    """

    rules: Mapping[str, Closing] = field(default_factory=dict)
    sees: Mapping[str, frozenset[str]] = field(default_factory=dict)
    whole: frozenset[str] = frozenset()
    licensed_gates: frozenset[str] = frozenset()
    licensed: frozenset[str] = frozenset()


def standing_gates(
    gates: Collection[Gate], situation: Situation, events: Sequence[Event], house: House
) -> list[OpenGate]:
    """Return the gates that are open after all events, gravest first.

    Parameters
    ----------
    gates : as the knowledge states them
    situation : what is known of the car
    events : the record, in the order in which things happened
    house : what the knowledge and the shop say about closing

    Notes
    -----
    A trigger that holds now, and that no event put into the record, counts as
    having held before the first event.
    """
    files = [_read(gate, situation, events, house) for gate in gates]
    rows = [file.row() for file in files if file.is_open]
    return sorted(rows, key=lambda row: (LEVELS.index(row.level), row.id))


def why_refused(gate: str, event: Looked | Signed | Overruled, house: House) -> str:
    """Return why a name does not count at a gate, or nothing when it does."""
    who = event.who
    if not who.name.strip():
        return "a name is needed"
    if who.role not in {"technician", "senior"}:
        return f"{who.name} is a {who.role}: a trainee closes no gate"
    if gate in house.licensed_gates and house.licensed and who.name not in house.licensed:
        return f"{who.name} is not on the shop's list for licensed practice"
    if isinstance(event, Overruled):
        if who.role != "senior":
            return "only a senior technician overrules a gate"
        for word in ("reason", "instead", "when"):
            if not getattr(event, word).strip():
                return f"overruling needs who, why, when and what was done instead: {word} is empty"
    return ""


@dataclass(slots=True)
class _File:
    """One gate as the record is read."""

    gate: Gate
    rule: Closing
    house: House
    is_open: bool = False
    level: str = "none"
    because: list[str] = field(default_factory=list)
    corners: frozenset[str] = frozenset()
    seen: dict[tuple[str, str], str] = field(default_factory=dict)  # check, corner -> result
    something: bool = False  # has been found since it opened
    lowered: bool = False
    waits: bool = False  # everything is done, somebody with more say must sign

    def open(self, hits: Sequence[Opening]) -> None:
        """Open it, or open it wider; what was looked at before does not count."""
        self.level = gravest([hit.level for hit in hits] + ([self.level] if self.is_open else []))
        corners = frozenset().union(*(hit.corners for hit in hits))
        self.corners = corners | (self.corners if self.is_open else frozenset())
        if not self.is_open:
            self.because = []
        self.because += [h.because for h in hits if h.because and h.because not in self.because]
        self.is_open, self.lowered, self.waits = True, False, False
        self.seen = {}

    def look(self, event: Looked) -> None:
        """Take in a check that was done, and close if that was the last thing needed."""
        against = self.against(event)
        refused = why_refused(self.gate.id, event, self.house)
        if event.check not in self.checks() or (refused and not against):
            return  # what is found counts whoever found it
        if against and not self.is_open:
            because = f"{event.check} found something"
            self.open([Opening(self.gate.id, self.gate.level, because, CORNERS[event.place])])
        result = "not-found" if event.result == "found" and not against else event.result
        for corner in CORNERS[event.place]:
            self.seen[event.check, corner] = result
        self.something = self.something or against
        if self.is_open and not self.lowered and not self.wanted():
            self.close(event.who)

    def sign(self, event: Signed) -> None:
        """Take in a signature; it stands for nothing while a check is missing."""
        if not self.is_open or why_refused(self.gate.id, event, self.house):
            return
        if self.lowered:
            self.is_open = event.who.role not in MAY_LOWER[self.level]
        elif not self.wanted():
            self.close(event.who)

    def close(self, who: Person) -> None:
        """Close, or go down to the level that stays; a name with too little say waits."""
        allowed = frozenset({"senior"}) if self.rule.senior else MAY_LOWER[self.level]
        self.waits = who.role not in allowed
        if self.waits:
            return
        if self.rule.lowers_to:
            self.level, self.lowered = self.rule.lowers_to, True
        else:
            self.is_open, self.something = False, False

    def overrule(self, event: Overruled) -> None:
        """Take in that the gate is overruled, until something opens it again."""
        if self.is_open and not why_refused(self.gate.id, event, self.house):
            self.is_open, self.something = False, False

    def against(self, event: Looked) -> bool:
        """Return whether what a check found counts against the gate.

        A named find that no trigger of the gate speaks of does not: play in a hub
        bearing is no reason against the ball joints. What is not named does.
        """
        about = {key for trigger in self.gate.triggers for key in trigger.verdicts}
        named = set(event.finds)
        return event.result == "found" and not (named and about and not named & about)

    def checks(self) -> frozenset[str]:
        """Return every check that has to do with the gate."""
        return frozenset(c for group in self.rule.groups for c in group) | frozenset(
            self.rule.after_find
        )

    def wanted(self) -> dict[tuple[str, ...], frozenset[str]]:
        """Return the groups that are not done yet, each with its corners."""
        groups = list(self.rule.groups)
        if self.something:
            groups += [(check,) for check in self.rule.after_find]
        left = {group: self._left(group) for group in groups}
        return {group: corners for group, corners in left.items() if corners}

    def _left(self, group: tuple[str, ...]) -> frozenset[str]:
        """Return the corners at which a group is still to be done."""
        every = CORNERS["vehicle"]
        can = frozenset().union(*(self.house.sees.get(check, every) for check in group))
        done = set()
        for corner in can:
            results = {self.seen.get((check, corner), "") for check in group}
            if "not-found" in results and "found" not in results:
                done.add(corner)
        return ((self.corners & can) or can) - done

    def row(self) -> OpenGate:
        """Return the gate as it is shown."""
        wanted = {} if self.lowered else self.wanted()
        missing = [
            _line(group, CORNERS["vehicle"] if set(group) <= self.house.whole else corners)
            for group, corners in wanted.items()
        ]
        if self.lowered or not (self.rule.groups or missing):
            missing.append("a name under what the gate asks for")
        if self.waits or (not missing and self.is_open):
            missing.append("a senior technician's name")
        places = {check: corners for group, corners in wanted.items() for check in group}
        return OpenGate(
            self.gate.id,
            self.level,
            tuple(self.because),
            tuple(self.gate.closes_on),
            tuple(missing),
            places,
        )


def _line(group: Sequence[str], corners: frozenset[str]) -> str:
    """Return what one group still needs, in ids and places."""
    names = " or ".join(group)
    for place in ("vehicle", "front", "rear", "left", "right"):
        if corners == CORNERS[place]:
            return names if place == "vehicle" else f"{names} at {place}"
    return f"{names} at {', '.join(sorted(corners))}"


def _read(gate: Gate, situation: Situation, events: Sequence[Event], house: House) -> _File:
    """Return one gate after all events."""
    rule = house.rules.get(gate.id, Closing(tuple((check,) for check in gate.closes_on)))
    file = _File(gate, rule, house)
    known = {(e.because, e.level) for e in events if isinstance(e, Opened) and e.gate == gate.id}
    hits = openings(gate, situation)
    first = [hit for hit in hits if (hit.because, hit.level) not in known]
    if gate.always:
        first.append(Opening(gate.id, gate.level, "", CORNERS["vehicle"]))
    if first:
        file.open(first)
    now = situation
    told = {hit.because for hit in hits}
    for event in events:
        now = _told(now, event)
        new = [hit for hit in openings(gate, now) if hit.because not in told]
        told |= {hit.because for hit in new}
        if isinstance(event, Opened) and event.gate == gate.id:
            new.append(Opening(gate.id, event.level, event.because, event.corners))
        if new:
            file.open(new)
        _take(file, event)
    return file


def _told(situation: Situation, event: Event) -> Situation:
    """Return the situation with what an event says about the car."""
    if isinstance(event, Answered) and event.answer != "no":
        where = {**situation.where, event.finding: event.corners}
        if event.answer == "yes":
            return replace(situation, present=situation.present | {event.finding}, where=where)
        return replace(situation, unsure=situation.unsure | {event.finding}, where=where)
    if isinstance(event, Looked) and event.result == "found" and event.finds:
        where = {**situation.where, **dict.fromkeys(event.finds, CORNERS[event.place])}
        return replace(situation, found=situation.found | set(event.finds), where=where)
    return situation


def _take(file: _File, event: Event) -> None:
    """Let one event work on a gate."""
    if isinstance(event, Looked):
        file.look(event)
    elif isinstance(event, Signed) and event.gate == file.gate.id:
        file.sign(event)
    elif isinstance(event, Overruled) and event.gate == file.gate.id:
        file.overrule(event)
