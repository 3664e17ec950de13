"""Cars drawn from the posterior, against the exact posterior and enumeration."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from tests.oracles.cases import (
    LARGE_CASES,
    SMALL_CASES,
    WIDE_CASES,
    large_case,
    small_case,
    wide_case,
)
from tests.oracles.enumeration import enumerate_in_doubles
from triage.exact import Standing, stand
from triage.model import Network
from triage.sampling import draw_states

COUNT = 1000
#: Draws are tried at some ten thousand places: beyond 5 standard errors one of a million
#: honest ones falls. A chance below 5 / COUNT is no matter for a normal law.
ERRORS, FEWEST = 5.0, 5.0
CASES = SMALL_CASES[::3] + LARGE_CASES[::2] + WIDE_CASES[::3]


def _standing(name: str) -> tuple[dict[str, object], dict[str, bool | float], Standing]:
    if name in SMALL_CASES:
        document, evidence = small_case(name)
    elif name in LARGE_CASES:
        document, evidence = large_case(name)
    else:
        document, evidence = wide_case(name)
    return document, evidence, stand(Network.from_document(document), evidence)


def _is_off(drawn: float, exact: float) -> bool:
    """Whether a share of COUNT draws cannot come from the exact chance."""
    variance = exact * (1.0 - exact)
    if variance * COUNT < FEWEST:
        return abs(drawn - exact) * COUNT > 6.0 * FEWEST
    return abs(drawn - exact) > ERRORS * math.sqrt(variance / COUNT)


@pytest.mark.parametrize("name", CASES)
def test_each_node_is_on_as_often_as_its_posterior_says(name: str) -> None:
    """The sweep that gives posteriors and the walk back down must agree."""
    _, _, state = _standing(name)
    states = draw_states(state.compiled, COUNT)
    inside = np.flatnonzero(state.compiled.value_axis >= 0)

    off = [k for k in inside if _is_off(float(states[:, k].mean()), float(state.chance[k]))]

    assert not off


@pytest.mark.parametrize("name", SMALL_CASES[1::12])
def test_pairs_of_nodes_are_on_together_as_often_as_enumeration_says(name: str) -> None:
    """Marginals alone would also come from draws that forget what goes with what."""
    document, evidence, state = _standing(name)
    states = draw_states(state.compiled, COUNT)
    keys = list(state.compiled.network.nodes)
    inside = [int(k) for k in np.flatnonzero(state.compiled.value_axis >= 0)]
    wrong = []
    for a in inside:
        if not 0.0 < state.chance[a] < 1.0:
            continue
        given = {key: value for key, value in evidence.items() if key != keys[a]} | {keys[a]: True}
        exact = enumerate_in_doubles(document, given).on
        for b in inside:
            both = float(state.chance[a]) * exact[keys[b]]
            if _is_off(float((states[:, a] & states[:, b]).mean()), both):
                wrong.append((keys[a], keys[b]))

    assert not wrong


def test_the_sweeps_collected_their_cases() -> None:
    """Partner of the sweeps: every sort of network is among them."""
    sorts = {name.partition("/")[0] for name in CASES}

    assert len(CASES) >= 60
    assert len(sorts) >= 13
    assert len(SMALL_CASES[1::12]) == 16


def test_draws_that_are_independent_of_each_other_are_found_out() -> None:
    """Negative control: causes drawn one by one from their posteriors miss the pairs."""
    document = {
        "nodes": [
            {"id": "a", "kind": "cause", "prior": 0.1},
            {"id": "b", "kind": "cause", "prior": 0.1},
            {"id": "f", "kind": "finding", "leak": 0.0,
             "parents": [{"id": "a", "strength": 0.9}, {"id": "b", "strength": 0.9}]},
        ]
    }  # fmt: skip
    exact = enumerate_in_doubles(document, {"f": True})
    both = exact.on["a"] * enumerate_in_doubles(document, {"f": True, "a": True}).on["b"]
    states = draw_states(stand(Network.from_document(document), {"f": True}).compiled, COUNT)
    rng = np.random.default_rng(1)
    apart = (rng.random(COUNT) < exact.on["a"]) & (rng.random(COUNT) < exact.on["b"])

    assert not _is_off(float((states[:, 0] & states[:, 1]).mean()), both)
    assert _is_off(float(apart.mean()), both)


def test_a_given_node_is_on_in_every_car() -> None:
    """A rare part is looked at in cars that all have it bad."""
    document, evidence, state = _standing(SMALL_CASES[3])
    row = next(
        int(k)
        for k in np.flatnonzero(state.compiled.value_axis >= 0)
        if 0.01 < state.chance[k] < 0.5
    )
    key = list(state.compiled.network.nodes)[row]
    states = draw_states(state.compiled, COUNT, given=row)
    given = {k: v for k, v in evidence.items() if k != key} | {key: True}
    exact = enumerate_in_doubles(document, given)

    assert states[:, row].all()
    for other, node in itertools.islice(enumerate(state.compiled.network.nodes), 20):
        if state.compiled.value_axis[other] >= 0:
            assert not _is_off(float(states[:, other].mean()), exact.on[node])


def test_the_same_seed_draws_the_same_cars_and_another_others() -> None:
    """The same case must get the same answer every time."""
    _, _, state = _standing(SMALL_CASES[3])

    again = draw_states(state.compiled, 50, seed=4)

    assert np.array_equal(draw_states(state.compiled, 50, seed=4), again)
    assert not np.array_equal(draw_states(state.compiled, 50, seed=5), again)


def test_seen_nodes_are_what_was_seen() -> None:
    """Evidence holds in every car."""
    _, evidence, state = _standing(SMALL_CASES[5])
    states = draw_states(state.compiled, 20)
    index = state.compiled.network.arrays.index

    certain = {key: value for key, value in evidence.items() if isinstance(value, bool)}
    assert certain
    for key, value in certain.items():
        assert (states[:, index[key]] == value).all()
