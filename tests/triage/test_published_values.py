"""Published and worked examples, each with its source.

Only what a noisy-OR network can say exactly is here. The burglary network of
Pearl, win95pts, hepar2 and alarm are general tables and are left out; asia is
in, since all of its tables but one are noisy-OR and that one can be written
with soft evidence. No numeric example of Quickscore was found in print.
"""

from __future__ import annotations

from typing import Any

import pytest

import triage
from tests import builders
from tests.oracles.random_networks import Statements
from triage.noisy_or import net_from_compound

# Lauritzen and Spiegelhalter (1988), Local computations with probabilities on graphical
# structures: the chest clinic. Posteriors as pyAgrum 3.3.1 (lazy propagation) and a sum over
# the joint give them for the asia.bif of pgmpy 0.1.26, whose numbers pyAgrum reads in single
# precision: hence the tolerance.
ASIA: dict[str, tuple[tuple[str, ...], float, float, float]] = {
    "nothing": ((), 0.0104, 0.0550, 0.4500),
    "dysp": (("dysp",), 0.0188453, 0.1027592, 0.8339674),
    "xray+dysp": (("xray", "dysp"), 0.1139333, 0.6212528, 0.6818685),
    "xray+asia": (("xray", "asia"), 0.3377156, 0.3714872, 0.4911022),
}


def asia() -> dict[str, Any]:
    """Return the chest clinic as a noisy-OR network.

    Tables of one parent are noisy-OR with net strengths from their two numbers; `either` is
    an OR without leak. Short breath is not: 0.1, 0.7, 0.8, 0.9 (neither, either, bronchitis,
    both). Observed present it weighs the four as 1 : 7 : 8 : 9, and so does a finding with
    strengths of 1 and leak 9/56 together with ratios 7 * 9/56 and 8 * 9/56 on its parents.
    """
    return builders.network_document(
        builders.cause("asia", 0.01),
        builders.cause("smoke", 0.5),
        builders.cause("tub", 0.01, **net_from_compound({"asia": 0.05}, 0.01)),
        builders.cause("lung", 0.01, **net_from_compound({"smoke": 0.1}, 0.01)),
        builders.cause("bronc", 0.3, **net_from_compound({"smoke": 0.6}, 0.3)),
        builders.state("either", 0.0, tub=1.0, lung=1.0),
        builders.finding("xray", 0.05, **net_from_compound({"either": 0.98}, 0.05)),
        builders.finding("dysp", 9 / 56, either=1.0, bronc=1.0),
    )


@pytest.mark.parametrize("name", ASIA)
def test_the_chest_clinic_gives_its_reference_posteriors(name: str) -> None:
    """Causes with parents, a deterministic OR, evidence on causes, states and findings."""
    present, tub, lung, bronc = ASIA[name]
    evidence: Statements = dict.fromkeys(present, True)
    if "dysp" in present:
        evidence |= {"either": 7 * 9 / 56, "bronc": 8 * 9 / 56}

    causes = triage.posterior(triage.Network.from_document(asia()), evidence).causes

    got = (causes["tub"], causes["lung"], causes["bronc"])
    assert got == pytest.approx((tub, lung, bronc), abs=1e-6)


FEVER = {
    "": 0.0,
    "m": 0.9,
    "f": 0.8,
    "fm": 0.98,
    "c": 0.4,
    "cm": 0.94,
    "cf": 0.88,
    "cfm": 0.988,
}


@pytest.mark.parametrize("present", FEVER)
def test_the_fever_table_comes_out_of_a_network_with_known_causes(present: str) -> None:
    """Russell and Norvig, Artificial Intelligence: A Modern Approach, noisy-OR example."""
    network = triage.Network.from_document(builders.fever())
    known = {name: name[0] in present for name in ("cold", "flu", "malaria")}

    value = triage.check_values(network, known, ["fever"])["fever"]

    assert value.probability_on == pytest.approx(FEVER[present], abs=1e-15)


# leak 0.1, numbers 0.8 and 0.5 on the links; pyAgrum 3.3.1, addNoisyORNet and addNoisyORCompound
CONVENTIONS = {
    "net": ({"a": 0.8, "b": 0.5}, (0.10, 0.82, 0.55, 0.91)),
    "compound": (net_from_compound({"a": 0.8, "b": 0.5}, 0.1), (0.10, 0.80, 0.50, 0.888889)),
}


