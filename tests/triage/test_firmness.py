"""Firmness: what becomes of the answer when the numbers behind it are moved."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest

from tests.oracles.cases import SMALL_CASES, small_case
from triage.arrays import Floats
from triage.exact import Standing, stand
from triage.firmness import check_stays, firmness, share_range, top_stays
from triage.model import Network
from triage.responsibility import inhibited_ratio, responsibility
from triage.schedule import Shop, plan_checks

SHOP = Shop("su-a", {}, 1.0)


def _standing(name: str) -> tuple[Standing, Floats]:
    document, evidence = small_case(name)
    state = stand(Network.from_document(document), evidence)
    rho = inhibited_ratio(state.compiled, state.rows, 1.0 - state.q)
    return state, responsibility(state.q, rho)


@pytest.mark.parametrize("name", SMALL_CASES[::16])
def test_without_noise_every_run_gives_the_answer_itself(name: str) -> None:
    """Folding and sweeping again with the same numbers must change nothing."""
    state, r = _standing(name)

    firm = firmness(state, r, runs=range(2), width=0.0)

    known = ~np.isnan(firm.samples[0])
    assert known.any()
    assert firm.samples[0][known] == pytest.approx(state.q[known], abs=1e-12)
    assert firm.parts[0][known] == pytest.approx(r[known], abs=1e-9)
    assert top_stays(firm, np.where(known, r, 0.0)) == 1.0


def test_twelve_networks_were_tried() -> None:
    """Partner of the sweep."""
    assert len(SMALL_CASES[::16]) == 12


def test_more_noise_gives_a_wider_range() -> None:
    """The range is there to say how much the numbers matter."""
    state, r = _standing("three-layers/1")

    narrow, wide = (firmness(state, r, runs=range(40), width=w) for w in (0.1, 1.0))

    assert np.all(narrow.low <= state.q)
    assert np.all(state.q <= narrow.high)
    assert (wide.high - wide.low).sum() > (narrow.high - narrow.low).sum()


def test_a_clear_first_cause_stays_and_one_of_two_equals_does_not() -> None:
    """Two causes alike change places in about half of the runs; a lone one cannot."""

    def network(second: float) -> Network:
        return Network.from_document(
            {
                "nodes": [
                    {"id": "a", "kind": "cause", "prior": 0.1},
                    {"id": "b", "kind": "cause", "prior": second},
                    {"id": "f", "kind": "finding", "leak": 0.001,
                     "parents": [{"id": "a", "strength": 0.5}, {"id": "b", "strength": 0.5}]},
                ]
            }
        )  # fmt: skip

    shares = []
    for second in (0.1, 1e-4):
        state = stand(network(second), {"f": True})
        rho = inhibited_ratio(state.compiled, state.rows, 1.0 - state.q)
        r = responsibility(state.q, rho)
        shares.append(top_stays(firmness(state, r, runs=range(200)), r))

    assert 0.35 < shares[0] < 0.65  # half, four standard errors of 200 tosses
    assert shares[1] == 1.0


def test_the_next_check_stays_until_the_other_cause_weighs_more() -> None:
    """Two checks, one for each cause; in the second run what is at stake changes sides."""
    now = np.array([[10.0, 0.0], [0.0, 9.0]])
    minutes = np.array([5.0, 5.0])
    scale = np.array([[1.0, 1.0], [0.25, 2.0], [1.1, 0.9], [0.5, 2.0]])
    runs = [now * row for row in scale]

    def first(gain: Floats) -> str:
        return "ab"[plan_checks(gain, minutes, ["su-a", "su-a"], SHOP).steps[0].offer]

    assert "".join(first(gain) for gain in (now, *runs)) == "aabab"
    assert check_stays(first, "a", runs) == 0.5


@pytest.mark.parametrize("runs", [8, 30, 200])
def test_the_range_of_a_share_is_the_score_interval(runs: int) -> None:
    """Against scipy's Wilson interval without continuity correction."""
    for times in (0, 1, runs // 2, runs - 1, runs):
        wanted = binomtest(times, runs).proportion_ci(0.95, method="wilson")

        assert share_range(times / runs, runs) == pytest.approx((wanted.low, wanted.high), abs=1e-9)


def test_a_long_firmness_can_be_stopped_between_its_runs() -> None:
    """It pauses before every eight runs, and ends with what the pause raises."""
    state, r = _standing("three-layers/1")
    paused: list[int] = []

    def stop_at_third() -> None:
        paused.append(1)
        if len(paused) == 3:
            raise InterruptedError("something more urgent")

    with pytest.raises(InterruptedError, match="urgent"):
        firmness(state, r, runs=range(40), pause=stop_at_third)
    calls: list[int] = []
    firmness(state, r, runs=range(40), pause=lambda: calls.append(1))

    assert (len(paused), len(calls)) == (3, 5)
