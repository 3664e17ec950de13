"""How far a link moves the leading cause, against formulas worked out by hand and differences."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import pytest

from api.documents import read_case
from graph.build import compile_case
from graph.case import CaseInput, FindingSeen
from graph.load import load_knowledge
from graph.placing import place_knowledge
from graph.sensitivity import STEP, Sensitivity, leading_cause, sensitivity
from graph.terms import Knowledge, Link
from tests.graph.small import cause, finding, link, small, state
from triage.arrays import Floats
from triage.exact import posterior, stand
from triage.model import Network, Node, Parent

DECIBANS = 10.0 / math.log(10.0)
HUM = CaseInput(findings=(FindingSeen("sy-hum", "present"),))
NARROW = ("v35", "v41", "v43")


def _knowledge(strength: float = 0.6, leak: float = 0.02) -> Knowledge:
    """Return one cause with one effect."""
    return small(
        [link("rc-worn", "global", "sy-hum", strength, "lk-1")],
        cause("rc-worn"),
        finding("sy-hum", leak_salted=leak, leak_dry=leak),
    )


def _steps(found: Sensitivity) -> Mapping[str, float]:
    """Return link -> its largest step."""
    return {row.link.id: row.largest for row in found.links}


def test_one_link_and_one_finding_seen_moves_as_the_formula_says() -> None:
    """Odds are prior odds times (1 - (1 - l)(1 - s)) / l; its derivative by logit s, by hand."""
    s, leak = 0.6, 0.02
    slope = s * (1 - s) * (1 - leak) / (1 - (1 - leak) * (1 - s))

    found = sensitivity(_knowledge(s, leak), {"one": HUM})

    assert _steps(found) == pytest.approx({"lk-1": STEP * DECIBANS * slope}, rel=1e-9)
    assert found.links[0].cause == "rc-worn"


def test_one_link_and_its_finding_absent_moves_by_the_strength() -> None:
    """Odds are prior odds times (1 - s); the derivative by logit s is -s."""
    knowledge = small(
        [
            link("rc-worn", "global", "sy-hum", 0.6, "lk-1"),
            link("rc-worn", "global", "sy-lamp", 0.9, "lk-2"),
        ],
        cause("rc-worn"),
        finding("sy-hum"),
        finding("sy-lamp"),
    )
    absent = FindingSeen("sy-hum", "absent")
    case = CaseInput(findings=(absent, FindingSeen("sy-lamp", "present")))

    found = sensitivity(knowledge, {"one": case})

    assert _steps(found)["lk-1"] == pytest.approx(-STEP * DECIBANS * 0.6, rel=1e-9)


def test_a_chain_moves_as_a_finite_difference_does() -> None:
    """Two causes, a state between: the whole case computed anew with moved strengths."""
    links = [
        link("rc-worn", "global", "st-play", 0.7, "lk-1"),
        link("rc-loose", "global", "st-play", 0.3, "lk-2"),
        link("st-play", "global", "sy-hum", 0.5, "lk-3"),
    ]
    knowledge = small(
        links, cause("rc-worn"), cause("rc-loose"), state("st-play"), finding("sy-hum")
    )
    network = compile_case(knowledge, HUM).network
    steps = _steps(sensitivity(knowledge, {"one": HUM}))
    for each in links:
        up, down = (_log_odds(_moved(network, each.source, each.target, d)) for d in (1e-4, -1e-4))
        assert steps.get(each.id, 0.0) == pytest.approx(
            STEP * DECIBANS * (up - down) / 2e-4, abs=1e-6
        )


@pytest.mark.parametrize("name", NARROW)
def test_a_practice_case_moves_as_a_finite_difference_does(name: str) -> None:
    """The heaviest links of real size networks; 1e-6 is what central differences are worth."""
    knowledge = load_knowledge()
    path = Path("fixtures/practice/cases") / f"{name}.json"
    case = read_case(path).to_input()
    compiled = compile_case(knowledge, case)
    state_now = stand(compiled.network, compiled.evidence, rough=True)
    arrays, top = compiled.network.arrays, leading_cause(state_now)
    found = sensitivity(knowledge, {name: case})

    for row in found.links[:8]:
        logs = []
        for step in (1e-4, -1e-4):
            strengths = _with_link_moved(compiled.network, row.link, step)
            q = state_now.compiled.perturbed(arrays.base, strengths)[arrays.index[top]]
            logs.append(math.log(q / (1 - q)))
        difference = STEP * DECIBANS * (logs[0] - logs[1]) / 2e-4
        assert row.largest == pytest.approx(difference, abs=1e-6)


def test_the_practice_cases_were_collected() -> None:
    """Partner of the sweep above."""
    assert len(NARROW) == 3


def test_a_case_that_is_too_wide_is_named_and_left_out() -> None:
    """Nobody must take twenty cases for twenty-four."""
    told: list[tuple[int, int]] = []

    found = sensitivity(
        _knowledge(),
        {"one": HUM},
        work_limit=0.5,
        progress=lambda done, total: told.append((done, total)),
    )

    assert (found.links, found.cases, found.left_out) == ((), (), ("one",))
    assert told == [(1, 1)]


def test_a_case_that_cannot_be_answered_is_left_out() -> None:
    """One impossible case must not cost the answer on all the others."""
    lost = CaseInput(findings=(FindingSeen("sy-unknown", "present"),))

    found = sensitivity(_knowledge(), {"lost": lost, "one": HUM})

    assert (found.cases, found.left_out) == (("one",), ("lost",))


def _with_link_moved(network: Network, link: Link, step: float) -> Floats:
    """Return the strengths with every arrow of one link moved in log odds."""
    arrays, strengths = network.arrays, network.arrays.strengths.copy()
    rows = {index: key for key, index in arrays.index.items()}
    drawn = {
        (arrow.source, arrow.target)
        for arrows in place_knowledge(load_knowledge()).into.values()
        for arrow in arrows
        if arrow.link.id == link.id
    }
    for node, key in rows.items():
        for k in range(arrays.pointer[node], arrays.pointer[node + 1]):
            if (rows[int(arrays.parents[k])], key) in drawn:
                odds = strengths[k] / (1 - strengths[k]) * math.exp(step)
                strengths[k] = odds / (1 + odds)
    return strengths


def _moved(network: Network, source: str, target: str, step: float) -> Network:
    """Return the network with one strength moved in log odds."""
    nodes = []
    for node in network.nodes.values():
        parents = []
        for parent in node.parents:
            strength = parent.strength
            if (parent.id, node.id) == (source, target):
                odds = strength / (1 - strength) * math.exp(step)
                strength = odds / (1 + odds)
            parents.append(Parent(parent.id, strength))
        nodes.append(Node(node.id, node.kind, node.base, tuple(parents)))
    return Network(nodes)


def _log_odds(network: Network) -> float:
    """Return the log odds of the worn part, the hum seen."""
    q = posterior(network, {"sy-hum": True}).causes["rc-worn"]
    return math.log(q / (1 - q))
