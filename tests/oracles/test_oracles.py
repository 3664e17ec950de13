"""Who judges the judges: oracles against each other, and against wrong models.

Each oracle also gets a negative control, a deliberately wrong model that it has
to tell from the right one. An oracle that cannot fail proves nothing.
"""

from __future__ import annotations

import copy
import math
from typing import Any

import pytest

from tests import builders
from tests.oracles.agrum import infer_with_agrum
from tests.oracles.cases import (
    CANCELLATION_CASES,
    LARGE_CASES,
    SMALL_CASES,
    cancellation_case,
    large_case,
    small_case,
)
from tests.oracles.documents import Answer
from tests.oracles.enumeration import (
    enumerate_in_doubles,
    enumerate_in_integers,
    smallest_conflict_size,
)
from tests.oracles.quickscore import quickscore
from tests.oracles.random_networks import Statements

# integer enumeration takes its time: every eighth of the small cases, every case twice judged
EXACT_CASES = SMALL_CASES[::8] + CANCELLATION_CASES[::3]


def case_of(name: str) -> tuple[dict[str, Any], Statements]:
    """Return the small or the cancellation case of this name."""
    return cancellation_case(name) if name in CANCELLATION_CASES else small_case(name)


def assert_close(got: Answer, expected: Answer, *, rel: float, floor: float = 0.0) -> None:
    """Compare every node's posterior and the log evidence."""
    assert got.on.keys() == expected.on.keys()
    assert got.on == pytest.approx(dict(expected.on), rel=rel, abs=floor)
    assert got.log_evidence == pytest.approx(expected.log_evidence, rel=rel, abs=rel)


@pytest.mark.parametrize("name", EXACT_CASES)
def test_doubles_enumerate_as_well_as_integers(name: str) -> None:
    """Enumeration in doubles may judge to 1e-12 only if it is itself right to far less."""
    document, evidence = case_of(name)

    assert_close(
        enumerate_in_doubles(document, evidence),
        enumerate_in_integers(document, evidence),
        rel=5e-14,  # some forty factors and up to 2^18 summands of non-negative doubles
    )


# pyAgrum rounds leaks through 1 - leak: no judge of parameters of 1e-12
AGRUM_CASES = [name for name in SMALL_CASES if "extremes" not in name and "twelve" not in name][::3]


@pytest.mark.parametrize("name", AGRUM_CASES)
def test_agrum_agrees_with_enumeration(name: str) -> None:
    """Two ways that share nothing give one answer."""
    document, evidence = small_case(name)

    assert_close(
        infer_with_agrum(document, evidence),
        enumerate_in_doubles(document, evidence),
        rel=1e-9,
        floor=1e-12,
    )


def test_the_sweeps_hold_what_they_promise() -> None:
    """A sweep that shrank to nothing must fail here."""
    assert len(SMALL_CASES) == 192
    assert len(LARGE_CASES) == 48
    assert len(CANCELLATION_CASES) == 12
    assert len(EXACT_CASES) == 28
    assert len(AGRUM_CASES) == 40


def test_the_small_cases_reach_every_kind_of_evidence() -> None:
    """Evidence on causes, states, findings; soft, on and off; nearly all on many nodes."""
    counts: dict[tuple[str, str], int] = {}
    for name in SMALL_CASES:
        document, evidence = small_case(name)
        kinds = {entry["id"]: entry["kind"] for entry in document["nodes"]}
        for key, value in evidence.items():
            kind = (kinds[key], str(value) if isinstance(value, bool) else "soft")
            counts[kind] = counts.get(kind, 0) + 1

    assert len(counts) == 9
    assert min(counts.values()) >= 50


