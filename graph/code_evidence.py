"""What codes say: that their nodes are on, and by failure type and status, why.

The failure type and the status are two more observations on a code that is there.
For a cause `c` and a code that it reaches with strength `s`::

    ratio = P(type | code, caused by c) / P(type | code)          (to a power)
    a     = P(c made the code | c is there, code on)
          = s / (s + (1 - s) * rest)      rest = P(code on from all else)
    P(type | c on) / P(type | c off)  is about  1 + a * (ratio - 1)

so a cause that hardly reaches a code is hardly judged by its failure type. The
average P(type | code) runs over the causes that can reach the code and its leak,
weighted by prior times strength. A cause acts through the first cause on its way
only, and only at places that reach the code.

Shares are the softest numbers of all: failure types count at the power that the
knowledge states (one half), companions of the one lamp owner at half of that, and
type and status together move a cause by at most `LIMIT` either way. All are
estimates, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from graph.car import Car, Ledger, strongest_paths
from graph.code_meanings import Meant, read_codes
from graph.compiled import EvidenceItem, Value
from graph.terms import FailureByte, Knowledge
from triage.status import Status

__all__ = ["LIMIT", "CodeTables", "add_codes"]

#: Failure type and status of all codes together move the odds of one cause by no more.
LIMIT = 20.0
#: A share written as 0 in the tables means "not seen", not "impossible".
LEAST_SHARE = 0.01
#: A ratio within half a percent of 1 is not worth a line.
LEAST_LOG = 0.005
#: Weight of a code that does not ask for the lamp while exactly one other does.
COMPANION = 0.5
#: Families that carry their type in the number and have no third byte.
NUMBERED_FAMILIES = frozenset({"vss"})
#: Internal-failure bytes mean nothing when they were set at low voltage.
LOW_VOLTAGE_BYTES = frozenset({"49", "96"})
LOW_VOLTAGE_FINDINGS = frozenset({"sy-ff-cranking", "sy-ff-low-voltage"})


@dataclass(frozen=True, slots=True)
class Reach:
    """The causes that can have made one code."""

    paths: Mapping[str, float]  # cause node -> strength of its strongest way
    weights: Mapping[str, float]  # cause node -> prior times strength
    leak: float

    def blame(self, cause: str) -> float:
        """Return P(the cause made the code | cause there, code on)."""
        strength = self.paths[cause]
        rest = min(1.0, self.leak + sum(self.weights.values()) - self.weights[cause])
        return strength / (strength + (1.0 - strength) * rest) if strength else 0.0


class CodeTables:
    """The share tables of the knowledge, by what they are asked for."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.group = {
            cause: group.id for group in knowledge.cause_groups.values() for cause in group.causes
        }
        self.shares = {(row.group, row.family): row.shares for row in knowledge.failure_shares}
        self.default = knowledge.failure_default
        self.exponent = knowledge.failure_exponent
        self.bytes = {(row.byte.upper(), row.family): row for row in knowledge.failure_bytes}
        self.status = {cause: row.shares for row in knowledge.status_shares for cause in row.causes}

    def type_share(self, cause: str, family: str, category: int) -> float:
        """Return P(category | code of the family, caused by the cause's group)."""
        row = self.shares.get((self.group.get(cause, ""), family), self.default)
        return max(LEAST_SHARE, row[category])

    def byte_factor(self, cause: str, family: str, byte: str) -> float | None:
        """Return the factor that a byte has of its own, if it has one in this family.

        A row of the family goes first; what it does not name may stand in the row
        for any family.
        """
        own, other = self.bytes.get((byte, family)), self.bytes.get((byte, "any"))
        for row in (own, other):
            if row is not None and cause in row.factors:
                return row.factors[cause]
        first: FailureByte | None = own or other
        return None if first is None else first.others

    def status_share(self, cause: str, status: Status) -> float | None:
        """Return P(what the byte shows at check-in | cause and its code), if recorded."""
        row = self.status.get(cause)
        label = status.label
        if row is None or label in ("not-tested", "passed"):
            return None
        if label == "active":
            share = row["active-static"] + row["active-drive"]
        else:
            share = row[label]
            if label == "intermittent" and not status.fresh and status.byte & 0x40:
                share += row["active-drive"]  # the drive that would show it has not been made
        return max(LEAST_SHARE, share)


def add_codes(car: Car, ledger: Ledger) -> None:
    """Read the codes of the case into the ledger: items, helper nodes, parts, notes."""
    tables = CodeTables(car.knowledge)
    groups: dict[tuple[str, ...], list[Meant]] = {}
    for meant in read_codes(car, ledger):
        groups.setdefault(meant.ids, []).append(meant)
    present = {ids: group for ids, group in groups.items() if _presence(group, ledger) is True}
    owners = [ids for ids, group in present.items() if any(_owns_lamp(meant) for meant in group)]
    weighed: list[tuple[tuple[str, ...], dict[str, float]]] = []
    for ids, group in present.items():
        companion = len(owners) == 1 and ids not in owners
        weight = COMPANION if companion else 1.0
        weighed.append((ids, _ratios(car, tables, group, weight)))
        _add_parts(car, ledger, ids)
        if companion and any(meant.status is not None for meant in group):
            ledger.notes.append(f"{group[0].key} counts at half weight: another code owns the lamp")
    _limit(weighed)
    for ids, ratios in weighed:
        ledger.items.append(_item(ledger, present[ids], ids, ratios))
    for ids, group in groups.items():
        if _presence(group, None) is False and len(ids) == 1:
            key = group[0].key
            ledger.items.append(EvidenceItem(key, "code", ((ids[0], False),), in_complaint=False))


