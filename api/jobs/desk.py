"""The answer desk: who asks gets the answer, worked out once.

The one idea: an answer is a function of what was written down. It is looked for in memory,
then in the store, and only then worked out, in a thread of its own, once for everybody who asks
at the same time. What it opens at a gate is written into the job before anybody sees the list.
"""

from __future__ import annotations

import asyncio
import hashlib
import itertools
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from api.answering.gating import GateRecord
from api.documents import Answer, Case, CaseShop
from api.jobs.answering import answer_for, answer_key, nothing_known
from api.jobs.opened import PROGRAM, event_id, has_new_reason, openings_of, unwritten
from api.jobs.work import Progress, Work
from api.problems import ProblemError
from api.store.engine import Store
from api.store.events import NewEvent
from api.store.fold import JobState
from graph.terms import Knowledge

__all__ = ["Compute", "Desk", "ShopTerms"]

Compute = Callable[[Knowledge, Case, GateRecord], Answer]
#: Answers kept at hand, and works that can still be asked after.
_AT_HAND = 256
#: An answer may open a gate, which makes another answer, which may open another one.
_ROUNDS = 4


@dataclass(frozen=True, slots=True)
class ShopTerms:
    """What the shop says, beside the knowledge.

    Attributes
    ----------
    shop : its prices
    licensed : names on its list for licensed practice; empty = it keeps none
    """

    shop: CaseShop = field(default_factory=CaseShop)
    licensed: frozenset[str] = frozenset()


