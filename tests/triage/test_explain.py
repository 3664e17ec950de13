"""Weights of evidence: parts that recombine, and what one more answer would do."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from tests.oracles.cases import LARGE_CASES, SMALL_CASES, large_case, small_case
from tests.oracles.enumeration import enumerate_in_doubles
from triage.exact import posterior, stand
from triage.explain import Move, incremental, leave_one_out, log_odds_decibans, moves
from triage.model import Network

NAMES = SMALL_CASES[::6] + LARGE_CASES[::6]
Statement = tuple[str, bool | float]


def _case(name: str) -> tuple[dict[str, object], Network, list[Statement]]:
    document, evidence = small_case(name) if name in SMALL_CASES else large_case(name)
    return document, Network.from_document(document), list(evidence.items())


def _said(item: Statement) -> Sequence[Statement]:
    return [item]


def _combine(items: Sequence[Statement]) -> dict[str, bool | float]:
    return dict(items)


def _inner(network: Network, evidence: dict[str, bool | float]) -> list[str]:
    """Return the causes that stay clear of 0 and 1: odds need both."""
    told = posterior(network, evidence).causes
    return [key for key in network.causes if 1e-9 < told[key] < 1.0 - 1e-9]


@pytest.mark.parametrize("name", NAMES)
def test_incremental_parts_and_the_prior_add_up_to_the_posterior(name: str) -> None:
    """House rule: an account must recombine to what it explains, here at 1e-9 of a chance."""
    _, network, items = _case(name)
    exact = posterior(network, dict(items)).causes
    causes = _inner(network, dict(items))

    accounts = incremental(stand(network, dict(items)), items, _combine, causes)

    for key in causes:
        account = accounts[key]
        whole = account.prior_decibans + sum(account.parts)
        chance = 1.0 / (1.0 + 10.0 ** (-whole / 10.0))
        assert chance == pytest.approx(exact[key], abs=1e-9)
        assert len(account.parts) == len(items)


@pytest.mark.parametrize("name", SMALL_CASES[::24])
def test_each_part_is_the_step_between_two_enumerated_posteriors(name: str) -> None:
    """Adding up is not enough: the parts must be the right ones, in the stated order."""
    document, network, items = _case(name)
    causes = [key for key in _inner(network, dict(items)) if not network.nodes[key].parents]
    accounts = incremental(stand(network, dict(items)), items, _combine, causes)
    levels = [enumerate_in_doubles(document, dict(items[:k])).on for k in range(len(items) + 1)]

    for key in causes:
        steps = [log_odds_decibans(level[key]) for level in levels]
        for k, part in enumerate(accounts[key].parts):
            assert part == pytest.approx(steps[k + 1] - steps[k], abs=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_leaving_one_out_is_answering_without_it(name: str) -> None:
    """Taken back from the tables or answered again: the same weight."""
    _, network, items = _case(name)
    state = stand(network, dict(items))
    causes = [key for key in _inner(network, dict(items)) if not network.nodes[key].parents]

    weights = leave_one_out(state, items, _said, _combine, causes)

    for k in range(len(items)):
        rest = posterior(network, dict(items[:k] + items[k + 1 :])).causes
        for key in causes:
            whole = log_odds_decibans(float(state.chance[network.arrays.index[key]]))
            assert weights[key][k] == pytest.approx(whole - log_odds_decibans(rest[key]), abs=1e-6)


@pytest.mark.parametrize("name", SMALL_CASES[5::16])
def test_a_move_is_what_enumeration_says_after_the_answer(name: str) -> None:
    """Bayes' rule turned round must end where answering for real ends."""
    document, network, items = _case(name)
    evidence = dict(items)
    state = stand(network, evidence)
    causes = [
        k
        for k in _inner(network, evidence)
        if state.compiled.value_axis[state.compiled.network.arrays.index[k]] >= 0
    ]
    assert causes
    open_ = [
        key
        for key in network.nodes
        if key not in evidence and state.compiled.value_axis[network.arrays.index[key]] >= 0
    ]

    told = moves(state, causes[0], [(key, 0.9, 0.2) for key in open_])

    exact = enumerate_in_doubles(document, evidence)
    for key, move in zip(open_, told, strict=True):
        ratio = {**evidence, key: 0.9 / 0.2}
        other = {**evidence, key: 0.1 / 0.8}
        assert move.chance == pytest.approx(0.2 + 0.7 * exact.on[key], abs=1e-9)
        assert move.if_yes == pytest.approx(
            enumerate_in_doubles(document, ratio).on[causes[0]], abs=1e-9
        )
        assert move.if_no == pytest.approx(
            enumerate_in_doubles(document, other).on[causes[0]], abs=1e-9
        )


def test_the_sweeps_tried_what_they_say() -> None:
    """Partner of the sweeps: cases, and among them some with soft evidence and some wide."""
    assert len(NAMES) == 32 + 8
    assert len(SMALL_CASES[5::16]) == 12
    soft = [n for n in NAMES if any(not isinstance(v, bool) for _, v in _case(n)[2])]
    assert len(soft) >= 20


def test_one_finding_weighs_ten_times_the_log_of_its_likelihood_ratio() -> None:
    """Good (1985), from memory: a ban is a factor of ten, a deciban a tenth of it.

    P(hum | play) = 0.5, P(hum | no play) = 0.05: a factor of ten, ten decibans.
    """
    network = Network.from_document(
        {
            "nodes": [
                {"id": "play", "kind": "cause", "prior": 0.01},
                {"id": "hum", "kind": "finding", "leak": 0.05,
                 "parents": [{"id": "play", "strength": 1.0 - 0.5 / 0.95}]},
            ]
        }
    )  # fmt: skip
    items: list[Statement] = [("hum", True)]
    state = stand(network, {"hum": True})

    assert leave_one_out(state, items, _said, _combine, ["play"])["play"] == [pytest.approx(10.0)]
    assert incremental(state, items, _combine, ["play"])["play"].parts[0] == pytest.approx(10.0)


def test_weights_left_out_one_by_one_need_not_add_up() -> None:
    """Negative control: two findings that say the same; the incremental account adds up."""
    network = Network.from_document(
        {
            "nodes": [
                {"id": "a", "kind": "cause", "prior": 0.1},
                *(
                    {"id": key, "kind": kind, "leak": 0.01,
                     "parents": [{"id": parent, "strength": 0.9}]}
                    for key, kind, parent in (
                        ("s", "state", "a"), ("f", "finding", "s"), ("g", "finding", "s")
                    )
                ),
            ]
        }
    )  # fmt: skip
    items: list[Statement] = [("f", True), ("g", True)]
    state = stand(network, dict(items))
    account = incremental(state, items, _combine, ["a"])["a"]
    left_out = leave_one_out(state, items, _said, _combine, ["a"])["a"]

    way = account.posterior_decibans - account.prior_decibans
    assert sum(account.parts) == pytest.approx(way, abs=1e-9)
    assert abs(sum(left_out) - way) > 1.0


def test_the_expected_move_of_a_question_that_says_nothing_is_none() -> None:
    """Both answers leave the cause where it is."""
    assert Move(0.3, 0.4, 0.4).expected == pytest.approx(0.0, abs=1e-15)
    assert math.isclose(Move(0.5, 0.8, 0.2).expected, 0.3)
