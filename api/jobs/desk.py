"""The answer desk: who asks gets the answer, worked out once; first the list, then its account.

The one idea: an answer is a function of what was written down. It is looked for in memory,
then in the store, and only then worked out, in a thread of its own, once for everybody who asks
at the same time. What it opens at a gate is written into the job before anybody sees the list.
Who asks is given the list; its account follows when nobody waits for a list (`api.jobs.accounts`).
"""

from __future__ import annotations

import asyncio
import itertools
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import replace
from datetime import UTC, datetime

from api.answering.accounting import PARTS, Pause
from api.answering.gating import GateRecord
from api.documents import Answer, Case
from api.jobs.accounts import Accounts, AccountWork, Finish
from api.jobs.ahead import Ahead
from api.jobs.answering import Begun, Compute, answer_key, begin_answer, nothing_known
from api.jobs.gates_alone import gates_alone
from api.jobs.kept import Kept
from api.jobs.opened import PROGRAM, event_id, has_new_reason, openings_of, unwritten
from api.jobs.risen import Past, likely_though_closed, risen, risen_events
from api.jobs.terms import Hands, ShopTerms
from api.jobs.work import AccountProgress, Progress, Work
from api.problems import ProblemError
from api.store.engine import Store
from api.store.events import NewEvent, Who
from api.store.fold import JobState
from graph.terms import Knowledge
from triage.courtesy import courteous

__all__ = ["Desk"]

#: Works that can still be asked after.
_AT_HAND = 256
#: An answer may open a gate, which makes another answer, which may open another one.
_ROUNDS = 4


