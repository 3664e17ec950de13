"""Accounts of lists, made in the background.

The one idea: lists go first. The account of a list is made when nobody waits for a list, part
by part and sweep by sweep; before each whoever needs the machine for a list goes ahead, and an
account that nobody can want any more, because the job has gone on, is dropped there. What takes
long in an account comes after it, when no other account waits either.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Protocol, TypeVar

from api.answering.accounting import PARTS, Pause
from api.documents import Answer
from api.problems import ProblemError
from triage.courtesy import courteous

__all__ = ["AccountWork", "Accounts", "Finish", "Keeps"]

Finish = Callable[[Pause], Iterator[Answer]]
_K = TypeVar("_K")
_V = TypeVar("_V")
#: Accounts that were stopped are remembered, so that they are not begun again by themselves.
_REMEMBERED = 1000
#: So many accounts wait to be made fuller; each holds what it was made from.
_FULLER = 8
#: Of so many that wait, what the list was made from is held; the others work that out again.
_HELD = 64
#: Seconds after which an account that lets others go first looks again.
_AGAIN = 0.05


class Keeps(Protocol):
    """What is needed of whoever keeps the answers."""

    def keep(self, key: str, answer: Answer) -> None:
        """Keep a whole answer."""

    def keep_fuller(self, key: str, answer: Answer, *, last: bool) -> None:
        """Show a fuller one in its place; the last one is kept as well."""


class _StoppedError(Exception):
    """Nobody wants this account any more."""


@dataclass(eq=False, slots=True)
class AccountWork:
    """One account that is being made, or waits for its turn.

    Attributes
    ----------
    key : of the answer
    jobs : those whose present list it belongs to, as (shop, job)
    finish : goes on from the list; None = the list has to be made again first
    fuller : the same account ever fuller, once it is made
    wanted : somebody waits for this very one
    step : parts begun
    """

    key: str
    jobs: set[tuple[str, str]]
    finish: Finish | None
    remake: Finish
    wanted: bool = False
    fuller: Iterator[Answer] | None = None
    step: int = 0
    stopped: bool = False
    future: Future[Answer] = field(default_factory=Future)
    began: float = field(default_factory=time.monotonic)

    @property
    def done(self) -> int:
        """Return how many parts are done."""
        return max(0, self.step - 1)

    @property
    def doing(self) -> str:
        """Return the present part, in words."""
        return PARTS[self.step - 1] if self.step else "waiting for its turn"


class Accounts:
    """The accounts that are being made.

    Parameters
    ----------
    quiet : set while no list is being made
    kept : takes the whole answers
    others : how much work there is that goes before an account that nobody waits for
    """

    def __init__(
        self,
        quiet: threading.Event,
        kept: Keeps,
        others: Callable[[], int] = lambda: 0,
    ) -> None:
        self._quiet, self._kept, self._others = quiet, kept, others
        self._lock = threading.Condition()
        self._works: OrderedDict[str, AccountWork] = OrderedDict()
        self._fuller: OrderedDict[str, AccountWork] = OrderedDict()
        self._newest: OrderedDict[tuple[str, str], int] = OrderedDict()
        self._left: OrderedDict[str, None] = OrderedDict()
        self._thread: threading.Thread | None = None
        self._closed = False

    def close(self) -> None:
        """Stop; what is being made ends before its next part."""
        with self._lock:
            self._closed = True
            for work in (*self._works.values(), *self._fuller.values()):
                work.stopped = True
            self._lock.notify_all()

    def busy(self) -> bool:
        """Return whether an account is being made or waits."""
        with self._lock:
            return bool(self._works)

    def makes_fuller(self) -> bool:
        """Return whether an account is being made fuller or waits for that."""
        with self._lock:
            return bool(self._fuller)

    def get(self, key: str) -> AccountWork | None:
        """Return the account that is being made under a key."""
        with self._lock:
            return self._works.get(key)

    def offer(
        self, key: str, job: tuple[str, str, int], finish: Finish | None, remake: Finish
    ) -> None:
        """Make the account of the present list of a job, when there is time.

        What was being made for earlier states of the job is dropped, unless somebody waits for
        it. Nothing happens for a state that is not the newest, and for an account that was
        stopped.

        Parameters
        ----------
        job : shop, job and version
        finish, remake : as in `AccountWork`
        """
        name, version = job[:2], job[2]
        with self._lock:
            if version < self._newest.get(name, 0) or self._closed:
                return
            _remember(self._newest, name, version)
            works = (*self._works.values(), *self._fuller.values())
            for other in [work for work in works if work.key != key]:
                other.jobs.discard(name)
                if not other.jobs and not other.wanted:
                    self._drop(other, "the job went on; its present list has an account of its own")
            if key in self._fuller:
                self._fuller[key].jobs.add(name)
            elif key not in self._left:
                self._add(key, finish, remake).jobs.add(name)

    def want(self, key: str, remake: Finish) -> AccountWork:
        """Return the account under a key; it is made before those that nobody waits for."""
        with self._lock:
            self._left.pop(key, None)
            work = self._add(key, None, remake)
            work.wanted = True
            self._lock.notify_all()
            return work

    def stop(self, key: str) -> bool:
        """Make an account no further; return whether there was one."""
        with self._lock:
            work = self._works.get(key) or self._fuller.get(key)
            _remember(self._left, key, None)
            if work is not None:
                self._drop(work, "it was stopped; ask for it again when you want it")
            return work is not None

    def _add(self, key: str, finish: Finish | None, remake: Finish) -> AccountWork:
        """Return the work under a key, new or there already."""
        work = self._works.get(key)
        if work is None:
            work = self._works[key] = AccountWork(key, set(), finish, remake)
            held = [one for one in self._works.values() if one.finish is not None and not one.step]
            for one in held[:-_HELD]:
                one.finish = None
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="account", daemon=True)
                self._thread.start()
            self._lock.notify_all()
        return work

    def _drop(self, work: AccountWork, why: str) -> None:
        """Tell whoever waits that it will not be made; it ends before its next part."""
        work.stopped = True
        for works in (self._works, self._fuller):
            if works.get(work.key) is work:
                del works[work.key]
        if not work.future.done():
            work.future.set_exception(
                ProblemError(409, f"the account of this list is not made: {why}", kind="stopped")
            )

    def _run(self) -> None:
        """Make one account after the other."""
        while (work := self._next()) is not None:
            (self._make if work.fuller is None else self._make_fuller)(work)

    def _next(self) -> AccountWork | None:
        """Return the account to be made next; nothing when the service stops."""
        with self._lock:
            while not self._closed:
                work = self._first() or next(iter(self._fuller.values()), None)
                if work is not None and (work.wanted or not self._others()):
                    return work
                self._lock.wait(_AGAIN if work else None)
        return None

    def _first(self) -> AccountWork | None:
        """Return the account to be made first of those that are not made."""
        return min(self._works.values(), key=lambda work: not work.wanted, default=None)

    def _make(self, work: AccountWork) -> None:
        """Make one account."""

        def pause(part: str) -> None:
            self._ask(work)
            work.step = PARTS.index(part) + 1

        try:
            finish, work.finish = work.finish, None  # it holds much
            with courteous(lambda: self._ask(work)):
                stages = (finish or work.remake)(pause)
                answer = next(stages)
            if work.stopped:
                return
            self._kept.keep(work.key, answer)
            self._put_off(work, stages)
            self._settle(work, lambda: work.future.set_result(answer))
        except _StoppedError:
            return
        except BaseException as error:
            told = error
            with self._lock:
                _remember(self._left, work.key, None)
            self._settle(work, lambda: work.future.set_exception(told))

    def _ask(self, work: AccountWork) -> None:
        """Let go first whoever has something more urgent.

        Raises
        ------
        _StoppedError
            If nobody wants this account any more.
        """
        while not self._quiet.wait(0.5) and not work.stopped:
            pass
        while work.fuller is not None and not work.stopped and self._one_more_urgent():
            pass
        if work.stopped:
            raise _StoppedError

    def _one_more_urgent(self) -> bool:
        """Make an account that goes before all that are to be fuller; return whether there is."""
        with self._lock:
            work, others = self._first(), self._others()
        if work is not None and (work.wanted or not others):
            self._make(work)
        elif others:
            time.sleep(_AGAIN)
        return work is not None or others > 0

    def _put_off(self, work: AccountWork, stages: Iterator[Answer]) -> None:
        """Make an account fuller when nothing else is to be done."""
        with self._lock:
            if work.stopped:
                return
            work.fuller, work.wanted = stages, False
            self._fuller[work.key] = work
            while len(self._fuller) > _FULLER:
                self._drop(next(iter(self._fuller.values())), "there are too many")

    def _make_fuller(self, work: AccountWork) -> None:
        """Make one account ever fuller; what goes wrong leaves it as it is."""
        made: Answer | None = None
        with suppress(Exception), courteous(lambda: self._ask(work)):
            for made in work.fuller or ():
                self._kept.keep_fuller(work.key, made, last=False)
        if made is not None and not self._closed:
            with suppress(Exception):  # what was kept before stands
                self._kept.keep_fuller(work.key, made, last=True)
        with self._lock:
            if self._fuller.get(work.key) is work:
                del self._fuller[work.key]

    def _settle(self, work: AccountWork, tell: Callable[[], None]) -> None:
        """Take a work out and tell whoever waits for it."""
        with self._lock:
            if self._works.get(work.key) is work:
                del self._works[work.key]
            if not work.future.done():
                tell()


def _remember(held: OrderedDict[_K, _V], key: _K, value: _V) -> None:
    """Hold a value under a key; let go of the oldest."""
    held[key] = value
    held.move_to_end(key)
    while len(held) > _REMEMBERED:
        held.popitem(last=False)
