"""The account of one cause, made once for whoever asks, while the page is read already.

The one idea: beside the desk, not in its line. Somebody who asks why must never hold up the next
list, so accounts have a thread of their own; how far one is can be seen, and it can be stopped
between two steps.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Final

from api.answering.asked_cause import STEPS, AskedCause, account_of_cause
from api.documents import Answer, Why
from api.jobs.answering import WORK
from api.jobs.desk import Desk
from api.problems import ProblemError
from api.store.fold import JobState
from graph.case import CaseInput
from graph.terms import Knowledge
from triage.courtesy import courteous

__all__ = ["Account", "Explainer", "Explains"]

_AT_HAND: Final = 256


#: What makes the account of a cause; the engine by default.
Explains = Callable[[Knowledge, CaseInput, AskedCause, Callable[[int], None]], Why]


@dataclass(eq=False, slots=True)
class Account:
    """One account being made, or made.

    Attributes
    ----------
    future : holds it, or what went wrong
    done : steps that are done
    """

    future: Future[Why] = field(default_factory=Future)
    done: int = 0
    stopped: bool = False

    @property
    def of(self) -> int:
        """Return how many steps there are."""
        return len(STEPS)

    @property
    def doing(self) -> str:
        """Return the present step in words."""
        return STEPS[min(self.done, len(STEPS) - 1)]

    def step(self, number: int) -> None:
        """Take in that a step begins; end here where it was stopped."""
        if self.stopped:
            raise ProblemError(409, "the account was stopped; ask again when you want it")
        self.done = number


class Explainer:
    """Makes accounts of causes.

    Parameters
    ----------
    desk : whose knowledge is used, and whose keys
    make : what makes an account
    """

    def __init__(self, desk: Desk, make: Explains = account_of_cause) -> None:
        self._desk, self._make = desk, make
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="why")
        self._lock = threading.Lock()
        self._made: OrderedDict[tuple[str, str], Account] = OrderedDict()

    @property
    def knowledge(self) -> Knowledge:
        """Return what accounts are made from, beside the case."""
        return self._desk.knowledge

    def close(self) -> None:
        """Stop; what waits for its turn is dropped."""
        with self._lock:
            for account in self._made.values():
                account.stopped = True
        self._pool.shutdown(wait=False, cancel_futures=True)

    def start(self, state: JobState, answer: Answer, cause: str) -> Account:
        """Begin to make an account, or join those who wait for it already."""
        key = (self._desk.key(state), cause)
        with self._lock:
            account = self._made.get(key)
            if account is not None and not account.stopped:
                self._made.move_to_end(key)
                return account
            account = self._made[key] = Account()
            while len(self._made) > _AT_HAND:
                self._made.popitem(last=False)
        asked = AskedCause(cause, tuple(row.id for row in answer.causes), WORK)
        self._pool.submit(self._run, account, state.case.to_input(), asked)
        return account

    def stop(self, state: JobState, cause: str) -> None:
        """Stop making an account; the step that is being worked on still ends."""
        key = (self._desk.key(state), cause)
        with self._lock:
            account = self._made.get(key)
            if account is not None and not account.future.done():
                account.stopped = True
                del self._made[key]

    def _run(self, account: Account, case: CaseInput, asked: AskedCause) -> None:
        """Make one account, in the thread."""
        try:
            account.step(0)
            with courteous(lambda: self._desk.give_way(lambda: account.stopped)):  # lists go first
                made = self._make(self._desk.knowledge, case, asked, account.step)
        except BaseException as error:
            account.future.set_exception(error)
        else:
            account.future.set_result(made)
