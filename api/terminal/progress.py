"""How far a command is, on standard error, and what is said when somebody stops it.

The one idea: a command that takes over a second says how far it is, k of n, and one that takes
less says nothing. On a screen the line stays in its place and is wiped at the end; in a pipe it
is a plain line now and then. What a command has done when it is stopped is known to the command
alone, so it says so in a sentence of its own (`unfinished`).
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final, TextIO

__all__ = ["QUIET", "Progress", "StoppedError", "unfinished"]

#: Seconds in which a command says nothing, and between two lines: on a screen, in a pipe.
QUIET: Final = (1.0, 5.0)
_PAUSE: Final = (0.1, 10.0)


class Progress:
    """Says how far each part of a command is; use it with `with`, so that its line is wiped.

    Parameters
    ----------
    file : text stream, optional
        Standard error where none is given.
    clock : seconds, optional

    Examples
    --------
    >>> times = iter([0.0, 0.5, 6.0])
    >>> import sys
    >>> with Progress(sys.stdout, clock=lambda: next(times)) as told:
    ...     told("rows", 1, 4)
    ...     told("rows", 2, 4)
    drypark: rows, 2 of 4, about 6 s left
    """

    def __init__(
        self, file: TextIO | None = None, *, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._file = file or sys.stderr
        self._piped = not self._file.isatty()
        self._clock = clock
        self._began = self._started = clock()
        self._next = self._began + QUIET[self._piped]
        self._part = ""
        self._shown = 0  # characters that stand on the screen

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_: object) -> None:
        self.wipe()

    def __call__(self, what: str, done: int, of: int) -> None:
        """Say that so many of a part are done; nothing where it is too early to say it again."""
        now = self._clock()
        if what != self._part:
            self._part, self._started = what, now if self._part else self._began
        if now < self._next:
            return
        self._next = now + _PAUSE[self._piped]
        text = f"drypark: {what}, {done} of {of}{self._left(now, done, of)}"
        if self._piped:
            self._file.write(f"{text}\n")
        else:
            self._file.write(f"\r{text:<{self._shown}}")
            self._shown = len(text)
        self._file.flush()

    def _left(self, now: float, done: int, of: int) -> str:
        """Return how long this part will still take, as long as it is worth saying."""
        seconds = (of - done) * (now - self._started) / done if done > 0 else 0.0
        if seconds < 1.0:
            return ""
        minutes = round(seconds / 60)
        return f", about {minutes} min left" if seconds >= 90 else f", about {seconds:.0f} s left"

    def wipe(self) -> None:
        """Leave an empty line on the screen, for what is written next."""
        if self._shown:
            self._file.write(f"\r{'':<{self._shown}}\r")
            self._file.flush()
            self._shown = 0


class StoppedError(Exception):
    """Somebody stopped the command; the message says what was done and what was not."""


@contextmanager
def unfinished(left: str | Callable[[], str]) -> Iterator[None]:
    """Say what was and what was not done, if the work inside is stopped.

    Parameters
    ----------
    left : the sentence, or what makes it at that moment

    Raises
    ------
    StoppedError
        When it is stopped.
    """
    try:
        yield
    except StoppedError:
        raise  # whoever stood nearer has said it
    except KeyboardInterrupt:
        raise StoppedError(left if isinstance(left, str) else left()) from None