def _presence(group: list[Meant], ledger: Ledger | None) -> bool | None:
    """Return True when the code is there, False when tested and gone, None when not known."""
    labels = [meant.status.label if meant.status else "unsaid" for meant in group]
    if any(label not in ("passed", "not-tested") for label in labels):
        return True
    if ledger is not None:
        why = "its test has run and nothing is stored: taken as absent"
        if "not-tested" in labels:
            why = "its test has not run since the codes were cleared: no evidence either way"
        ledger.notes.append(f"{group[0].key} with status {group[0].status}: {why}")
    return None if "not-tested" in labels else False


def _owns_lamp(meant: Meant) -> bool:
    return meant.status is not None and meant.status.lamp_owner


def _ratios(car: Car, tables: CodeTables, group: list[Meant], weight: float) -> dict[str, float]:
    """Return for each cause node what failure type and status of one code say.

    A code that several modules show gets the geometric mean of their ratios. With
    two meanings open nothing is weighed: the shares belong to one meaning.
    """
    ids = group[0].ids
    if len(ids) > 1:
        return {}
    reach = _reach(car, ids[0])
    logs: dict[str, float] = {}
    for meant in group:
        for row in (
            _type_ratios(car, tables, meant, reach),
            _status_ratios(car, tables, meant, reach),
        ):
            for node, ratio in row.items():
                tempered = 1.0 + reach.blame(node) * (ratio - 1.0)
                logs[node] = logs.get(node, 0.0) + weight * math.log(tempered) / len(group)
    return logs


def _reach(car: Car, code: str) -> Reach:
    """Return the causes that can have made a code."""
    paths = strongest_paths(car, code)
    weights = {node: car.nodes[node].base * strength for node, strength in paths.items()}
    return Reach(paths, weights, car.nodes[code].base)


def _type_ratios(car: Car, tables: CodeTables, meant: Meant, reach: Reach) -> dict[str, float]:
    """Return the failure type's ratio for each cause, at the power of the knowledge."""
    byte = meant.read.failure_type.upper()
    family = car.knowledge.codes[meant.ids[0]].failure_family
    if byte in ("", "00") or not family or family in NUMBERED_FAMILIES or not tables.default:
        return {}
    if byte in LOW_VOLTAGE_BYTES and LOW_VOLTAGE_FINDINGS & {
        seen.id for seen in car.case.findings if seen.state == "present"
    }:
        return {}
    terms = {node: car.placed.nodes[node].term for node in reach.paths}
    factors = {node: tables.byte_factor(term, family, byte) for node, term in terms.items()}
    if (byte, family) in tables.bytes or (byte, "any") in tables.bytes:
        ratios = {node: factor for node, factor in factors.items() if factor is not None}
        return {node: ratio**tables.exponent for node, ratio in ratios.items()}
    category = int(byte[0], 16)
    if category >= len(tables.default):
        return {}
    shares = {node: tables.type_share(term, family, category) for node, term in terms.items()}
    average = _average(shares, reach.weights, reach.leak, tables.default[category])
    return {node: (share / average) ** tables.exponent for node, share in shares.items()}


def _status_ratios(car: Car, tables: CodeTables, meant: Meant, reach: Reach) -> dict[str, float]:
    """Return the status class's ratio for each cause that has recorded shares."""
    if meant.status is None:
        return {}
    shares = {
        node: share
        for node in reach.paths
        if (share := tables.status_share(car.placed.nodes[node].term, meant.status)) is not None
    }
    if not shares:
        return {}
    average = _average(shares, reach.weights)
    return {node: share / average for node, share in shares.items()}


def _average(
    shares: Mapping[str, float],
    weights: Mapping[str, float],
    leak: float = 0.0,
    leak_share: float = 0.0,
) -> float:
    """Return the mean share over the causes of a code and its leak, by weight."""
    total = leak + sum(weights[node] for node in shares)
    if total <= 0.0:
        return sum(shares.values()) / len(shares) if shares else 1.0
    return (leak * leak_share + sum(weights[n] * share for n, share in shares.items())) / total


def _limit(weighed: list[tuple[tuple[str, ...], dict[str, float]]]) -> None:
    """Hold the sum of a cause's log ratios over all codes within the limit."""
    totals: dict[str, float] = {}
    for _ids, logs in weighed:
        for node, value in logs.items():
            totals[node] = totals.get(node, 0.0) + value
    limit = math.log(LIMIT)
    for _ids, logs in weighed:
        for node in logs:
            if abs(totals[node]) > limit:
                logs[node] *= limit / abs(totals[node])


def _item(
    ledger: Ledger, group: list[Meant], ids: tuple[str, ...], logs: Mapping[str, float]
) -> EvidenceItem:
    """Return the evidence item of one code that is there."""
    node = ids[0]
    if len(ids) > 1:
        node = ledger.either(f"code-{group[0].read.code.upper()}", list(ids))
    ratios: list[tuple[str, Value]] = [
        (cause, math.exp(value)) for cause, value in logs.items() if abs(value) > LEAST_LOG
    ]
    return EvidenceItem(group[0].key, "code", ((node, True), *ratios), in_complaint=True)


def _add_parts(car: Car, ledger: Ledger, ids: tuple[str, ...]) -> None:
    """Add the parts that a code names, at the code's place."""
    for key in ids:
        code = car.knowledge.codes[key]
        places = car.places(code.part) if code.part else {}
        node = places.get(code.place, places.get("vehicle"))
        if node is None and places:
            ledger.notes.append(f"{key} names {code.part}, but not at which place")
        elif node is not None and node not in ledger.parts:
            ledger.parts.append(node)