class Desk:
    """Answers jobs.

    Parameters
    ----------
    knowledge : loaded once
    store : where answers are kept and gates are written down
    terms : what the shop says, beside the knowledge
    compute : what begins an answer; the engine by default
    hands : what works
    """

    def __init__(
        self,
        knowledge: Knowledge,
        store: Store,
        *,
        terms: ShopTerms | None = None,
        compute: Compute = begin_answer,
        hands: Hands | None = None,
    ) -> None:
        self.knowledge, self.store, hands = knowledge, store, hands or Hands()
        self.observe: Callable[[float], None] = lambda seconds: None
        self.met: Callable[[str], None] = lambda how: None
        self._terms, self._compute = terms or ShopTerms(), compute
        self._pool = ThreadPoolExecutor(hands.lists, thread_name_prefix="list")
        self._lock = threading.Lock()
        self._kept = Kept(store.answers)
        self._quiet = threading.Event()
        self._quiet.set()
        self._ahead = Ahead(self, store.jobs.state, self._quiet) if hands.ahead else None
        self._accounts = Accounts(self._quiet, self._kept, lambda: self.thinks_ahead(likely=True))
        self._flying: dict[str, Work] = {}
        self._works: OrderedDict[str, Work] = OrderedDict()
        self._keys: OrderedDict[tuple[str, str, int], str] = OrderedDict()
        self._numbers = itertools.count()
        self._closed = False

    def close(self) -> None:
        """Stop; what waits for its turn is dropped, and what is being worked out is not kept."""
        self._closed = True
        self._accounts.close()
        if self._ahead is not None:
            self._ahead.close()
        self._pool.shutdown(wait=False, cancel_futures=True)

    def key(self, state: JobState) -> str:
        """Return the key of the answer to a state; a job at a version never changes again."""
        which = (state.shop, state.job, state.version)
        with self._lock:
            key = self._keys.get(which)
        if key is None:
            key = self.key_of(state)
            with self._lock:
                self._keys[which] = key
                while len(self._keys) > 4 * _AT_HAND:
                    self._keys.popitem(last=False)
        return key

    def key_of(self, state: JobState) -> str:
        """Return the key of the answer to a state that may be in no record."""
        return answer_key(*self._question(state), self.knowledge.sha256)

    def there(self, key: str) -> Answer | None:
        """Return the answer under a key from memory alone."""
        return self._kept.at_hand(key)

    def looked_at(self, state: JobState, who: Who) -> None:
        """Take note that somebody looks at the list of a job, and will do its first check."""
        if self._ahead is not None:
            self._ahead.look(state.shop, state.job, who)

    def thinks_ahead(self, *, likely: bool = False) -> int:
        """Return how many lists that nobody asked for yet are being made or wait."""
        return self._ahead.waiting(likely=likely) if self._ahead is not None else 0

    def now(self, state: JobState) -> Answer | None:
        """Return what there is of the answer already, list or whole; takes milliseconds."""
        key = self.key(state)
        found = self._kept.find(key)
        return self.as_it_is(key, found, state) if found else None

    def shown(self, state: JobState) -> tuple[str, Answer] | None:
        """Return key and answer as they were shown when the job stood so.

        Whatever knowledge and prices are in force by now.
        """
        found = self._kept.shown(state)
        return (found[0], self.as_it_is(*found, state)) if found else None

    def answer(self, state: JobState, *, live: bool = True) -> Answer:
        """Return the answer as far as its list goes at least, however long it takes.

        Parameters
        ----------
        state : a job as it stands, or as it stood
        live : False for a state of the past, which writes nothing into the job

        Raises
        ------
        TriageError
            If what the job says can't be answered as a whole.
        ProblemError
            If somebody stopped it.
        """
        work = self.start(state, live=live)
        return self.as_it_is(work.id, work.future.result(), state)

    async def answered(self, state: JobState, *, live: bool = True) -> Answer:
        """Return the same without holding a thread while it is worked out."""
        work = await asyncio.to_thread(self.start, state, live=live)
        return self.as_it_is(work.id, await asyncio.wrap_future(work.future), state)

    def account(self, state: JobState, *, want: bool = True) -> AccountWork | None:
        """Return the account of a state that is being made; nothing where it is made or left out.

        Parameters
        ----------
        want : have it made where it is left out, and before those that nobody waits for
        """
        key = self.key(state)
        if not want:
            return self._accounts.get(key)
        found = self._kept.find(key)
        if found is not None and found.account == "made":
            return None
        return self._accounts.want(key, self._remake(state))

    async def accounted(self, state: JobState, *, live: bool = True) -> Answer:
        """Return the whole answer, however long its account takes.

        Raises
        ------
        ProblemError, TriageError
            As `answer`; 409 also if somebody stops the account.
        """
        found = await self.answered(state, live=live)
        if live:  # the answer may have written down a gate
            state = await asyncio.to_thread(self.store.jobs.state, state.shop, state.job)
            found = await self.answered(state)
        if found.account == "made":
            return found
        work = await asyncio.to_thread(self.account, state)
        if work is None:
            return self.now(state) or found
        return self.as_it_is(work.key, await asyncio.wrap_future(work.future), state)

    def start(self, state: JobState, *, live: bool = True) -> Work:
        """Begin to work out a list, or join those who wait for it already.

        What is there already is given at once; an account that is missing is begun.

        Raises
        ------
        ProblemError
            409 where nothing is known of the car yet.
        """
        if nothing_known(state.case):
            raise ProblemError(
                409,
                "no code, finding or verdict is written down yet, and no list is made from "
                "nothing; write one down first",
                kind="nothing-known",
            )
        key = self.key(state)
        kept = self._kept.find(key)
        there = kept is not None and not (live and likely_though_closed(kept))
        with self._lock:
            work = self._flying.get(key)
            if work is not None and not work.cancelled:
                return work
            work = self._works[key] = Work(key, next(self._numbers))
            while len(self._works) > _AT_HAND:
                self._works.popitem(last=False)
            if not there:
                self._flying[key] = work
                self._quiet.clear()
        if kept is None or not there:
            self._pool.submit(self._run, work, state, live)
            return work
        if live and kept.account != "made":
            self._follow(key, state, None)
        work.give(kept)
        return work

    def progress(self, state: JobState) -> Progress | None:
        """Return how far the answer to a state is; nothing where nobody asked for it."""
        key = self.key(state)
        work = self._works.get(key)
        if work is None:
            return None
        with self._lock:
            ahead = sum(
                1 for one in self._flying.values() if one.number < work.number and not one.cancelled
            )
        return replace(work.progress(ahead), account=self._account_progress(key))

    def _account_progress(self, key: str) -> AccountProgress:
        """Return how far an account is."""
        making = self._accounts.get(key)
        if making is not None:
            return AccountProgress("being-made", making.done, len(PARTS), making.doing)
        found = self._kept.at_hand(key)
        if found is not None and found.account == "made":
            return AccountProgress("made", len(PARTS), len(PARTS), "done")
        return AccountProgress("left-out", 0, len(PARTS), "nobody makes it")

    def cancel(self, work: Work | str) -> bool:
        """Stop making a list, or its account where the list is there.

        Whoever waits is told at once; the work itself ends before its next part. Return whether
        there was anything to stop.
        """
        found = self._works.get(work) if isinstance(work, str) else work
        if found is None:
            return self._accounts.stop(work) if isinstance(work, str) else False
        if found.finished:
            return self._accounts.stop(found.id)
        found.cancel()
        return True

    def give_way(self, stopped: Callable[[], bool] = lambda: False) -> None:
        """Wait until no list is being made; for work in the background, before each sweep."""
        while not self._quiet.wait(0.5) and not stopped():
            pass

    def busy(self) -> bool:
        """Return whether anything is being worked out."""
        return self.waiting() > 0 or self._accounts.busy() or self.thinks_ahead() > 0

    def makes_fuller(self) -> bool:
        """Return whether an account that is made is being made fuller."""
        return self._accounts.makes_fuller()

    def waiting(self) -> int:
        """Return how many lists are being worked out or wait for their turn."""
        with self._lock:
            return sum(1 for work in self._flying.values() if not work.cancelled)

    def gates_alone(self, state: JobState) -> Answer | None:
        """Return the gates that safety questions open in a job about which nothing is known yet."""
        return gates_alone(self.knowledge, *self._question(state))

    def _question(self, state: JobState) -> tuple[Case, GateRecord]:
        """Return what an answer is made from: the case with the shop's prices, the record."""
        case = state.case
        case = case.model_copy(update={"shop": self._terms.shop})
        return case, replace(state.record, licensed=self._terms.licensed)

    def as_it_is(self, key: str, answer: Answer, state: JobState) -> Answer:
        """Return an answer under the job's name, saying what becomes of its account."""
        told: dict[str, str] = {}
        if answer.case != state.case.case:
            told["case"] = state.case.case
        if answer.account != "made":
            making = self._accounts.get(key) is not None
            whole = None if making else self._kept.at_hand(key)
            if whole is not None and whole.account == "made":  # just now
                return self.as_it_is(key, whole, state)
            told["account"] = "being-made" if making else "left-out"
        return answer.model_copy(update=told) if told else answer

    def _run(self, work: Work, state: JobState, live: bool) -> None:
        """Work out one list, in a thread of the pool."""
        try:
            if not work.cancelled:
                work.give(self._settled(work, state, live=live))
        except BaseException as error:
            work.fail(error)
        finally:
            with self._lock:
                if self._flying.get(work.id) is work:
                    del self._flying[work.id]
                if not self._flying:
                    self._quiet.set()

    def _settled(self, work: Work, state: JobState, *, live: bool) -> Answer:
        """Return the list after every gate that it opens has been written down."""
        for _round in range(_ROUNDS):
            begun = self._begun(work, state)
            after = self._written(state, begun) if live else None
            if after is None:
                break
            self._kept.keep(self.key(state), begun.answer)
            state = after
        work.step, key = 3, self.key(state)
        if self._closed:
            raise ProblemError(503, "the service is stopping; what was written down is kept")
        self._kept.keep(key, begun.answer, seen=state if live else None)
        if live and begun.answer.account != "made":
            self._follow(key, state, begun.finish)
        return begun.answer

    def _begun(self, work: Work, state: JobState) -> Begun:
        """Return the list of one state, worked out or at hand."""
        kept = self._kept.at_hand(self.key(state))
        if kept is not None:
            return Begun(kept)
        work.step, began = 1, time.perf_counter()
        begun, how = self._ahead.take(self.key_of(state)) if self._ahead else (None, "made-now")
        if begun is None:
            # With others in line each list keeps to its own thread; a list alone takes all of them.
            alone = self.waiting() < 2
            with nullcontext() if alone else courteous(work.go_on):
                begun = self._compute(self.knowledge, *self._question(state), work.go_on)
        self.observe(time.perf_counter() - began)
        self.met(how)
        work.step = 2
        return begun

    def think(self, state: JobState, ask: Callable[[], None]) -> Begun:
        """Make a list that nobody waits for; `ask` is called before each part of the work."""
        with courteous(ask):
            return self._compute(self.knowledge, *self._question(state), ask)

    def _follow(self, key: str, state: JobState, finish: Finish | None) -> None:
        """Have the account of a list made when there is time."""
        job = (state.shop, state.job, state.version)
        self._accounts.offer(key, job, finish, self._remake(state))

    def _remake(self, state: JobState) -> Finish:
        """Return what makes a whole answer from nothing, for lists whose work is gone."""

        def whole(pause: Pause) -> Iterator[Answer]:
            pause(PARTS[0])
            begun = self._compute(self.knowledge, *self._question(state), lambda: pause(PARTS[0]))
            return begun.finish(pause) if begun.finish else iter((begun.answer,))

        return whole

    def _written(self, state: JobState, begun: Begun) -> JobState | None:
        """Write down what a list opens; return the job as it stands then, or nothing new."""
        (case, record), now = self._question(state), datetime.now(UTC)
        past = Past(
            self.store.jobs.state,
            lambda then: self._kept.find(self.key(then)),
            lambda then: openings_of(self.knowledge, self._question(then)[0]),
        )
        events = risen_events(state, risen(self.knowledge, state, begun.answer, past), now)
        if has_new_reason(begun.answer, record):
            hits = begun.openings() if begun.openings else openings_of(self.knowledge, case)
            fresh = unwritten(hits, record)
            events += [NewEvent(id=event_id(state.job, b), device_time=now, body=b) for b in fresh]
        jobs = self.store.jobs
        if not events or jobs.state(state.shop, state.job).version != state.version:
            return None  # somebody wrote meanwhile: the next answer sees to it
        jobs.append(state.shop, state.job, PROGRAM, events, self.knowledge.sha256)
        return jobs.state(state.shop, state.job)
