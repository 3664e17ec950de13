"""Children of a step are joined in an order of least work: against every permutation."""

from __future__ import annotations

from itertools import permutations

import pytest

from tests.oracles.cases import LARGE_CASES, large_case
from triage.compiling import Compiled, compile_case
from triage.folding import VALUE
from triage.model import Network
from triage.tables import COLLECTING, EMPTY, GATED


def _wide_children(compiled: Compiled, step: int) -> list[int]:
    """Return the children of a step whose messages have more than one axis, in order."""
    plan = compiled.plan
    children = plan.child[plan.child_start[step] : plan.child_start[step + 1]]
    return [int(c) for c in children if plan.start[c + 1] - plan.start[c] > 1]


def _price(compiled: Compiled, step: int, order: tuple[int, ...]) -> float:
    """Return the products of joining in this order, from the roles of the axes one by one."""
    plan = compiled.plan
    axis = int(plan.sequence[step])
    role = {int(a): EMPTY for a in plan.scope[plan.start[step] : plan.start[step + 1]]}
    role[axis] = EMPTY
    for c in plan.child[plan.child_start[step] : plan.child_start[step + 1]]:
        if plan.start[c + 1] - plan.start[c] == 1 and plan.sort[axis] != VALUE:
            role[axis] = max(role[axis], int(plan.role[plan.start[c]]), COLLECTING)
    total = 0.0
    for child in order:
        brought = {
            int(plan.scope[i]): int(plan.role[i])
            for i in range(plan.start[child], plan.start[child + 1])
        }
        products = packed = 1.0
        for a, r in role.items():
            filled = plan.sort[a] == VALUE or r != EMPTY
            if a in brought and plan.sort[a] != VALUE and r != EMPTY:
                products *= 4.0 if brought[a] == GATED else 3.0
                packed *= 2.0
            elif a in brought or filled:
                products *= 2.0
                packed *= 2.0
        total += products + 4.0 * packed
        for a, r in brought.items():
            if plan.sort[a] != VALUE and role[a] != GATED:
                role[a] = GATED if r == GATED else COLLECTING
    return total


def _steps(name: str) -> list[tuple[Compiled, int, list[int]]]:
    """Return the steps of a random case that leave a choice and can be tried through."""
    document, evidence = large_case(name)
    compiled = compile_case(Network.from_document(document), evidence)
    found = [(s, _wide_children(compiled, s)) for s in range(compiled.plan.sequence.size)]
    return [(compiled, s, children) for s, children in found if 2 <= len(children) <= 6]


@pytest.mark.parametrize("name", LARGE_CASES)
def test_no_other_order_of_the_children_is_cheaper(name: str) -> None:
    """Every permutation of a step's children costs at least what the chosen order costs."""
    for compiled, step, children in _steps(name):
        chosen = _price(compiled, step, tuple(children))
        best = min(_price(compiled, step, order) for order in permutations(children))
        assert chosen == pytest.approx(best, rel=1e-12)


def test_the_sweep_over_orders_has_something_to_choose() -> None:
    """Partner of the test above: there are steps, and the order matters in some of them."""
    steps = [one for name in LARGE_CASES for one in _steps(name)]
    spread = [
        len({_price(compiled, step, order) for order in permutations(children)}) > 1
        for compiled, step, children in steps
    ]
    assert len(steps) >= 20
    assert sum(spread) >= 10
