"""Work in the background asks before every sweep, gives the same numbers, and can be ended."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from triage.courtesy import courteous, let_go_first
from triage.exact import Standing, stand
from triage.firmness import firmness
from triage.model import Network, Node, Parent


@pytest.fixture
def state() -> Standing:
    """Return a small case: two causes of one noise, which was heard."""
    heard = Node("hum", "finding", 0.01, (Parent("play", 0.5), Parent("tyre", 0.3)))
    network = Network([Node("play", "cause", 0.1), Node("tyre", "cause", 0.2), heard])
    return stand(network, {"hum": True})


def test_before_every_sweep_it_is_asked_and_the_numbers_are_the_same(state: Standing) -> None:
    """Somebody who waits for a list is held up by one sweep at the most."""
    asked: list[str] = []
    usual = firmness(state, state.q, runs=range(20))

    with courteous(lambda: asked.append(threading.current_thread().name)):
        told = firmness(state, state.q, runs=range(20))

    assert asked == [threading.current_thread().name] * 20
    assert np.array_equal(told.samples, usual.samples)


def test_what_is_raised_ends_the_work_there(state: Standing) -> None:
    """Nothing goes on for somebody who has left."""
    left = iter(range(5))

    def ask() -> None:
        if next(left, None) is None:
            raise InterruptedError("nobody waits")

    with courteous(ask), pytest.raises(InterruptedError, match="nobody waits"):
        firmness(state, state.q, runs=range(20))

    assert let_go_first() is None


def test_other_threads_are_not_in_the_background() -> None:
    """A list that is made meanwhile asks nobody."""
    with courteous(lambda: None), ThreadPoolExecutor(1) as pool:
        assert let_go_first() is not None
        assert pool.submit(let_go_first).result() is None
