"""Impossible evidence: the error names a smallest set of statements that clash."""

from __future__ import annotations

from typing import Any

import pytest

import triage
from tests import builders
from tests.oracles.enumeration import enumerate_in_doubles, smallest_conflict_size
from tests.oracles.random_networks import Shape, Statements, generator, random_document
from triage.errors import ImpossibleEvidenceError

SHAPES = {
    "extremes": Shape(
        causes=4, states=2, findings=4, cause_parents=0.3, finding_parents=0.3, extremes=0.6
    ),
    "no-leaks": Shape(causes=4, states=2, findings=4, cause_parents=0.5, finding_parents=0.3),
}
CASES = [f"{shape}/{turn}" for shape in SHAPES for turn in range(20)]


def impossible_case(name: str) -> tuple[dict[str, Any], Statements]:
    """Return the first random network and random evidence that has probability zero."""
    rng = generator(f"impossible/{name}")
    shape = name.partition("/")[0]
    while True:
        document = random_document(rng, SHAPES[shape])
        if shape == "no-leaks":  # a thing that is on needs a parent that is: longer conflicts
            for entry in document["nodes"]:
                entry.update({"leak": 0.0} if "leak" in entry else {})
        keys = [entry["id"] for entry in document["nodes"]]
        chosen = [str(key) for key in rng.choice(keys, size=7, replace=False)]
        evidence = {chosen[0]: 4.0, **{key: bool(rng.random() < 0.5) for key in chosen[1:]}}
        if not enumerate_in_doubles(document, evidence).is_possible:
            return document, evidence


@pytest.mark.parametrize("name", CASES)
def test_the_named_conflict_is_a_smallest_one(name: str) -> None:
    """Brute force over all subsets: as few statements, and they do clash."""
    document, evidence = impossible_case(name)

    with pytest.raises(ImpossibleEvidenceError, match="cannot all hold") as caught:
        triage.posterior(triage.Network.from_document(document), evidence)

    named = caught.value.conflicting
    assert len(named) == smallest_conflict_size(document, evidence)
    assert not enumerate_in_doubles(document, {key: evidence[key] for key in named}).is_possible


def test_the_conflicts_swept_are_of_several_sizes() -> None:
    """One to three statements: a finder of single statements or of pairs would not do."""
    sizes = [smallest_conflict_size(*impossible_case(name)) for name in CASES]

    assert len(CASES) == 40
    assert set(sizes) == {1, 2, 3}


def test_the_message_names_the_statements_and_says_what_to_do() -> None:
    """A lamp that is on only through its code cannot be on without it."""
    network = triage.Network.from_document(builders.progression())

    with pytest.raises(ImpossibleEvidenceError, match="correct or withdraw one of them") as caught:
        triage.posterior(network, {"wander": True, "lamp": True, "code": False})

    assert sorted(caught.value.conflicting) == ["code", "lamp"]


@pytest.mark.parametrize("turn", [1, -1], ids=["pair-first", "pair-last"])
def test_of_two_conflicts_the_smaller_is_named_whatever_the_order(turn: int) -> None:
    """Leaving out statements one by one finds *a* minimal conflict, not the smallest."""
    document = builders.network_document(
        builders.cause("a", 0.1),
        builders.cause("b", 0.1),
        builders.cause("c", 0.1),
        builders.finding("f", 0.0, a=0.5, b=0.5),
        builders.finding("g", 0.0, c=0.5),
    )
    statements = [("c", False), ("g", True), ("a", False), ("b", False), ("f", True)]

    with pytest.raises(ImpossibleEvidenceError, match="these 2 statements") as caught:
        triage.posterior(triage.Network.from_document(document), dict(statements[::turn]))

    assert sorted(caught.value.conflicting) == ["c", "g"]


def test_an_unlikely_case_is_not_an_impossible_one() -> None:
    """1e-300 is little, and above zero."""
    document = builders.network_document(
        builders.cause("c", 1e-300), builders.finding("f", 0.0, c=1.0)
    )

    answer = triage.posterior(triage.Network.from_document(document), {"f": True})

    assert answer.causes["c"] == 1.0


def test_checks_on_an_impossible_case_are_refused_too() -> None:
    """No value of a check can be stated for a case that cannot be."""
    network = triage.Network.from_document(builders.progression())

    with pytest.raises(ImpossibleEvidenceError, match="cannot all hold"):
        triage.check_values(network, {"lamp": True, "code": False}, ["wander"])
