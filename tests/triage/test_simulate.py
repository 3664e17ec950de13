"""Sampled cars, held against enumeration and against probabilities known by hand."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import pytest

from tests.builders import chain, deep_corner, explaining_away, progression
from triage.errors import UnknownTermError
from triage.exact import posterior
from triage.model import Network
from triage.score import calibration
from triage.simulate import CarSample, sample_answers, sample_car, true_causes

BUILDERS = [chain, explaining_away, progression, deep_corner]
DRAWS = 4000
#: Draws must lie within this many standard errors: one in 15,000 would not by chance.
ERRORS = 4.0


@dataclass(frozen=True, slots=True)
class _Verdict:
    target: str
    p_found_if_on: float
    p_found_if_off: float
    node: str | None = None


@dataclass(frozen=True, slots=True)
class _Offer:
    id: str
    verdicts: tuple[_Verdict, ...]
    place: str = "vehicle"
    setup: str = "su-walk"
    minutes: float = 1.0


def _marginals(document: dict[str, Any]) -> dict[str, float]:
    """Return P(on) of every node by summing over all states, without the engine."""
    nodes = document["nodes"]
    total = dict.fromkeys((node["id"] for node in nodes), 0.0)
    for states in product((False, True), repeat=len(nodes)):
        on = {node["id"]: value for node, value in zip(nodes, states, strict=True)}
        p = 1.0
        for node in nodes:
            off = 1.0 - node.get("prior", node.get("leak", 0.0))
            for parent in node["parents"]:
                if on[parent["id"]]:
                    off *= 1.0 - parent["strength"]
            p *= (1.0 - off) if on[node["id"]] else off
        for key, value in on.items():
            total[key] += p * value
    return total


@pytest.mark.parametrize("build", BUILDERS)
def test_nodes_come_on_as_often_as_enumeration_says(build: Any) -> None:
    """Every node's share over many draws is its probability by full enumeration."""
    document = build()
    network = Network.from_document(document)
    generator = np.random.default_rng(2026)
    counts = np.sum([sample_car(network, generator).on for _ in range(DRAWS)], axis=0)
    for key, p in _marginals(document).items():
        error = ERRORS * np.sqrt(p * (1.0 - p) / DRAWS)
        assert counts[network.arrays.index[key]] / DRAWS == pytest.approx(p, abs=error + 1e-12)


def test_the_sweep_over_networks_covers_four_shapes() -> None:
    """Chain, shared finding, cause to cause, five layers: 4 networks, 23 nodes."""
    assert len(BUILDERS) == 4
    assert sum(len(build()["nodes"]) for build in BUILDERS) == 23


def test_the_same_generator_gives_the_same_car() -> None:
    """All chance comes from the generator handed in."""
    network = Network.from_document(deep_corner())
    one, two = (sample_car(network, np.random.default_rng(5)) for _ in range(2))
    assert np.array_equal(one.on, two.on)
    assert np.array_equal(one.active, two.active)


def _car(network: Network, on: set[str], active: set[tuple[str, str]]) -> CarSample:
    """Return a car by the names of its nodes and active links."""
    arrays = network.arrays
    keys = list(network.nodes)
    child = np.repeat(np.arange(len(keys)), np.diff(arrays.pointer))
    links = [(keys[p], keys[c]) in active for p, c in zip(arrays.parents, child, strict=True)]
    return CarSample(np.array([key in on for key in keys]), np.array(links, np.bool_))


def test_a_cause_whose_chain_breaks_has_no_part() -> None:
    """The first link is active, the last is not: present, but the code came from the leak."""
    network = Network.from_document(chain())
    on = {"play", "ring-moves", "gap-varies", "code"}
    broken = _car(network, on, {("play", "ring-moves"), ("ring-moves", "gap-varies")})
    whole = _car(
        network,
        on,
        {("play", "ring-moves"), ("ring-moves", "gap-varies"), ("gap-varies", "code")},
    )
    assert true_causes(network, broken, ["code"]) == frozenset()
    assert true_causes(network, whole, ["code"]) == {"play"}


