"""The exact posterior against oracles that share no line with it.

Tolerances: where the oracle is enumeration, 1e-12 *relative* on every cause's
probability, with no absolute floor, because a cause of probability 1e-9 has to
keep its digits too (its odds are what the ranking rests on). The log of the
evidence's probability is held to 1e-12 absolute, which is 1e-12 relative on the
probability itself, plus 1e-15 relative for the rounding of the log. Some forty
factors and sums of up to 2^18 non-negative doubles explain about 1e-14.
"""

from __future__ import annotations

import pytest

import triage
from tests import builders
from tests.oracles.cases import (
    CANCELLATION_CASES,
    LARGE_CASES,
    SMALL_CASES,
    WIDE_CASES,
    cancellation_case,
    large_case,
    small_case,
    wide_case,
)
from tests.oracles.documents import Answer, Document, Evidence
from tests.oracles.enumeration import enumerate_in_doubles, enumerate_in_integers
from triage.errors import InferenceTooLargeError, ParameterError, UnknownTermError

NAMED: dict[str, tuple[Document, Evidence]] = {
    "explaining-away": (builders.explaining_away(), {"hum": True, "play": False}),
    "chain": (builders.chain(), {"code": True}),
    "progression": (builders.progression(), {"lamp": True, "wander": False}),
    "observed-finding-with-a-child": (builders.progression(), {"code": True, "lamp": True}),
    "evidence-on-a-state": (builders.chain(), {"ring-moves": True, "code": False}),
    "evidence-on-a-cause": (builders.explaining_away(), {"tyre": True, "hum": True}),
    "soft-evidence": (builders.deep_corner(), {"code": 8.0, "wobble": 0.2, "rust": 3.0}),
    "no-evidence": (builders.deep_corner(), {}),
}


def assert_posterior(document: Document, evidence: Evidence, expected: Answer, rel: float) -> None:
    """Compare every cause of the network, and the log of the evidence's probability."""
    network = triage.Network.from_document(document)

    answer = triage.posterior(network, evidence)

    assert answer.exact
    assert dict(answer.causes) == pytest.approx(
        {key: expected.on[key] for key in network.causes}, rel=rel, abs=0.0
    )
    assert answer.log_evidence == pytest.approx(expected.log_evidence, rel=1e-15, abs=rel)


@pytest.mark.parametrize("name", NAMED)
def test_named_networks_equal_enumeration(name: str) -> None:
    """One readable network for each thing a network of this project may do."""
    document, evidence = NAMED[name]

    assert_posterior(document, evidence, enumerate_in_doubles(document, evidence), 1e-12)


@pytest.mark.parametrize("name", SMALL_CASES)
def test_small_networks_equal_enumeration(name: str) -> None:
    """Up to 12 causes, two to five layers, every kind of evidence, strengths of 0 and 1."""
    document, evidence = small_case(name)

    assert_posterior(document, evidence, enumerate_in_doubles(document, evidence), 1e-12)


@pytest.mark.parametrize("name", WIDE_CASES)
def test_wide_networks_equal_enumeration(name: str) -> None:
    """14 and 19 causes tied together by their findings: tables of many axes, not small ones."""
    document, evidence = wide_case(name)

    assert_posterior(document, evidence, enumerate_in_doubles(document, evidence), 1e-12)


def test_the_wide_networks_are_wide() -> None:
    """If a better order makes them narrow they have to grow."""
    widths = [
        triage.posterior(triage.Network.from_document(document), evidence).width
        for document, evidence in map(wide_case, WIDE_CASES)
    ]

    assert min(widths) >= 8
    assert max(widths) >= 14


@pytest.mark.parametrize("name", CANCELLATION_CASES)
def test_rare_causes_behind_many_findings_keep_every_digit(name: str) -> None:
    """P(evidence) down to 1e-36 from terms near 1: judged by integer arithmetic."""
    document, evidence = cancellation_case(name)

    assert_posterior(document, evidence, enumerate_in_integers(document, evidence), 1e-12)


@pytest.mark.parametrize("name", LARGE_CASES)
def test_large_networks_equal_agrum(name: str) -> None:
    """28 to 38 nodes against the reference library, which works to about 1e-12 itself."""
    agrum = pytest.importorskip("tests.oracles.agrum")
    document, evidence = large_case(name)

    assert_posterior(document, evidence, agrum.infer_with_agrum(document, evidence), 1e-9)


def test_every_sweep_collected_its_cases() -> None:
    """A sweep that shrank to nothing must fail here."""
    assert len(NAMED) == 8
    assert len(SMALL_CASES) == 192
    assert len(CANCELLATION_CASES) == 12
    assert len(LARGE_CASES) == 48
    assert len(WIDE_CASES) == 10


def test_without_evidence_every_root_cause_has_its_prior_and_log_evidence_is_zero() -> None:
    """Nothing seen, nothing learned."""
    network = triage.Network.from_document(builders.explaining_away())

    answer = triage.posterior(network, {})

    assert answer.causes == {"bearing": 0.1, "tyre": 0.2}
    assert answer.log_evidence == 0.0


