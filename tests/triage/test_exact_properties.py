"""What must hold for every network and all evidence, whatever the numbers.

These need no oracle: each compares two answers of the engine that have to be
the same, or in a known order. Tolerance 1e-12 relative as in the sweeps; where
two different networks are compared in order, 1e-13 relative for rounding.
"""

from __future__ import annotations

import math
import random
from typing import Any

import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st

import triage
from tests.oracles.documents import Document, Evidence
from tests.oracles.enumeration import enumerate_in_doubles
from tests.oracles.random_networks import Statements
from tests.oracles.strategies import cases, networks, numbers, ratios, steady
from triage.noisy_or import compound_from_net, finding_probability, net_from_compound

Case = tuple[dict[str, Any], Statements]


def solve(document: Document, evidence: Evidence) -> triage.Posterior:
    """Return the engine's answer for a plain document."""
    return triage.posterior(triage.Network.from_document(document), evidence)


def assert_same(one: triage.Posterior, other: triage.Posterior, *, rel: float = 1e-12) -> None:
    """Compare the causes and the evidence of two answers."""
    assert dict(one.causes) == pytest.approx(dict(other.causes), rel=rel, abs=0.0)
    assert one.log_evidence == pytest.approx(other.log_evidence, rel=1e-14, abs=rel)


def renamed(document: Document, prefix: str) -> dict[str, Any]:
    """Return a copy of the document with a prefix on every id."""
    return {
        "nodes": [
            {
                **entry,
                "id": prefix + entry["id"],
                "parents": [{**link, "id": prefix + link["id"]} for link in entry["parents"]],
            }
            for entry in document["nodes"]
        ]
    }


def replaced(document: Document, index: int, **changes: object) -> dict[str, Any]:
    """Return a copy of the document with one node changed."""
    nodes = list(document["nodes"])
    nodes[index] = {**nodes[index], **changes}
    return {"nodes": nodes}


@steady
@given(case=cases())
def test_every_network_equals_enumeration(case: Case) -> None:
    """The shrinking partner of the sweeps: a failure comes out small."""
    document, evidence = case
    answer = solve(document, evidence)
    expected = enumerate_in_doubles(document, evidence)

    assert dict(answer.causes) == pytest.approx(
        {key: expected.on[key] for key in answer.causes}, rel=1e-12, abs=0.0
    )
    assert answer.log_evidence == pytest.approx(expected.log_evidence, rel=1e-15, abs=1e-12)


@steady
@given(case=cases(), shuffle=st.randoms(use_true_random=False))
def test_the_order_of_observations_nodes_and_links_does_not_matter(
    case: Case, shuffle: random.Random
) -> None:
    """A technician may look in any order, a file may list in any order."""
    document, evidence = case
    statements, nodes = list(evidence.items()), list(document["nodes"])
    shuffle.shuffle(statements)
    shuffle.shuffle(nodes)
    turned = {"nodes": [{**entry, "parents": entry["parents"][::-1]} for entry in nodes]}

    assert_same(solve(turned, dict(statements)), solve(document, evidence))


@steady
@given(case=cases(), data=st.data())
def test_an_unknown_finding_changes_nothing(case: Case, data: st.DataObject) -> None:
    """A finding nobody has looked at is the same as one the network does not hold."""
    document, evidence = case
    keys = [entry["id"] for entry in document["nodes"]]
    parents = data.draw(st.lists(st.sampled_from(keys), unique=True, max_size=4))
    links = [{"id": key, "strength": data.draw(numbers)} for key in parents]
    extra = {"id": "unseen", "kind": "finding", "leak": data.draw(numbers), "parents": links}

    assert_same(solve({"nodes": [*document["nodes"], extra]}, evidence), solve(document, evidence))


@steady
@given(case=cases(), data=st.data())
def test_a_likelihood_ratio_of_one_changes_nothing(case: Case, data: st.DataObject) -> None:
    """A reading that fits both states equally well says nothing."""
    document, evidence = case
    key = data.draw(st.sampled_from([entry["id"] for entry in document["nodes"]]))
    assume(key not in evidence)

    assert_same(solve(document, {**evidence, key: 1.0}), solve(document, evidence))


@steady
@given(case=cases(), data=st.data())
def test_a_link_of_strength_zero_is_no_link(case: Case, data: st.DataObject) -> None:
    """Wherever it runs, as long as it makes no loop."""
    document, evidence = case
    index = data.draw(st.integers(0, len(document["nodes"]) - 1))
    entry = document["nodes"][index]
    linked = {link["id"] for link in entry["parents"]}
    new = [other["id"] for other in document["nodes"][:index] if other["id"] not in linked]
    assume(new)
    links = [*entry["parents"], {"id": data.draw(st.sampled_from(new)), "strength": 0.0}]

    assert_same(
        solve(replaced(document, index, parents=links), evidence), solve(document, evidence)
    )


