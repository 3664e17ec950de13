"""Which links acted, and who has a part in the complaint, against every world."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.oracles.worlds import every_world
from triage.acting import draw_links, leading
from triage.exact import stand
from triage.model import Network
from triage.responsibility import inhibited_ratio, responsibility
from triage.sampling import draw_states

COUNT = 4000
DOCUMENT = {
    "nodes": [
        {"id": "a", "kind": "cause", "prior": 0.2},
        {"id": "b", "kind": "cause", "prior": 0.3},
        {"id": "c", "kind": "cause", "prior": 0.1, "parents": [{"id": "a", "strength": 0.4}]},
        {"id": "s", "kind": "state", "leak": 0.05,
         "parents": [{"id": "a", "strength": 0.7}, {"id": "b", "strength": 0.5}]},
        {"id": "t", "kind": "state", "leak": 0.02, "parents": [{"id": "c", "strength": 0.8}]},
        {"id": "f", "kind": "finding", "leak": 0.03,
         "parents": [{"id": "s", "strength": 0.6}, {"id": "t", "strength": 0.9}]},
        {"id": "g", "kind": "finding", "leak": 0.1,
         "parents": [{"id": "b", "strength": 0.3}, {"id": "t", "strength": 0.5}]},
    ]
}  # fmt: skip
CASES: dict[str, dict[str, bool | float]] = {
    "one": {"f": True},
    "both": {"f": True, "g": True},
    "one-absent": {"f": True, "g": False},
    "state-seen": {"g": True, "s": True},
    "weighed": {"f": True, "a": 4.0, "t": 0.3},
}
CAUSES = ("a", "b", "c")


def _close(drawn: float, exact: float) -> bool:
    """Whether a share of COUNT draws fits the exact chance at five standard errors."""
    return abs(drawn - exact) <= 5.0 * math.sqrt(max(exact * (1.0 - exact), 1e-3) / COUNT)


@pytest.mark.parametrize("name", CASES)
def test_parts_are_as_frequent_as_in_all_worlds(name: str) -> None:
    """Every world is added up: nothing of the drawing is shared with it."""
    evidence = CASES[name]
    ends = [key for key, value in evidence.items() if value is True]
    compiled = stand(Network.from_document(DOCUMENT), evidence).compiled
    worlds = every_world(DOCUMENT, evidence)
    index = compiled.network.arrays.index
    states = draw_states(compiled, COUNT)
    acted = draw_links(compiled, states)

    part = leading(compiled, acted, states, [index[key] for key in ends])

    exact = {key: worlds.leads(key, ends, CAUSES) for key in CAUSES}
    for key in CAUSES:
        assert _close(float(part[:, index[key]].mean()), worlds.chance(exact[key])), key
    alone = part[:, index["a"]] & ~part[:, index["b"]] & ~part[:, index["c"]]
    assert _close(float(alone.mean()), worlds.chance(exact["a"] & ~exact["b"] & ~exact["c"]))


def test_five_cases_were_tried() -> None:
    """Partner of the sweep."""
    assert len(CASES) == 5


def test_the_closed_form_is_an_upper_bound_of_having_a_part() -> None:
    """It asks for the first link alone; through states the chain may end before the finding."""
    evidence = CASES["both"]
    state = stand(Network.from_document(DOCUMENT), evidence)
    rho = inhibited_ratio(state.compiled, state.rows, 1.0 - state.q)
    first_link = dict(zip(CAUSES, responsibility(state.q, rho), strict=True))
    worlds = every_world(DOCUMENT, evidence)

    for key in CAUSES:
        assert worlds.chance(worlds.leads(key, ["f", "g"], CAUSES)) <= first_link[key] + 1e-12


def test_a_link_acts_only_from_a_parent_that_is_on_into_a_child_that_is_on() -> None:
    """Otherwise a story would be told that did not happen."""
    compiled = stand(Network.from_document(DOCUMENT), CASES["both"]).compiled
    states = draw_states(compiled, 300)
    acted = draw_links(compiled, states)
    arrays = compiled.network.arrays
    child = np.repeat(np.arange(arrays.base.size), np.diff(arrays.pointer))

    assert acted.any()
    assert not (acted & ~states[:, arrays.parents]).any()
    assert not (acted & ~states[:, child]).any()
