"""Work in the background that lets others go first.

The one idea: whoever makes something that nobody waits for says so once, around all of it. Its
sweeps are then done one after the other in its own thread, not in those that are shared, and
before each one it asks whether to go on: so what somebody waits for is held up by one sweep at
the most, and what is not wanted any more ends there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["courteous", "let_go_first"]

_ASKED: ContextVar[Callable[[], None] | None] = ContextVar("let_go_first", default=None)


@contextmanager
def courteous(ask: Callable[[], None]) -> Iterator[None]:
    """Do what is inside in the background.

    Parameters
    ----------
    ask : called before each sweep; returns when it may go on, raises where it shall end

    Examples
    --------
    >>> with courteous(lambda: print("after you")):
    ...     let_go_first()()
    after you
    >>> let_go_first() is None
    True
    """
    token = _ASKED.set(ask)
    try:
        yield
    finally:
        _ASKED.reset(token)


def let_go_first() -> Callable[[], None] | None:
    """Return what is asked before each sweep; nothing where this thread is in no background."""
    return _ASKED.get()
