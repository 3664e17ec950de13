"""An order that was made better turn by turn.

The yardstick is a plain count over sets, written here and sharing nothing with the bits and trees
of the engine; orders of small graphs are compared with the best of all permutations. The
graph on which no order is any good is from the theory of tree width: a grid of n by n has tree
width n (Bodlaender, Theoretical Computer Science 209, 1998; from memory).
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from triage.arrays import Bits
from triage.turning import turn

Graph = dict[int, set[int]]


def _bits(graph: Graph) -> Bits:
    """Return the graph as rows of bits."""
    rows = np.zeros((len(graph), (len(graph) + 63) // 64), np.uint64)
    for axis, others in graph.items():
        for other in others:
            rows[axis, other // 64] |= np.uint64(1) << np.uint64(other % 64)
    return rows


def _scopes(graph: Graph, order: list[int]) -> list[set[int]]:
    """Return what each step's message ranges over, by eliminating as it is written in a book."""
    left = {axis: set(others) for axis, others in graph.items()}
    scopes = []
    for axis in order:
        around = left.pop(axis)
        for other in around:
            left[other] |= around
            left[other] -= {axis, other}
        scopes.append(around)
    return scopes


def _work(graph: Graph, order: list[int]) -> float:
    """Return the work on a graph without collectors: every join costs its table three times."""
    scopes = _scopes(graph, order)
    place = {axis: step for step, axis in enumerate(order)}
    total = 0.0
    for step, scope in enumerate(scopes):
        joined = [
            one for one in scopes[:step] if len(one) > 1 and min(place[a] for a in one) == step
        ]
        total += 2.0 ** (len(scope) + 1) * (1.0 + 3.0 * len(joined))
    return total


def _random(seed: int, axes: int, links: int) -> Graph:
    """Return a connected graph."""
    rng = np.random.default_rng(seed)
    graph: Graph = {axis: set() for axis in range(axes)}
    pairs = [(axis, int(rng.integers(axis))) for axis in range(1, axes)]
    pairs += [tuple(rng.choice(axes, 2, replace=False).tolist()) for _ in range(links)]
    for a, b in pairs:
        graph[a].add(b)
        graph[b].add(a)
    return graph


def _turned(graph: Graph, turns: int, collectors: int = 0) -> list[int]:
    """Return the order that is found from the one in which the axes are numbered."""
    order = np.arange(len(graph))
    rows = _bits(graph)
    marks = np.zeros(rows.shape[1], np.uint64)
    marks[0] = collectors
    turn(rows, marks, order, turns)
    return order.tolist()


@pytest.mark.parametrize("seed", range(12))
def test_small_graphs_get_the_best_of_all_orders(seed: int) -> None:
    """With seven axes every order can be tried; annealing finds one that is as good."""
    graph = _random(seed, 7, 8)
    best = min(_work(graph, list(order)) for order in permutations(graph))
    assert _work(graph, _turned(graph, 200_000)) == best


@pytest.mark.parametrize("axes", [40, 64, 65, 150])
def test_an_order_never_gets_worse(axes: int) -> None:
    """Whatever is tried on the way, the best is kept; words of 64 axes make no difference."""
    graph = _random(axes, axes, axes // 2)
    before = _work(graph, list(range(axes)))
    few, many = (_work(graph, _turned(graph, turns)) for turns in (300, 30_000))
    assert many <= before
    assert few <= before
    assert many < before / 100.0


def test_every_axis_stays_in_the_order_once() -> None:
    """A tree that was turned is written out whole, also where it is several trees."""
    graph = _random(5, 30, 20)
    graph |= {axis + 30: {other + 30 for other in others} for axis, others in graph.items()}
    graph[60] = set()
    assert sorted(_turned(graph, 5_000)) == list(range(61))


def test_a_grid_is_eliminated_as_narrowly_as_it_can_be() -> None:
    """Six by six axes in a grid, the worst first: no order is narrower than six."""
    size = 6
    graph: Graph = {axis: set() for axis in range(size * size)}
    for axis in graph:
        for other in (axis + 1 if axis % size < size - 1 else -1, axis + size):
            if other in graph:
                graph[axis].add(other)
                graph[other].add(axis)
    shuffled = np.random.default_rng(1).permutation(size * size).tolist()
    mixed = {shuffled[axis]: {shuffled[other] for other in graph[axis]} for axis in graph}
    graph = {axis: mixed[axis] for axis in range(size * size)}
    before = max(len(scope) for scope in _scopes(graph, list(graph)))
    after = max(len(scope) for scope in _scopes(graph, _turned(graph, 200_000)))
    assert (before > size, after) == (True, size)


def test_no_turns_leave_an_order_that_costs_the_same() -> None:
    """Writing the tree out again may put branches in another order, which changes no table."""
    graph = _random(3, 25, 20)
    assert _work(graph, _turned(graph, 0)) == _work(graph, list(range(25)))


def test_collectors_weigh_more_than_values() -> None:
    """A collector that both sides have filled costs half as much again: other orders are found."""
    found = [
        _turned(_random(seed, 12, 14), 20_000, collectors) != _turned(_random(seed, 12, 14), 20_000)
        for seed in range(6)
        for collectors in (0b111111, 0b111111000000)
    ]
    assert sum(found) > len(found) / 2