def test_explaining_away_by_hand() -> None:
    """Two causes, one finding, no leak: the other cause, once known, takes the blame."""
    document = builders.network_document(
        builders.cause("a", 0.5), builders.cause("b", 0.5), builders.finding("f", 0.0, a=1.0, b=1.0)
    )
    network = triage.Network.from_document(document)

    assert triage.posterior(network, {"f": True}).causes["a"] == pytest.approx(2 / 3, rel=1e-15)
    known = triage.posterior(network, {"f": True, "b": True})
    assert known.causes == {"a": 0.5, "b": 1.0}


def test_a_leak_of_1e_minus_300_keeps_its_digits() -> None:
    """Two explanations that are both next to impossible still have finite odds."""
    document = builders.network_document(
        builders.cause("c", 1e-300), builders.finding("f", 3e-300, c=1.0)
    )

    answer = triage.posterior(triage.Network.from_document(document), {"f": True})

    assert answer.causes["c"] == pytest.approx(0.25, rel=1e-14)


def test_thirty_findings_beyond_the_range_of_a_double_are_no_trouble() -> None:
    """P(evidence) = 1e-360 underflows; its log does not."""
    findings = [builders.finding(f"f{i}", 1e-12) for i in range(30)]
    document = builders.network_document(builders.cause("c", 0.25), *findings)

    answer = triage.posterior(
        triage.Network.from_document(document), dict.fromkeys([f"f{i}" for i in range(30)], True)
    )

    assert answer.causes["c"] == pytest.approx(0.25, rel=1e-15)
    assert answer.log_evidence == pytest.approx(30 * -27.631021115928547, rel=1e-13)


def test_thirty_linked_findings_beyond_the_range_of_a_double_equal_integers() -> None:
    """The same when the findings hang together through their causes."""
    causes = [builders.cause(f"c{i}", 1e-9) for i in range(6)]
    findings = [
        builders.finding(f"f{i}", 1e-14, **{f"c{i % 6}": 1e-7, f"c{(i + 1) % 6}": 1e-8})
        for i in range(30)
    ]
    document = builders.network_document(*causes, *findings)
    evidence = {f"f{i}": True for i in range(30)}

    assert_posterior(document, evidence, enumerate_in_integers(document, evidence), 1e-12)


@pytest.mark.parametrize("ratio", [0.0, -1.0, float("inf"), float("nan")])
def test_a_likelihood_ratio_that_is_no_positive_number_is_refused(ratio: float) -> None:
    """Certainty is stated as True or False, never as an infinite or zero ratio."""
    network = triage.Network.from_document(builders.chain())

    with pytest.raises(ParameterError, match=r"likelihood ratio of 'code' is .*outside"):
        triage.posterior(network, {"code": ratio})


def test_evidence_on_an_unknown_node_names_the_nearest() -> None:
    """A typing error must not be silently no evidence."""
    network = triage.Network.from_document(builders.deep_corner())

    with pytest.raises(UnknownTermError, match=r"'wobbel'.*did you mean 'wobble'"):
        triage.posterior(network, {"wobbel": True})


@pytest.mark.parametrize("count", [1, 2])
def test_whole_numbers_are_likelihood_ratios(count: int) -> None:
    """1 is the ratio one, no evidence, and not the state True; 2 is a ratio as 2.0 is."""
    network = triage.Network.from_document(builders.chain())

    assert triage.posterior(network, {"code": count}) == triage.posterior(
        network, {"code": float(count)}
    )


def test_numpy_truth_values_are_not_taken_for_the_ratio_one() -> None:
    """A truth value of numpy, read as a ratio, would silently be no evidence."""
    np = pytest.importorskip("numpy")
    network = triage.Network.from_document(builders.chain())

    try:
        answer = triage.posterior(network, {"code": np.True_})
    except ParameterError:
        return
    assert answer == triage.posterior(network, {"code": True})


def test_an_answer_over_budget_is_refused_with_the_estimate() -> None:
    """No answer is better than one that takes the machine down or is not exact."""
    causes = [f"c{i}" for i in range(12)]
    document = builders.network_document(
        *(builders.cause(key, 0.1) for key in causes),
        *(
            builders.finding(f"f{i}", 0.01, **{key: 0.5 for key in causes if key != causes[i]})
            for i in range(12)
        ),
    )
    network = triage.Network.from_document(document)
    evidence = {f"f{i}": True for i in range(12)}

    with pytest.raises(InferenceTooLargeError, match=r"budget is 2\^4") as caught:
        triage.posterior(network, evidence, budget=4)

    assert caught.value.budget == 4
    assert caught.value.width > 4
    assert caught.value.width <= triage.posterior(network, evidence).width


def test_the_width_of_independent_findings_is_small() -> None:
    """Absent findings and independent parts cost nothing: the width is of the hardest part."""
    causes = [builders.cause(f"c{i}", 0.1) for i in range(40)]
    findings = [builders.finding(f"f{i}", 0.01, **{f"c{i}": 0.5}) for i in range(40)]
    network = triage.Network.from_document(builders.network_document(*causes, *findings))

    answer = triage.posterior(network, {f"f{i}": i % 2 == 0 for i in range(40)})

    assert answer.width <= 2