@pytest.mark.parametrize("name", CONVENTIONS)
def test_both_leak_conventions_come_out_of_a_network(name: str) -> None:
    """The engine is net; a compound table is right once it is converted."""
    strengths, expected = CONVENTIONS[name]
    network = triage.Network.from_document(
        builders.network_document(
            builders.cause("a", 0.5),
            builders.cause("b", 0.5),
            builders.finding("f", 0.1, **strengths),
        )
    )

    got = [
        triage.check_values(network, {"a": a, "b": b}, ["f"])["f"].probability_on
        for a, b in ((False, False), (True, False), (False, True), (True, True))
    ]

    assert got == pytest.approx(expected, abs=5e-7)


def post_test(prior: float, sensitivity: float, specificity: float, outcome: bool) -> float:
    """Return the post-test probability of the one disease of a two-node network."""
    document = builders.single_test(prior=prior, sensitivity=sensitivity, specificity=specificity)
    network = triage.Network.from_document(document)
    return triage.posterior(network, {"test": outcome}).causes["disease"]


def test_the_ferritin_worksheet_comes_out() -> None:
    """Centre for Evidence-Based Medicine worksheet: ferritin for iron deficiency.

    731 of 809 with and 270 of 1770 without iron deficiency test positive. Printed: pre-test
    31 %, post-test (PPV) 73 %, NPV 95 %; unrounded by arithmetic from the four counts.
    """
    pre_test, sensitivity, specificity = 809 / 2579, 731 / 809, 1500 / 1770

    after_positive = post_test(pre_test, sensitivity, specificity, True)
    after_negative = post_test(pre_test, sensitivity, specificity, False)

    assert after_positive == pytest.approx(0.730270, abs=5e-7)
    assert 1.0 - after_negative == pytest.approx(0.950570, abs=5e-7)
    assert (round(after_positive, 2), round(1.0 - after_negative, 2)) == (0.73, 0.95)


@pytest.mark.parametrize(("pre_test", "ratio", "printed"), [(0.31, 6.0, 0.73)])
def test_the_worksheets_ratio_works_as_soft_evidence(
    pre_test: float, ratio: float, printed: float
) -> None:
    """The same worksheet: odds 0.45 times LR+ 6 is 2.7, 73 %."""
    network = triage.Network.from_document(
        builders.network_document(builders.cause("disease", pre_test))
    )

    answer = triage.posterior(network, {"disease": ratio})

    assert answer.causes["disease"] == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize(
    ("pre_test", "printed", "unrounded"), [(0.02, 0.11, 0.109091), (0.50, 0.86, 0.857143)]
)
def test_the_same_test_after_other_pre_test_chances(
    pre_test: float, printed: float, unrounded: float
) -> None:
    """Therapeutic guideline, appendix 16.3: sensitivity 90 %, specificity 85 %."""
    got = post_test(pre_test, 0.90, 0.85, True)

    assert got == pytest.approx(printed, abs=0.005)
    assert got == pytest.approx(unrounded, abs=5e-7)


@pytest.mark.parametrize(
    ("with_disease", "without", "printed"), [(70, 15, 8.2), (7, 27, 0.46), (8, 108, 0.13)]
)
def test_the_ferritin_bands_lead_back_to_their_counts(
    with_disease: int, without: int, printed: float
) -> None:
    """Am J Med 1990;88:205: bands of 85 with and 150 without the disease, and printed ratios.

    A band's ratio on the prevalence 85/235 must give the band's own share of diseased.
    """
    ratio = (with_disease / 85) / (without / 150)
    network = triage.Network.from_document(
        builders.network_document(builders.cause("disease", 85 / 235))
    )

    got = triage.posterior(network, {"disease": ratio}).causes["disease"]

    assert ratio == pytest.approx(printed, abs=0.05 if printed > 1 else 0.005)
    assert got == pytest.approx(with_disease / (with_disease + without), rel=1e-14)


def test_screening_of_a_rare_disease_finds_mostly_false_alarms() -> None:
    """The screening example, 1 %, 80 %, 9.6 % (from memory): 7.8 %, 0.077640 by arithmetic."""
    got = post_test(0.01, 0.80, 1.0 - 0.096, True)

    assert got == pytest.approx(0.077640, abs=5e-7)


def test_every_table_has_its_rows() -> None:
    """A table that lost its rows must fail here."""
    assert (len(ASIA), len(FEVER), len(CONVENTIONS)) == (4, 8, 2)
