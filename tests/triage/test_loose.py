"""Causes that nothing seen depends on equal enumeration, however they are worked out.

A product where their parents are apart, tables where those hang together.
"""

from __future__ import annotations

import random

import pytest

from tests.builders import cause, finding, network_document
from tests.oracles.enumeration import enumerate_in_doubles
from triage import exact
from triage.compiling import prepare_case
from triage.exact import posterior
from triage.loose import chances_apart, loose_causes
from triage.model import Network

#: `apart` hangs from two findings' causes that have nothing to do with each other, `free` from a
#: root that nothing touches, `deep` from both of them; `tied` hangs from two causes of one finding,
#: `under` from it.
DOCUMENT = network_document(
    cause("a", 0.1),
    cause("b", 0.2),
    cause("c", 1e-7),
    cause("d", 0.3),
    finding("hum", 0.01, a=0.6, b=0.5),
    finding("lamp", 0.02, c=0.7),
    cause("apart", 1e-9, a=0.4, c=0.9),
    cause("free", 0.001, d=0.2),
    cause("deep", 0.0, free=0.5, b=0.3),
    cause("tied", 0.01, a=0.5, b=0.5),
    cause("under", 0.02, tied=0.8),
    cause("none", 0.05, a=0.0, b=0.0),
)
EVIDENCE = {"hum": True, "lamp": True}


def _rows(network: Network, *keys: str) -> set[int]:
    """Return the rows of some nodes."""
    return {network.arrays.index[key] for key in keys}


def test_only_causes_with_parents_outside_the_tables_are_loose() -> None:
    """Roots that nothing touches are not, nor is anything the evidence reaches."""
    network = Network.from_document(DOCUMENT)

    found = loose_causes(prepare_case(network, EVIDENCE))

    assert set(found) == _rows(network, "apart", "free", "deep", "tied", "under", "none")
    assert found == sorted(found)


def test_parents_in_one_part_of_the_case_are_not_apart() -> None:
    """A finding seen present ties its causes together; what hangs from both is no product."""
    network = Network.from_document(DOCUMENT)
    compiled = prepare_case(network, EVIDENCE)

    apart = chances_apart(compiled, loose_causes(compiled))

    assert set(apart) == _rows(network, "apart", "free", "deep", "none")


@pytest.mark.parametrize("evidence", [EVIDENCE, {"hum": True}, {"hum": False, "lamp": 3.0}, {}])
@pytest.mark.parametrize("cheap", [exact._CHEAP, -1.0])
def test_loose_causes_equal_enumeration(
    evidence: dict[str, bool | float], cheap: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Kept in the tables or worked out one by one: small chances keep their digits too."""
    monkeypatch.setattr(exact, "_CHEAP", cheap)
    monkeypatch.setattr(exact, "_DEARER", 3.0 if cheap > 0.0 else 0.0)
    network = Network.from_document(DOCUMENT)
    expected = enumerate_in_doubles(DOCUMENT, evidence)

    got = posterior(network, evidence)

    assert dict(got.causes) == pytest.approx(
        {key: expected.on[key] for key in network.causes}, rel=1e-12, abs=0.0
    )
    assert got.log_evidence == pytest.approx(expected.log_evidence, abs=1e-12)


def test_a_parent_seen_present_hangs_together_with_nothing() -> None:
    """Once it is known which of two causes is there, what hangs from both is a product."""
    network = Network.from_document(DOCUMENT)
    compiled = prepare_case(network, {**EVIDENCE, "a": True})

    apart = chances_apart(compiled, loose_causes(compiled), compiled.as_it_stands[1])

    row = network.arrays.index["tied"]
    expected = enumerate_in_doubles(DOCUMENT, {**EVIDENCE, "a": True}).on["tied"]
    assert apart[row] == pytest.approx(expected, rel=1e-12)


def test_what_is_kept_for_one_cause_can_tie_the_parents_of_another() -> None:
    """Two causes of two parents that are apart, and a third below one of them and a parent.

    The third is worked out in the tables, and with it there both parents of the second are in one
    part of the case: its chance is no product of what stands apart any more.
    """
    document = network_document(
        cause("a", 0.5),
        cause("b", 0.5),
        cause("first", 0.5, a=0.5, b=0.5),
        cause("second", 0.5, a=0.5, b=0.5),
        cause("third", 0.5, a=0.5, first=0.5),
    )

    answer = posterior(Network.from_document(document), {})

    expected = enumerate_in_doubles(document, {})
    assert dict(answer.causes) == pytest.approx(expected.on, rel=1e-13, abs=0.0)
    assert answer.causes["second"] == 0.71875


@pytest.mark.parametrize("number", range(120))
def test_deep_causes_of_which_nothing_is_seen_equal_enumeration(number: int) -> None:
    """Seven causes below each other at random, and at most one thing seen."""
    draw = random.Random(number)
    rows = [cause("c0", 0.3), cause("c1", 0.2)]
    for k in range(2, 7):
        above = draw.sample(range(k), draw.randint(1, min(3, k)))
        rows.append(cause(f"c{k}", 0.05, **{f"c{up}": draw.uniform(0.1, 0.9) for up in above}))
    rows.append(finding("f", 0.01, c1=0.5, c2=0.6))
    document = network_document(*rows)
    evidence = {"f": True} if number % 2 else {}

    answer = posterior(Network.from_document(document), evidence)

    expected = enumerate_in_doubles(document, evidence)
    on = {key: expected.on[key] for key in answer.causes}
    assert dict(answer.causes) == pytest.approx(on, rel=1e-12, abs=0.0)
