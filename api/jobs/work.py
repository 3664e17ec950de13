"""One list being worked out: how far it is, and who can stop it.

The one idea: a sweep of the arithmetic can't be interrupted, so stopping means that nobody waits
for it any more at once, and that the work ends before its next step.
"""

from __future__ import annotations

import threading
import time
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Final

from api.documents import Answer
from api.problems import ProblemError

__all__ = ["STEPS", "AccountProgress", "Progress", "Work"]

#: What is counted; a step is done when the next one begins.
STEPS: Final = (
    "waiting for its turn",
    "working out the list",
    "looking at the gates",
    "keeping it",
)


@dataclass(frozen=True, slots=True)
class AccountProgress:
    """How far the account of a list is.

    Attributes
    ----------
    account : made, being-made or left-out
    done, of : parts
    doing : the present part, in words
    """

    account: str = "left-out"
    done: int = 0
    of: int = 0
    doing: str = ""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a list is, and its account after it.

    Attributes
    ----------
    done, of : steps
    doing : the present step, in words
    ahead : answers that are worked out before this one
    seconds : since it was asked for
    finished, cancelled : at most one of them
    """

    work: str
    done: int
    of: int
    doing: str
    ahead: int
    seconds: float
    finished: bool
    cancelled: bool
    account: AccountProgress = AccountProgress()


@dataclass(eq=False, slots=True)
class Work:
    """A list that somebody asked for.

    Attributes
    ----------
    id : key of the answer
    future : holds the answer, or what went wrong
    """

    id: str
    number: int
    future: Future[Answer] = field(default_factory=Future)
    step: int = 0
    cancelled: bool = False
    began: float = field(default_factory=time.monotonic)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def done(self) -> int:
        """Return how many steps are done."""
        return len(STEPS) if self.finished else self.step

    @property
    def of(self) -> int:
        """Return how many steps there are."""
        return len(STEPS)

    @property
    def finished(self) -> bool:
        """Return whether there is an answer, or an error in its place."""
        return self.future.done() and not self.future.cancelled()

    def cancel(self) -> None:
        """Stop waiting: everybody who waits is told so."""
        with self._lock:
            if not self.future.done():
                self.cancelled = True
                self.future.set_exception(
                    ProblemError(
                        409,
                        "making the list was stopped; what was written down is kept; ask for the "
                        "list again when you want it",
                        kind="stopped",
                    )
                )

    def go_on(self) -> None:
        """Do nothing, or end the work where it was stopped.

        Raises
        ------
        ProblemError
            If it was stopped; it goes to nobody, since whoever waited was told.
        """
        if self.cancelled:
            raise ProblemError(409, "making the list was stopped", kind="stopped")

    def give(self, answer: Answer) -> None:
        """Hand the answer to everybody who waits."""
        with self._lock:
            if not self.future.done():
                self.future.set_result(answer)

    def fail(self, error: BaseException) -> None:
        """Hand an error to everybody who waits."""
        with self._lock:
            if not self.future.done():
                self.future.set_exception(error)

    def progress(self, ahead: int) -> Progress:
        """Return how far it is."""
        finished = self.finished and not self.cancelled
        return Progress(
            self.id,
            self.done,
            self.of,
            "done" if finished else STEPS[min(self.step, len(STEPS) - 1)],
            0 if self.step or finished else ahead,
            round(time.monotonic() - self.began, 1),
            finished,
            self.cancelled,
        )
