"""Mixtures without end are not begun, and sweeps shared out come back in order."""

from __future__ import annotations

import numpy as np
import pytest

from tests.oracles.cases import LARGE_CASES, large_case
from triage import compiling
from triage.compiling import compile_case
from triage.model import Network, Node, Parent
from triage.what_if import affordable, views


def _ladder(rungs: int) -> Network:
    """Return a finding beside a ladder of states in which the ways double at every rung."""
    nodes = [Node("c0", "cause", 0.1), Node("c1", "cause", 0.1)]
    nodes.append(Node("seen", "finding", 0.01, (Parent("c0", 0.5),)))
    low, high = "c0", "c1"
    for rung in range(rungs):
        pair = (Parent(low, 0.5), Parent(high, 0.4))
        nodes += [Node(f"a{rung}", "state", 0.01, pair), Node(f"b{rung}", "state", 0.02, pair)]
        low, high = f"a{rung}", f"b{rung}"
    return Network(nodes)


@pytest.mark.parametrize("rungs", [12, 40, 200])
def test_a_node_at_the_end_of_a_long_ladder_is_not_affordable(rungs: int) -> None:
    """The count stops at the limit, however many terms there would be."""
    compiled = compile_case(_ladder(rungs), {"seen": True})
    assert not affordable(compiled, [f"a{rungs - 1}"], 50)


@pytest.mark.parametrize("most", [1, 2, 3, 5, 8, 13, 21])
def test_what_is_affordable_takes_no_more_terms_than_said(most: int) -> None:
    """Against the ladder's own count of terms, found by raising the limit one by one."""
    compiled = compile_case(_ladder(2), {"seen": True})
    needed = next(k for k in range(1000) if affordable(compiled, ["a1"], k))
    assert affordable(compiled, ["a1"], most) is (most >= needed)
    assert needed > 1


def test_a_node_in_the_tables_takes_one_sweep_each() -> None:
    """Two of them are affordable with two and not with one."""
    compiled = compile_case(_ladder(3), {"seen": True, "a2": True})
    assert affordable(compiled, ["c0", "c1"], 2)
    assert not affordable(compiled, ["c0", "c1"], 1)


def test_a_short_ladder_is_affordable_and_its_view_is_a_chance() -> None:
    """What may be begun also ends."""
    compiled = compile_case(_ladder(2), {"seen": True})
    log, chance, _ = compiled.as_it_stands
    assert affordable(compiled, ["a1"], 100)
    assert 0.0 < views(compiled, chance, log, ["a1"])["a1"].probability_on < 1.0


@pytest.mark.parametrize("name", LARGE_CASES[:6])
def test_sweeps_shared_out_are_those_of_one_thread(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each lane has its own answer, bit for bit, whichever thread made it."""
    document, evidence = large_case(name)
    compiled = compile_case(Network.from_document(document), evidence)
    unary, gate = compiled.lanes(7)
    for lane in range(7):
        unary[lane % unary.shape[0], 1, lane] *= 0.5
    alone = compiled.evaluate(unary, gate)
    monkeypatch.setattr(compiling, "_WORTH_A_THREAD", 0.0)
    together = compiled.evaluate(unary, gate)
    assert len({tuple(column) for column in alone[1].T.round(12).tolist()}) > 1
    for one, other in zip(alone, together, strict=True):
        assert np.array_equal(one, other, equal_nan=True)
