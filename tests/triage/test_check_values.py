"""The batch of candidate checks against one posterior, and one enumeration, for each."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pytest

import triage
from tests import builders
from tests.oracles.cases import CANCELLATION_CASES, SMALL_CASES, cancellation_case, small_case
from tests.oracles.documents import Document, Evidence
from tests.oracles.enumeration import enumerate_in_doubles
from tests.oracles.random_networks import Statements
from triage.errors import UnknownTermError

SWEPT = SMALL_CASES[::4] + CANCELLATION_CASES[::4]


def case_of(name: str) -> tuple[dict[str, Any], Statements, list[str]]:
    """Return document, evidence and the causes' ids of a swept case."""
    document, evidence = (cancellation_case if "cancel" in name else small_case)(name)
    causes = [entry["id"] for entry in document["nodes"] if entry["kind"] == "cause"]
    return document, evidence, causes


def assert_side(
    got: Mapping[str, float], document: Document, evidence: Evidence, causes: list[str]
) -> None:
    """Compare one outcome's causes with enumeration given that outcome."""
    expected = enumerate_in_doubles(document, evidence)
    if expected.is_possible:
        wanted = {key: expected.on[key] for key in causes}
        assert dict(got) == pytest.approx(wanted, rel=1e-12, abs=0.0)
    else:
        assert got.keys() == set(causes)
        assert all(math.isnan(value) for value in got.values())


def assert_checks(document: Document, evidence: Evidence) -> None:
    """Compare every node of the network, taken as a check, with enumeration."""
    network = triage.Network.from_document(document)

    values = triage.check_values(network, evidence, list(network.nodes))

    expected = enumerate_in_doubles(document, evidence)
    assert values.keys() == network.nodes.keys()
    for key, value in values.items():
        assert value.probability_on == pytest.approx(expected.on[key], rel=1e-12, abs=0.0)
        for outcome, side in ((True, value.causes_on), (False, value.causes_off)):
            if isinstance(evidence.get(key), bool) and evidence[key] != outcome:
                assert all(math.isnan(probability) for probability in side.values())
            else:
                assert_side(side, document, {**evidence, key: outcome}, list(network.causes))


# each the smallest network of its kind on which a batch of checks went wrong while it was built
BORDER: dict[str, tuple[Document, Evidence]] = {
    "finding-with-leak-one": (
        builders.network_document(builders.cause("a", 0.4), builders.finding("f", 1.0, a=0.7)),
        {"f": 0.02},
    ),
    "prior-one": (builders.network_document(builders.cause("a", 1.0)), {}),
    "prior-zero-beside-another": (
        builders.network_document(builders.cause("a", 0.0), builders.cause("b", 0.2)),
        {},
    ),
    "finding-that-cannot-be": (
        builders.network_document(builders.cause("a", 0.5), builders.finding("f", 0.0)),
        {},
    ),
    "cause-that-needs-its-parent": (
        builders.network_document(
            builders.cause("a", 0.28858556304572774), builders.cause("b", 0.0, a=0.5495324254917506)
        ),
        {},
    ),
    "nearly-certain-link-between-rare-causes": (
        builders.network_document(
            builders.cause("a", 1e-6), builders.cause("b", 1e-3, a=1.0 - 1e-9)
        ),
        {},
    ),
    "tiny-leak-behind-a-weak-link": (
        builders.network_document(
            builders.state("s", 0.02944631012120809), builders.finding("f", 1e-6, s=1e-3)
        ),
        {},
    ),
}


@pytest.mark.parametrize("name", BORDER)
def test_networks_at_the_border_equal_enumeration(name: str) -> None:
    """Outcomes that are certain, impossible or next to it, each in its smallest network."""
    document, evidence = BORDER[name]

    assert_checks(document, evidence)


@pytest.mark.parametrize("name", SWEPT)
def test_every_node_as_a_check_equals_enumeration(name: str) -> None:
    """Every node is asked for: causes, states, findings, observed ones and softly observed."""
    document, evidence, _ = case_of(name)

    assert_checks(document, evidence)


def test_the_sweep_collected_its_cases_and_their_checks() -> None:
    """A sweep that shrank to nothing must fail here."""
    assert len(SWEPT) == 51
    assert len(BORDER) == 7
    assert sum(len(case_of(name)[0]["nodes"]) for name in SWEPT) > 800


@pytest.mark.parametrize("name", SWEPT)
def test_the_outcomes_average_back_to_the_posterior(name: str) -> None:
    """Total probability: P(c) = P(on) P(c | on) + P(off) P(c | off)."""
    document, evidence, _ = case_of(name)
    network = triage.Network.from_document(document)
    before = triage.posterior(network, evidence).causes

    for value in triage.check_values(network, evidence, list(network.nodes)).values():
        on, off = value.probability_on, 1.0 - value.probability_on
        for key, probability in before.items():
            known_on = on * value.causes_on[key] if on > 0.0 else 0.0
            known_off = off * value.causes_off[key] if off > 1e-15 else 0.0
            # absolute: 1 - P(on) has lost its relative precision where P(on) is near 1
            assert known_on + known_off == pytest.approx(probability, rel=0.0, abs=2e-12)


@pytest.mark.parametrize("outcome", [True, False])
@pytest.mark.parametrize("check", ["wobble", "dropout", "gap-wide", "impact"])
def test_a_check_equals_the_posterior_with_its_outcome_stated(check: str, outcome: bool) -> None:
    """What the check promises to show is what stating its outcome shows."""
    network = triage.Network.from_document(builders.deep_corner())
    evidence = {"code": True, "signal-weak": 3.0}

    value = triage.check_values(network, evidence, [check])[check]
    stated = triage.posterior(network, {**evidence, check: outcome}).causes

    side = value.causes_on if outcome else value.causes_off
    assert dict(side) == pytest.approx(dict(stated), rel=1e-13)


def test_a_check_that_was_made_already_has_one_side() -> None:
    """Its outcome is certain; what the other would say cannot be told."""
    network = triage.Network.from_document(builders.chain())

    values = triage.check_values(
        network, {"code": True, "gap-varies": False}, ["code", "gap-varies"]
    )

    assert values["code"].probability_on == 1.0
    assert all(math.isnan(value) for value in values["code"].causes_off.values())
    assert values["gap-varies"].probability_on == 0.0
    assert all(math.isnan(value) for value in values["gap-varies"].causes_on.values())


def test_no_checks_give_no_values() -> None:
    """An empty list is asked for when every check has been made."""
    assert triage.check_values(triage.Network.from_document(builders.chain()), {}, []) == {}


def test_an_unknown_check_is_refused_by_name() -> None:
    """A typing error must not silently drop a check from the list."""
    network = triage.Network.from_document(builders.chain())

    with pytest.raises(UnknownTermError, match=r"'gap-vary'.*did you mean 'gap-varies'"):
        triage.check_values(network, {}, ["gap-vary"])
