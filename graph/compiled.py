"""What one car looks like once it is compiled: a network, evidence, offers.

Plain values that the application hands on to `triage`. Node ids read
``rc-bearing-play@lr``; the whole vehicle is left out; a code's id stands as it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from graph.terms import Place
from triage.errors import ContradictionError
from triage.model import Network

__all__ = ["CheckItem", "CompiledCase", "EvidenceItem", "VerdictNode", "combine"]

#: Evidence on a node: seen on, seen off, or P(observed | on) / P(observed | off).
Value = bool | float


@dataclass(frozen=True, slots=True)
class EvidenceItem:
    """One thing that a person stated, with everything it says about the network."""

    key: str  # what was stated, e.g. "C0051-64" or "sy-off-centre"
    kind: str  # code | finding | verdict
    contributions: tuple[tuple[str, Value], ...]  # node id -> evidence
    in_complaint: bool  # is it part of what the customer came for?


@dataclass(frozen=True, slots=True)
class VerdictNode:
    """One answer that a check can give."""

    key: str  # e.g. "ck-dry-park@front:rc-outer-tie-rod-worn@lf"
    target: str  # node id of the cause or state
    at: Place
    p_found_if_on: float
    p_found_if_off: float
    node: str | None = None  # the finding node, for a check with one verdict


@dataclass(frozen=True, slots=True)
class CheckItem:
    """One doing of a check: once at one place."""

    id: str
    place: Place
    setup: str
    minutes: float
    verdicts: tuple[VerdictNode, ...]


@dataclass(frozen=True, slots=True)
class CompiledCase:
    """One car, ready for arithmetic."""

    network: Network
    evidence: Mapping[str, Value]
    items: tuple[EvidenceItem, ...]
    complaint: frozenset[str]
    checks: tuple[CheckItem, ...]
    intake: tuple[str, ...]
    questions: tuple[str, ...]
    notes: tuple[str, ...]
    parts: tuple[str, ...]


def combine(items: Iterable[EvidenceItem]) -> dict[str, Value]:
    """Return the evidence that the items make together, node by node.

    Ratios on one node multiply; a node that was seen on or off stays so, and a
    ratio on top of it says nothing more.

    Raises
    ------
    ContradictionError
        If one node was seen on and off.

    Examples
    --------
    >>> combine([EvidenceItem("a", "verdict", (("rc-x", 4.0),), False),
    ...          EvidenceItem("b", "verdict", (("rc-x", 0.5),), False)])
    {'rc-x': 2.0}
    """
    seen: dict[str, bool] = {}
    ratios: dict[str, float] = {}
    for item in items:
        for node, value in item.contributions:
            if isinstance(value, bool):
                if seen.setdefault(node, value) != value:
                    raise ContradictionError(node, "present", "absent", where=item.key)
            else:
                ratios[node] = math.prod((ratios.get(node, 1.0), value))
    return {**ratios, **seen}