class Desk:
    """Answers jobs.

    Parameters
    ----------
    knowledge : loaded once
    store : where answers are kept and gates are written down
    terms : what the shop says, beside the knowledge
    compute : what works out an answer; the engine by default
    workers : answers worked out side by side
    """

    def __init__(
        self,
        knowledge: Knowledge,
        store: Store,
        *,
        terms: ShopTerms | None = None,
        compute: Compute = answer_for,
        workers: int = 2,
    ) -> None:
        self.knowledge, self.store = knowledge, store
        self.observe: Callable[[float], None] = lambda seconds: None
        self._terms, self._compute = terms or ShopTerms(), compute
        self._pool = ThreadPoolExecutor(workers, thread_name_prefix="answer")
        self._lock = threading.Lock()
        self._at_hand: OrderedDict[str, Answer] = OrderedDict()
        self._flying: dict[str, Work] = {}
        self._works: OrderedDict[str, Work] = OrderedDict()
        self._keys: OrderedDict[tuple[str, str, int], str] = OrderedDict()
        self._numbers = itertools.count()
        self._closed = False

    def close(self) -> None:
        """Stop; what waits for its turn is dropped, and what is being worked out is not kept."""
        self._closed = True
        self._pool.shutdown(wait=False, cancel_futures=True)

    def key(self, state: JobState) -> str:
        """Return the key of the answer to a state; a job at a version never changes again."""
        which = (state.shop, state.job, state.version)
        with self._lock:
            key = self._keys.get(which)
        if key is None:
            key = answer_key(*self._question(state), self.knowledge.sha256)
            with self._lock:
                self._keys[which] = key
                while len(self._keys) > 4 * _AT_HAND:
                    self._keys.popitem(last=False)
        return key

    def now(self, state: JobState) -> Answer | None:
        """Return the answer if it is there already; takes milliseconds."""
        return self._kept(self.key(state), state.job)

    def shown(self, state: JobState) -> tuple[str, Answer] | None:
        """Return key and answer as they were shown when the job stood so.

        Whatever knowledge and prices are in force by now.
        """
        key = self.store.answers.get(_seen_as(state))
        found = self._kept(key, state.job) if key else None
        return (key, found) if key and found else None

    def answer(self, state: JobState, *, live: bool = True) -> Answer:
        """Return the answer, however long it takes.

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
        return self.now(state) or self._named(self.start(state, live=live).future.result(), state)

    async def answered(self, state: JobState, *, live: bool = True) -> Answer:
        """Return the answer without holding a thread while it is worked out."""
        work = await asyncio.to_thread(self.start, state, live=live)
        return self._named(await asyncio.wrap_future(work.future), state)

    def start(self, state: JobState, *, live: bool = True) -> Work:
        """Begin to work out an answer, or join those who wait for it already.

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
        kept = self._kept(key, state.job)
        with self._lock:
            work = self._flying.get(key)
            if work is not None and not work.cancelled:
                return work
            work = self._works[key] = Work(key, next(self._numbers))
            while len(self._works) > _AT_HAND:
                self._works.popitem(last=False)
            if kept is None:
                self._flying[key] = work
        if kept is not None:
            work.give(kept)
        else:
            self._pool.submit(self._run, work, state, live)
        return work

    def progress(self, state: JobState) -> Progress | None:
        """Return how far the answer to a state is; nothing where nobody asked for it."""
        work = self._works.get(self.key(state))
        if work is None:
            return None
        with self._lock:
            ahead = sum(
                1 for one in self._flying.values() if one.number < work.number and not one.cancelled
            )
        return work.progress(ahead)

    def cancel(self, work: Work | str) -> bool:
        """Stop waiting for an answer; return whether there was anything to stop."""
        found = self._works.get(work) if isinstance(work, str) else work
        if found is None or found.finished:
            return False
        found.cancel()
        return True

    def waiting(self) -> int:
        """Return how many answers are being worked out or wait for their turn."""
        with self._lock:
            return sum(1 for work in self._flying.values() if not work.cancelled)

    def _question(self, state: JobState) -> tuple[Case, GateRecord]:
        """Return what an answer is made from: the case with the shop's prices, the record."""
        case = state.case
        case = case.model_copy(update={"shop": self._terms.shop})
        return case, replace(state.record, licensed=self._terms.licensed)

    def _kept(self, key: str, job: str) -> Answer | None:
        """Return an answer from memory or from the store, under the job's name."""
        with self._lock:
            found = self._at_hand.get(key)
            if found is not None:
                self._at_hand.move_to_end(key)
        if found is None:
            document = self.store.answers.get(key)
            if document is None:
                return None
            found = Answer.model_validate_json(document)
            self._hold(key, found)
        return found if found.case == job else found.model_copy(update={"case": job})

    def _named(self, answer: Answer, state: JobState) -> Answer:
        name = state.case.case
        return answer if answer.case == name else answer.model_copy(update={"case": name})

    def _hold(self, key: str, answer: Answer) -> None:
        """Keep an answer at hand; let go of the one that was not asked for longest."""
        with self._lock:
            self._at_hand[key] = answer
            self._at_hand.move_to_end(key)
            while len(self._at_hand) > _AT_HAND:
                self._at_hand.popitem(last=False)

    def _run(self, work: Work, state: JobState, live: bool) -> None:
        """Work out one answer, in a thread of the pool."""
        try:
            if not work.cancelled:
                work.give(self._settled(work, state, live=live))
        except BaseException as error:
            work.fail(error)
        finally:
            with self._lock:
                if self._flying.get(work.id) is work:
                    del self._flying[work.id]

    def _settled(self, work: Work, state: JobState, *, live: bool) -> Answer:
        """Return the answer after every gate that it opens has been written down."""
        for _round in range(_ROUNDS):
            answer = self._made(work, state)
            after = self._written(state, answer) if live else None
            if after is None:
                break
            self._hold(work.id, answer)
            state = after
        self._hold(work.id, answer)
        if live:
            self.store.answers.keep(_seen_as(state), self.key(state))
        return answer

    def _made(self, work: Work, state: JobState) -> Answer:
        """Return the answer to one state, worked out and kept."""
        key = self.key(state)
        kept = self._kept(key, state.job)
        if kept is not None:
            return kept
        work.step, began = 1, time.perf_counter()
        case, record = self._question(state)
        answer = self._compute(self.knowledge, case, record)
        self.observe(time.perf_counter() - began)
        if self._closed:
            raise ProblemError(503, "the service is stopping; what was written down is kept")
        work.step = 3
        self.store.answers.keep(key, answer.model_dump_json(by_alias=True))
        self._hold(key, answer)
        return answer

    def _written(self, state: JobState, answer: Answer) -> JobState | None:
        """Write down what an answer opens; return the job as it stands then, or nothing new."""
        case, record = self._question(state)
        if not has_new_reason(answer, record):
            return None
        fresh = unwritten(openings_of(self.knowledge, case), record)
        jobs = self.store.jobs
        if not fresh or jobs.state(state.shop, state.job).version != state.version:
            return None  # somebody wrote meanwhile: the next answer sees to it
        now = datetime.now(UTC)
        events = [
            NewEvent(id=event_id(state.job, body), device_time=now, body=body) for body in fresh
        ]
        jobs.append(state.shop, state.job, PROGRAM, events, self.knowledge.sha256)
        return jobs.state(state.shop, state.job)


def _seen_as(state: JobState) -> str:
    """Return the key under which the store keeps which answer a job was shown at a version."""
    text = f"shown\0{state.shop}\0{state.job}\0{state.version}"
    return hashlib.sha256(text.encode()).hexdigest()
