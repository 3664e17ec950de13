"""A case written out as a circuit says what sweeps over tables say, and what enumeration says.

Narrow cases go through the circuit, wide ones through the sweeps, so that most tests of the
engine see only one of the two. Here both see the same cases.
"""

from __future__ import annotations

import numpy as np
import pytest

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
from tests.oracles.documents import Document, Evidence
from tests.oracles.enumeration import enumerate_in_doubles, enumerate_in_integers
from triage import compiling
from triage.compiling import Compiled, compile_case
from triage.errors import ImpossibleEvidenceError
from triage.exact import posterior, stand
from triage.model import Network, Node, Parent
from triage.responsibility import inhibited_ratio


def _drawn(name: str) -> tuple[Document, Evidence]:
    """Return one of the swept cases, by name."""
    kinds = {"large": large_case, "wide": wide_case, "widest": wide_case}
    return kinds.get(name.split("/", maxsplit=1)[0].split("-")[0], small_case)(name)


def _both(network: Network, evidence: Evidence) -> tuple[Compiled, Compiled]:
    """Return one case twice: as a circuit, and with the circuit taken from it."""
    first, second = compile_case(network, evidence), compile_case(network, evidence)
    second.__dict__["circuit"] = None
    return first, second


@pytest.mark.parametrize("name", [*SMALL_CASES[::3], *CANCELLATION_CASES])
def test_sweeps_alone_equal_enumeration(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tables hold without the circuit, on rare causes and cancelling terms too."""
    cancels = name in CANCELLATION_CASES
    document, evidence = cancellation_case(name) if cancels else small_case(name)
    exact = enumerate_in_integers if cancels else enumerate_in_doubles
    expected = exact(document, evidence)
    network = Network.from_document(document)
    monkeypatch.setattr(compiling, "NARROW", -1.0)

    if not expected.is_possible:
        with pytest.raises(ImpossibleEvidenceError, match="cannot"):
            posterior(network, evidence)
        return
    got = posterior(network, evidence)

    assert dict(got.causes) == pytest.approx(
        {key: expected.on[key] for key in network.causes}, rel=1e-12, abs=0.0
    )
    assert got.log_evidence == pytest.approx(expected.log_evidence, rel=1e-15, abs=1e-12)


@pytest.mark.parametrize("name", [*SMALL_CASES[::4], *LARGE_CASES, *WIDE_CASES[:4]])
def test_a_circuit_says_what_sweeps_say(name: str) -> None:
    """Log evidence, every marginal, and how far causes with parents are causes by themselves."""
    document, evidence = _drawn(name)
    circuit, sweeps = _both(Network.from_document(document), evidence)
    if not np.isfinite(sweeps.now[0]):
        assert not np.isfinite(circuit.now[0])
        return

    for got, expected in zip(circuit.now, sweeps.now, strict=True):
        assert got == pytest.approx(expected, rel=1e-12, abs=1e-300, nan_ok=True)


def test_the_swept_cases_are_circuits_of_one_part_and_of_several() -> None:
    """The comparison sees what it is there for, responsibilities inside the tables included."""
    parts, inner = [], 0
    for name in [*SMALL_CASES[::4], *LARGE_CASES, *WIDE_CASES[:4]]:
        document, evidence = _drawn(name)
        compiled = compile_case(Network.from_document(document), evidence)
        if compiled.circuit is not None:
            parts.append(compiled.circuit.root.size)
            inner += int((~np.isnan(compiled.now[2])).sum())
    assert len(parts) >= 80
    assert sum(count == 1 for count in parts) >= 10
    assert sum(count >= 2 for count in parts) >= 10
    assert inner >= 50


@pytest.mark.parametrize("name", LARGE_CASES[::2])
def test_lanes_of_a_circuit_say_what_sweeps_say(name: str) -> None:
    """Nodes clamped either way, soft evidence added, gates opened: more lanes than one block."""
    document, evidence = _drawn(name)
    circuit, sweeps = _both(Network.from_document(document), evidence)
    axes = circuit.folded.value_axis[circuit.folded.value_axis >= 0]
    gates = np.flatnonzero(circuit.folded.axis_sort != 0)
    unary, gate = circuit.lanes(19)
    for lane in range(19):
        if lane % 4 == 3 and gates.size:
            gate[gates[lane % gates.size], :, 0, lane] = 1.0
        else:
            unary[axes[lane % axes.size], lane % 2, lane] *= 0.0 if lane % 3 else 0.3

    logs, chance = circuit.evaluate(unary, gate)
    expected_logs, expected = sweeps.evaluate(unary, gate)

    live = np.isfinite(expected_logs)
    assert np.array_equal(np.isneginf(logs), np.isneginf(expected_logs))
    assert logs[live] == pytest.approx(expected_logs[live], rel=1e-12, abs=1e-12)
    assert chance[:, live] == pytest.approx(expected[:, live], rel=1e-12, nan_ok=True)
    assert circuit.log_evidence(unary, gate)[live] == pytest.approx(expected_logs[live], abs=1e-12)


def test_numbers_too_small_for_a_circuit_are_left_to_sweeps() -> None:
    """Forty findings that are all but impossible: 1e-400 is no double, its log is."""
    causes = [Node(f"c{i}", "cause", 1e-10) for i in range(2)]
    links = tuple(Parent(cause.id, 1e-10) for cause in causes)
    network = Network([*causes, *(Node(f"f{i}", "finding", 1e-10, links) for i in range(40))])
    evidence = {f"f{i}": True for i in range(40)}

    got = posterior(network, evidence)

    # by hand: with k causes on each finding has chance 1e-10 (1 + k), with k off the prior decides
    weights = [(1.0 - 1e-10) ** 2, 2e-10 * 2.0**40, 1e-20 * 3.0**40]
    assert got.log_evidence == pytest.approx(40 * np.log(1e-10) + np.log(sum(weights)), rel=1e-9)
    expected = (0.5 * weights[1] + weights[2]) / sum(weights)
    assert got.causes["c0"] == pytest.approx(expected, rel=1e-7)  # 1 + k is k up to 1e-10


def test_a_circuit_without_room_is_left_to_sweeps(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was predicted too low is no answer cut short."""
    document, evidence = large_case(LARGE_CASES[0])
    network = Network.from_document(document)
    expected = posterior(network, evidence)
    monkeypatch.setattr(compiling, "_OPERATIONS", -8.0)
    cut = compile_case(network, evidence)

    assert cut.circuit is None
    assert dict(posterior(network, evidence).causes) == pytest.approx(
        dict(expected.causes), rel=1e-12
    )


@pytest.mark.parametrize("name", SMALL_CASES[2::24])
def test_responsibility_is_the_same_from_a_circuit(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The ratio that responsibility is made of, of every cause of the network."""
    document, evidence = small_case(name)
    network = Network.from_document(document)

    def ratios() -> tuple[np.ndarray, np.ndarray]:
        state = stand(network, evidence)
        return state.q, inhibited_ratio(state.compiled, state.rows, 1.0 - state.q)

    got = ratios()
    monkeypatch.setattr(compiling, "NARROW", -1.0)
    expected = ratios()

    assert got[0] == pytest.approx(expected[0], rel=1e-12)
    assert got[1] == pytest.approx(expected[1], rel=1e-9)


def test_what_the_evidence_does_not_touch_costs_nothing() -> None:
    """A thousand strangers do not change which nodes are looked at, nor the answer."""
    near = [Node("play", "cause", 0.1), Node("hum", "finding", 0.0, (Parent("play", 0.5),))]
    far = [Node(f"c{i}", "cause", 0.2) for i in range(1000)]
    far += [Node(f"s{i}", "state", 0.1, (Parent(f"c{i}", 0.5),)) for i in range(1000)]
    network = Network([*far, *near])

    compiled = compile_case(network, {"hum": False})
    got = posterior(network, {"hum": False})

    assert [list(network.nodes)[row] for row in compiled.local.nodes] == ["play", "hum"]
    assert got.causes["play"] == pytest.approx(0.05 / 0.95, rel=1e-15)
    assert got.causes["c7"] == 0.2
    assert len(got.causes) == len(list(got.causes)) == 1001