@steady
@given(case=cases(), prior=numbers)
def test_an_isolated_cause_keeps_its_prior(case: Case, prior: float) -> None:
    """Nothing seen elsewhere says anything about it: its prior to the last digit."""
    document, evidence = case
    alone = {"id": "alone", "kind": "cause", "prior": prior, "parents": []}

    answer = solve({"nodes": [*document["nodes"], alone]}, evidence)

    assert answer.causes["alone"] == prior
    others = {key: value for key, value in answer.causes.items() if key != "alone"}
    without = triage.Posterior(others, answer.exact, answer.width, answer.log_evidence)
    assert_same(without, solve(document, evidence))


@steady
@given(document=networks(sure=False), data=st.data())
def test_raising_a_strength_never_lowers_the_chance_of_any_node(
    document: dict[str, Any], data: st.DataObject
) -> None:
    """Noisy-OR is monotone at any depth: more cause, more of every effect."""
    linked = [i for i, entry in enumerate(document["nodes"]) if entry["parents"]]
    assume(linked)
    index = data.draw(st.sampled_from(linked))
    links = [dict(link) for link in document["nodes"][index]["parents"]]
    links[0]["strength"] = data.draw(st.floats(links[0]["strength"], 1.0))
    stronger = replaced(document, index, parents=links)

    for entry in document["nodes"]:
        before = solve(document, {entry["id"]: True}).log_evidence
        after = solve(stronger, {entry["id"]: True}).log_evidence
        assert after >= before - 1e-13 * max(1.0, abs(before))


@steady
@given(document=networks(sure=False), data=st.data())
def test_compound_parameters_lead_to_the_same_network(
    document: dict[str, Any], data: st.DataObject
) -> None:
    """A table of the other convention, once converted, gives the same answers."""
    nodes = []
    for entry in document["nodes"]:
        base = entry.get("leak", entry.get("prior"))
        assume(base < 0.999)  # beyond, a compound parameter has lost the strength's digits
        net = {link["id"]: link["strength"] for link in entry["parents"]}
        back = net_from_compound(compound_from_net(net, base), base)
        links = [{"id": key, "strength": min(value, 1.0)} for key, value in back.items()]
        nodes.append({**entry, "parents": links})
    seen = {nodes[-1]["id"]: data.draw(st.booleans())}

    got, expected = solve({"nodes": nodes}, seen), solve(document, seen)

    # absolute: adding the leak to a strength of 1e-9 and taking it off again costs digits
    assert dict(got.causes) == pytest.approx(dict(expected.causes), rel=1e-6, abs=1e-9)


@steady
@given(strengths=st.lists(numbers, min_size=1, max_size=4), leak=numbers, data=st.data())
def test_one_layer_is_the_noisy_or_formula(
    strengths: list[float], leak: float, data: st.DataObject
) -> None:
    """With every cause known, the network's finding is the page-one formula."""
    links = {f"c{i}": strength for i, strength in enumerate(strengths)}
    causes = [{"id": key, "kind": "cause", "prior": 0.5, "parents": []} for key in links]
    parents = [{"id": key, "strength": value} for key, value in links.items()]
    hum = {"id": "hum", "kind": "finding", "leak": leak, "parents": parents}
    known = {key: data.draw(st.booleans()) for key in links}
    network = triage.Network.from_document({"nodes": [*causes, hum]})

    got = triage.check_values(network, known, ["hum"])["hum"].probability_on

    present = {key for key, value in known.items() if value}
    expected = finding_probability(present, strength=links, leak=leak)
    assert got == pytest.approx(expected, rel=1e-13, abs=0.0)


@steady
@given(case=cases())
def test_the_outcomes_of_a_check_average_to_the_posterior(case: Case) -> None:
    """Total probability: P(c) = P(on) P(c | on) + P(off) P(c | off)."""
    document, evidence = case
    network = triage.Network.from_document(document)
    before = triage.posterior(network, evidence).causes
    open_checks = [key for key in network.nodes if not isinstance(evidence.get(key), bool)]

    for value in triage.check_values(network, evidence, open_checks).values():
        on = value.probability_on
        for key, probability in before.items():
            average = on * value.causes_on[key] + (1.0 - on) * value.causes_off[key]
            assert average == pytest.approx(probability, rel=1e-12, abs=1e-12)


