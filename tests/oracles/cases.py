"""The swept cases: which networks and evidence the oracles and the engine are tried on."""

from __future__ import annotations

from typing import Any

import numpy as np

from tests.oracles.random_networks import (
    Shape,
    Statements,
    generator,
    random_document,
    random_evidence,
)

__all__ = [
    "CANCELLATION_CASES",
    "LARGE_CASES",
    "SMALL_CASES",
    "WIDE_CASES",
    "cancellation_case",
    "large_case",
    "small_case",
    "wide_case",
]

SMALL_SHAPES = {
    "two-layers": Shape(causes=10, states=0, findings=8, layers=2),
    "three-layers": Shape(causes=6, states=4, findings=6, layers=3),
    "four-layers": Shape(causes=5, states=6, findings=5, layers=4),
    "five-layers": Shape(causes=4, states=6, findings=6, layers=5, finding_parents=0.3),
    "progression": Shape(causes=8, states=3, findings=5, cause_parents=0.6, finding_parents=0.4),
    "extremes": Shape(
        causes=6, states=4, findings=6, cause_parents=0.3, finding_parents=0.3, extremes=0.4
    ),
    "twelve-causes": Shape(causes=12, states=3, findings=5, max_parents=6, extremes=0.1),
    "only-extremes": Shape(causes=5, states=3, findings=4, cause_parents=0.3, extremes=1.0),
}
SMALL_CASES = [f"{shape}/{turn}" for shape in SMALL_SHAPES for turn in range(24)]

LARGE_SHAPES = {
    "deep": Shape(causes=10, states=9, findings=9, layers=5, max_parents=3),
    "progression": Shape(
        causes=14, states=8, findings=14, layers=4, cause_parents=0.4, finding_parents=0.3
    ),
    "shallow": Shape(causes=16, states=0, findings=12, layers=2, max_parents=4),
    "tangled": Shape(causes=16, states=6, findings=16, layers=4, min_parents=2, cause_parents=0.3),
}
LARGE_CASES = [f"large-{shape}/{turn}" for shape in LARGE_SHAPES for turn in range(12)]

WIDE_SHAPES = {
    "wide": Shape(causes=14, states=0, findings=16, layers=2, min_parents=5, max_parents=8),
    "widest": Shape(causes=19, states=0, findings=22, layers=2, min_parents=8, max_parents=12),
}
WIDE_CASES = [*(f"wide/{turn}" for turn in range(8)), "widest/0", "widest/1"]

CANCELLATION_CASES = [f"cancellation/{turn}" for turn in range(12)]


def small_case(name: str) -> tuple[dict[str, Any], Statements]:
    """Return a network of at most 20 nodes, and evidence on a third to two thirds of them."""
    rng = generator(name)
    document = random_document(rng, SMALL_SHAPES[name.partition("/")[0]])
    stated = float(rng.uniform(0.3, 0.7))
    return document, random_evidence(rng, document, stated=stated, soft=0.25)


def large_case(name: str) -> tuple[dict[str, Any], Statements]:
    """Return a network of 28 to 38 nodes, and evidence on about a third of them.

    In the tangled ones that third are the findings, most of them present: nothing
    is cut off, and the network stays wide.
    """
    rng = generator(name)
    shape = name.partition("/")[0].removeprefix("large-")
    document = random_document(rng, LARGE_SHAPES[shape])
    if shape == "tangled":
        return document, _mostly_present(rng, document)
    return document, random_evidence(rng, document, stated=0.35, soft=0.3)


def wide_case(name: str) -> tuple[dict[str, Any], Statements]:
    """Return 14 or 19 causes that hang together through findings, all of them observed.

    Most findings are present: an absent one does not tie its causes together. The causes
    alone are free, so that the network can still be enumerated.
    """
    rng = generator(name)
    document = random_document(rng, WIDE_SHAPES[name.partition("/")[0]])
    return document, {**_mostly_present(rng, document), "c0": 5.0}


def _mostly_present(rng: np.random.Generator, document: dict[str, Any]) -> Statements:
    """Return evidence on every finding, four in five of them present."""
    findings = [entry["id"] for entry in document["nodes"] if entry["kind"] == "finding"]
    return {key: bool(rng.random() < 0.8) for key in findings}


def cancellation_case(name: str) -> tuple[dict[str, Any], Statements]:
    """Return 6 to 9 rare causes and 10 to 20 findings, every one of them present.

    Priors 1e-3 to 1e-6, leaks 1e-4 to 1e-12: the probability of the findings is
    dozens of powers of ten below the terms that inclusion-exclusion adds up.
    """
    rng = generator(name)
    causes = [f"c{i}" for i in range(int(rng.integers(6, 10)))]
    nodes: list[dict[str, Any]] = [
        {"id": key, "kind": "cause", "prior": float(10.0 ** rng.uniform(-6, -3))} for key in causes
    ]
    findings = [f"f{i}" for i in range(int(rng.integers(10, 21)))]
    for key in findings:
        chosen = rng.choice(causes, size=int(rng.integers(1, 4)), replace=False)
        links = [
            {"id": str(parent), "strength": float(rng.uniform(0.02, 0.6))} for parent in chosen
        ]
        leak = float(10.0 ** rng.uniform(-12, -4))
        nodes.append({"id": key, "kind": "finding", "leak": leak, "parents": links})
    return {"nodes": nodes}, dict.fromkeys(findings, True)
