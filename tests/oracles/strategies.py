"""hypothesis strategies for small networks and evidence, and settings that repeat exactly."""

from __future__ import annotations

from typing import Any

from hypothesis import settings
from hypothesis import strategies as st

from tests.oracles.random_networks import Statements

__all__ = ["cases", "networks", "numbers", "ratios", "steady"]

# the same examples on every run and no files left behind: a test run is reproducible
steady = settings(max_examples=60, deadline=None, derandomize=True, database=None)

# no number so small that the product of a whole network would underflow
numbers = st.one_of(st.floats(0.01, 0.99), st.sampled_from([0.0, 1.0, 1e-9, 1e-4, 0.5, 1.0 - 1e-9]))
inner_numbers = st.one_of(st.floats(0.01, 0.99), st.sampled_from([1e-9, 1e-4, 0.5, 1.0 - 1e-9]))
ratios = st.one_of(st.floats(0.01, 100.0), st.sampled_from([1e-6, 1.0, 1e6]))


@st.composite
def networks(draw: st.DrawFn, *, sure: bool = True) -> dict[str, Any]:
    """Draw a document of 2 to 9 nodes of any kinds, linked from earlier to later.

    With `sure` false no prior, leak or strength is 0 or 1, so that no evidence is impossible.
    """
    number = numbers if sure else inner_numbers
    kinds = draw(st.lists(st.sampled_from(["cause", "state", "finding"]), min_size=1, max_size=8))
    nodes: list[dict[str, Any]] = []
    for index, kind in enumerate(["cause", *sorted(kinds)]):
        earlier = [entry["id"] for entry in nodes]
        parents = draw(
            st.lists(st.sampled_from(earlier), unique=True, max_size=3) if nodes else st.just([])
        )
        nodes.append(
            {
                "id": f"{kind}-{index}",
                "kind": kind,
                "prior" if kind == "cause" else "leak": draw(number),
                "parents": [{"id": key, "strength": draw(number)} for key in parents],
            }
        )
    return {"nodes": nodes}


@st.composite
def cases(draw: st.DrawFn) -> tuple[dict[str, Any], Statements]:
    """Draw a network in which everything is possible, and evidence on some of its nodes."""
    document = draw(networks(sure=False))
    keys = [entry["id"] for entry in document["nodes"]]
    evidence = draw(st.dictionaries(st.sampled_from(keys), st.one_of(st.booleans(), ratios)))
    return document, evidence
