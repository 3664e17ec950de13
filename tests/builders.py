"""Small named networks that many tests use, frozen: each call returns a new document.

Their numbers are invented for the tests except where a source is named.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = [
    "cause",
    "chain",
    "deep_corner",
    "explaining_away",
    "fever",
    "finding",
    "network_document",
    "progression",
    "single_test",
    "state",
]

NodeEntry = dict[str, Any]


def cause(key: str, prior: float, **strengths: float) -> NodeEntry:
    """Return a cause entry; keyword arguments are parents and their strengths."""
    return {"id": key, "kind": "cause", "prior": prior, "parents": _parents(strengths)}


def state(key: str, leak: float, **strengths: float) -> NodeEntry:
    """Return a state entry; keyword arguments are parents and their strengths."""
    return {"id": key, "kind": "state", "leak": leak, "parents": _parents(strengths)}


def finding(key: str, leak: float, **strengths: float) -> NodeEntry:
    """Return a finding entry; keyword arguments are parents and their strengths."""
    return {"id": key, "kind": "finding", "leak": leak, "parents": _parents(strengths)}


def _parents(strengths: Mapping[str, float]) -> list[dict[str, Any]]:
    """Return the links of a document entry."""
    return [{"id": key, "strength": strength} for key, strength in strengths.items()]


def network_document(*nodes: NodeEntry) -> dict[str, Any]:
    """Return the document that holds these nodes."""
    return {"nodes": list(nodes)}


def single_test(*, prior: float, sensitivity: float, specificity: float) -> dict[str, Any]:
    """Return one cause and one test: P(positive | cause) is the sensitivity exactly.

    The leak is 1 - specificity; the net strength that leads to the stated
    sensitivity together with that leak is (sensitivity - leak) / (1 - leak).
    """
    leak = 1.0 - specificity
    strength = (sensitivity - leak) / (1.0 - leak)
    return network_document(cause("disease", prior), finding("test", leak, disease=strength))


def fever(*, prior: float = 0.5) -> dict[str, Any]:
    """Return cold, flu and malaria, each able to give a fever, without leak.

    Inhibitions 0.6, 0.2 and 0.1: Russell and Norvig, Artificial Intelligence:
    A Modern Approach, section on efficient representation of conditional
    distributions (from memory; the table follows from them by arithmetic).
    The prior is ours.
    """
    return network_document(
        cause("cold", prior),
        cause("flu", prior),
        cause("malaria", prior),
        finding("fever", 0.0, cold=0.4, flu=0.8, malaria=0.9),
    )


def explaining_away() -> dict[str, Any]:
    """Return two causes of one finding, one of them with a finding of its own."""
    return network_document(
        cause("bearing", 0.1),
        cause("tyre", 0.2),
        finding("hum", 0.01, bearing=0.8, tyre=0.6),
        finding("play", 0.02, bearing=0.9),
    )


def chain() -> dict[str, Any]:
    """Return a cause, two states one after the other, and a finding."""
    return network_document(
        cause("play", 0.05),
        state("ring-moves", 0.01, play=0.7),
        state("gap-varies", 0.02, **{"ring-moves": 0.8}),
        finding("code", 0.001, **{"gap-varies": 0.6}),
    )


def progression() -> dict[str, Any]:
    """Return a cause that leads to a cause, and a finding that leads to a finding."""
    return network_document(
        cause("torn-boot", 0.08),
        cause("joint-worn", 0.05, **{"torn-boot": 0.4}),
        state("toe-off", 0.02, **{"joint-worn": 0.5}),
        finding("wander", 0.05, **{"toe-off": 0.6, "joint-worn": 0.3}),
        finding("code", 0.001, **{"toe-off": 0.3}),
        finding("lamp", 0.0, code=1.0),
    )


def deep_corner() -> dict[str, Any]:
    """Return five layers with two causes that share states and three findings."""
    return network_document(
        cause("rust", 0.2),
        cause("impact", 0.1),
        state("seat-lifted", 0.01, rust=0.6),
        state("hub-bent", 0.001, impact=0.5, rust=0.05),
        state("gap-wide", 0.02, **{"seat-lifted": 0.8, "hub-bent": 0.3}),
        state("signal-weak", 0.01, **{"gap-wide": 0.7}),
        finding("dropout", 0.005, **{"signal-weak": 0.6}),
        finding("code", 0.001, **{"signal-weak": 0.5, "dropout": 0.2}),
        finding("wobble", 0.03, **{"hub-bent": 0.7}),
    )