def test_the_small_cases_reach_every_kind_of_number_and_link() -> None:
    """Strengths of 0 and 1, leaks of 0, tiny priors, causes and findings with such parents."""
    seen = {"strength 0": 0, "strength 1": 0, "leak 0": 0, "tiny prior": 0}
    links = {("cause", "cause"): 0, ("finding", "finding"): 0, ("state", "state"): 0}
    for name in SMALL_CASES:
        nodes = {entry["id"]: entry for entry in small_case(name)[0]["nodes"]}
        for entry in nodes.values():
            seen["leak 0"] += entry.get("leak") == 0.0
            seen["tiny prior"] += 0.0 < entry.get("prior", 1.0) < 1e-5
            for link in entry["parents"]:
                seen["strength 0"] += link["strength"] == 0.0
                seen["strength 1"] += link["strength"] == 1.0
                pair = (nodes[link["id"]]["kind"], entry["kind"])
                links[pair] = links.get(pair, 0) + 1

    assert min(seen.values()) >= 20
    assert min(links.values()) >= 50


@pytest.mark.parametrize("name", LARGE_CASES[:3])
def test_large_cases_are_too_large_to_enumerate(name: str) -> None:
    """Otherwise they would add nothing to the small ones."""
    document, evidence = large_case(name)

    assert len(document["nodes"]) >= 28
    with pytest.raises(ValueError, match="nodes without a fixed state"):
        enumerate_in_doubles(document, {})
    assert evidence


def test_enumeration_rejects_a_network_with_one_strength_changed() -> None:
    """Negative control: a change in the third digit of one strength shows."""
    right = builders.deep_corner()
    wrong = copy.deepcopy(right)
    wrong["nodes"][4]["parents"][0]["strength"] += 0.001
    evidence = {"code": True, "wobble": False}

    expected = enumerate_in_doubles(right, evidence)
    got = enumerate_in_doubles(wrong, evidence)

    assert abs(got.on["rust"] - expected.on["rust"]) > 1e-6
    assert abs(got.log_evidence - expected.log_evidence) > 1e-6


def test_agrum_rejects_strengths_read_as_compound() -> None:
    """Negative control: the other leak convention is off by far more than the tolerance."""
    document, evidence = builders.explaining_away(), {"hum": True}

    expected = enumerate_in_doubles(document, evidence)
    got = infer_with_agrum(document, evidence, compound=True)

    assert abs(got.on["tyre"] - expected.on["tyre"]) > 1e-5


def test_quickscore_agrees_where_little_cancels() -> None:
    """The negative control is a right implementation: with few positives it is accurate."""
    document = builders.fever(prior=0.2)

    got, total = quickscore(document, {"fever": True})
    expected = enumerate_in_doubles(document, {"fever": True})

    assert got == pytest.approx({key: expected.on[key] for key in got}, rel=1e-12)
    assert math.log(total) == pytest.approx(expected.log_evidence, rel=1e-12)


@pytest.mark.parametrize("name", [name for name in SMALL_CASES if "two-layers" in name][:8])
def test_quickscore_agrees_on_ordinary_two_layer_networks(name: str) -> None:
    """Mixed positive and negative findings, ordinary numbers: nothing is lost yet."""
    document, _ = small_case(name)
    evidence = {f"f{i}": i % 2 == 0 for i in range(8)}

    got, total = quickscore(document, evidence)
    expected = enumerate_in_doubles(document, evidence)

    assert got == pytest.approx({key: expected.on[key] for key in got}, rel=1e-9)
    assert math.log(total) == pytest.approx(expected.log_evidence, rel=1e-9)


@pytest.mark.parametrize("name", CANCELLATION_CASES)
def test_quickscore_has_no_right_digit_where_the_terms_cancel(name: str) -> None:
    """Negative control: these cases are hard, so passing them means something."""
    document, evidence = cancellation_case(name)

    _, total = quickscore(document, evidence)
    expected = math.exp(enumerate_in_doubles(document, evidence).log_evidence)

    assert abs(total - expected) > 1000.0 * expected


def test_the_smallest_conflict_is_counted_by_hand() -> None:
    """Without leak a finding needs its only cause: two statements clash, the third is idle."""
    document = builders.network_document(
        builders.cause("a", 0.1), builders.finding("f", 0.0, a=0.5), builders.finding("g", 0.1)
    )

    assert smallest_conflict_size(document, {"a": False, "f": True, "g": True}) == 2
    assert smallest_conflict_size(document, {"a": True, "f": True, "g": True}) == 0