def test_a_cause_behind_a_cause_is_true_as_well() -> None:
    """A torn boot that wore the joint that makes the car wander has a part in it."""
    network = Network.from_document(progression())
    car = _car(
        network,
        {"torn-boot", "joint-worn", "wander"},
        {("torn-boot", "joint-worn"), ("joint-worn", "wander")},
    )
    assert true_causes(network, car, ["wander"]) == {"torn-boot", "joint-worn"}


def test_a_link_from_a_cause_that_is_off_makes_nothing() -> None:
    """An active link counts only where its parent is on."""
    network = Network.from_document(explaining_away())
    car = _car(network, {"tyre", "hum"}, {("bearing", "hum"), ("tyre", "hum")})
    assert true_causes(network, car, ["hum"]) == {"tyre"}


def test_a_complaint_that_is_not_there_has_no_causes() -> None:
    """A finding that is off is no complaint."""
    network = Network.from_document(explaining_away())
    car = _car(network, {"tyre"}, set())
    assert true_causes(network, car, ["hum"]) == frozenset()


def test_an_unknown_complaint_is_refused() -> None:
    """The nearest known id is named."""
    network = Network.from_document(explaining_away())
    car = _car(network, set(), set())
    with pytest.raises(UnknownTermError, match="unknown node 'humm' at complaint; did you mean"):
        true_causes(network, car, ["humm"])


def test_answers_are_found_as_often_as_the_check_says() -> None:
    """Sensitivity where the thing is there, false alarms where it is not."""
    network = Network.from_document(explaining_away())
    car = _car(network, {"bearing"}, set())
    offer = _Offer("ck-play", (_Verdict("bearing", 0.8, 0.1), _Verdict("tyre", 0.8, 0.1)))
    generator = np.random.default_rng(7)
    heard = np.array(
        [sample_answers(network, car, [offer], generator)[0] for _ in range(DRAWS)], np.float64
    )
    for share, p in zip(heard.mean(axis=0), (0.8, 0.1), strict=True):
        assert share == pytest.approx(p, abs=ERRORS * np.sqrt(p * (1 - p) / DRAWS))


def test_a_check_with_one_verdict_shows_the_state_of_its_node() -> None:
    """Its chance was drawn with the car: every time the same answer."""
    network = Network.from_document(explaining_away())
    car = _car(network, {"bearing", "hum"}, set())
    offers = [
        _Offer("a", (_Verdict("bearing", 0.5, 0.5, "hum"), _Verdict("tyre", 0.5, 0.5, "hum")))
    ]
    offers.append(_Offer("b", (_Verdict("bearing", 0.5, 0.5, "play"),)))
    for start in range(5):
        answers = sample_answers(network, car, offers, np.random.default_rng(start))
        assert answers == [(True, True), (False,)]


def test_the_engine_is_calibrated_on_sampled_cars() -> None:
    """What is called p comes true in a share p of the cars, where what is asked is fixed.

    The two sides share no code: the engine eliminates, the sampler draws.
    """
    network = Network.from_document(deep_corner())
    asked = ["dropout", "code", "wobble"]
    generator = np.random.default_rng(11)
    forecasts, outcomes = [], []
    known: dict[tuple[bool, ...], dict[str, float]] = {}
    for _ in range(DRAWS):
        car = sample_car(network, generator)
        state = tuple(bool(car.on[network.arrays.index[key]]) for key in asked)
        if state not in known:
            evidence = dict(zip(asked, state, strict=True))
            known[state] = dict(posterior(network, evidence).causes)
        for cause, p in known[state].items():
            forecasts.append(p)
            outcomes.append(bool(car.on[network.arrays.index[cause]]))
    bins = calibration(forecasts, outcomes)
    assert sum(entry.count for entry in bins) == 2 * DRAWS
    assert len(bins) >= 4
    for entry in bins:
        assert entry.observed == pytest.approx(entry.forecast, abs=ERRORS * entry.error)