@steady
@given(case=cases(), outcome=st.booleans())
def test_a_check_equals_the_posterior_with_its_outcome_stated(case: Case, outcome: bool) -> None:
    """The batch promises what the single answer will say."""
    document, evidence = case
    network = triage.Network.from_document(document)
    open_checks = [key for key in network.nodes if not isinstance(evidence.get(key), bool)]

    for key, value in triage.check_values(network, evidence, open_checks).items():
        side = value.causes_on if outcome else value.causes_off
        stated = triage.posterior(network, {**evidence, key: outcome})
        assert dict(side) == pytest.approx(dict(stated.causes), rel=1e-12, abs=0.0)


@steady
@given(case=cases(), outcome=st.booleans(), data=st.data())
def test_an_enormous_likelihood_ratio_is_next_to_certainty(
    case: Case, outcome: bool, data: Any
) -> None:
    """A ratio of 1e200 says True, one of 1e-200 says False, to the last digits.

    The network's own odds of a node stay within 1e-100 and 1e100.
    """
    document, evidence = case
    key = data.draw(st.sampled_from([entry["id"] for entry in document["nodes"]]))
    evidence.pop(key, None)

    soft = solve(document, {**evidence, key: 1e200 if outcome else 1e-200})
    hard = solve(document, {**evidence, key: outcome})

    assert dict(soft.causes) == pytest.approx(dict(hard.causes), rel=1e-12, abs=1e-90)
    gained = 200 * math.log(10) if outcome else 0.0
    assert soft.log_evidence - gained == pytest.approx(hard.log_evidence, abs=1e-11)


@steady
@given(case=cases(), other=cases())
def test_parts_without_a_link_between_them_are_independent(case: Case, other: Case) -> None:
    """Each answers as if alone, and the logs of their evidence add up."""
    (document, evidence), (far_document, far_evidence) = case, other
    far = renamed(far_document, "far-")
    both = {"nodes": [*far["nodes"], *document["nodes"]]}

    together = solve(both, {**evidence, **{f"far-{k}": v for k, v in far_evidence.items()}})
    alone, far_alone = solve(document, evidence), solve(far_document, far_evidence)

    expected = dict(alone.causes) | {f"far-{key}": p for key, p in far_alone.causes.items()}
    assert dict(together.causes) == pytest.approx(expected, rel=1e-12, abs=0.0)
    assert together.log_evidence == pytest.approx(
        alone.log_evidence + far_alone.log_evidence, rel=1e-14, abs=1e-12
    )


@steady
@given(case=cases(), strength=numbers, leak=st.floats(1e-6, 1.0), data=st.data())
def test_a_finding_with_one_cause_never_speaks_against_it(
    case: Case, strength: float, leak: float, data: Any
) -> None:
    """Present raises its only cause or leaves it, absent lowers it or leaves it."""
    document, evidence = case
    network = triage.Network.from_document(document)
    key = data.draw(st.sampled_from(network.causes))
    link = {"id": key, "strength": strength}
    extra = {"id": "extra", "kind": "finding", "leak": leak, "parents": [link]}
    larger = triage.Network.from_document({"nodes": [*document["nodes"], extra]})
    before = triage.posterior(network, evidence).causes[key]

    value = triage.check_values(larger, evidence, ["extra"])["extra"]

    assert value.causes_on[key] >= before * (1.0 - 1e-13)
    if value.probability_on < 1.0 and not math.isnan(value.causes_off[key]):
        event("absent is possible")
        assert value.causes_off[key] <= before * (1.0 + 1e-13)


@steady
@given(case=cases(), ratio=ratios, data=st.data())
def test_a_likelihood_ratio_is_a_test_with_these_two_rates(
    case: Case, ratio: float, data: Any
) -> None:
    """Soft evidence r on a node equals a present finding with P(on)/P(off) = r below it."""
    document, evidence = case
    key = data.draw(st.sampled_from([entry["id"] for entry in document["nodes"]]))
    evidence.pop(key, None)
    assume(ratio >= 1.0)
    leak = 0.5 / ratio
    extra = {
        "id": "reading",
        "kind": "finding",
        "leak": leak,
        "parents": [{"id": key, "strength": (0.5 - leak) / (1.0 - leak)}],
    }

    as_ratio = solve(document, {**evidence, key: ratio})
    as_finding = solve({"nodes": [*document["nodes"], extra]}, {**evidence, "reading": True})

    assert dict(as_finding.causes) == pytest.approx(dict(as_ratio.causes), rel=1e-12, abs=0.0)
