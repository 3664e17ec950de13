"""Thinking ahead: the lists after the likely next answers, made while hands are busy.

The one idea: whoever looks at a list does its first check, and that takes minutes. What may be
said of it is a handful of things. So the list after each of them is made meanwhile, the likeliest
first, and the tap finds it there. Nobody waits for this work, so every list that somebody waits
for goes first; a list that is asked for while it is being made so is made to its end at once.
Nothing of it is written down, kept or shown before somebody says it.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from typing import Final, Protocol

from api.documents import Answer
from api.jobs.answering import Begun
from api.jobs.opened import PROGRAM, has_new_reason, unwritten
from api.jobs.supposing import likely_next, suppose
from api.store.events import Who
from api.store.fold import JobState
from graph.terms import Knowledge

__all__ = ["Ahead", "Lists"]

#: Lists held that nobody has asked for yet; some hundred kilobytes each.
HELD: Final = 512
#: Thoughts of at least this weight go before an account that nobody waits for.
LIKELY: Final = 0.1
#: Jobs that somebody looked at and that wait for a thought.
_LOOKED: Final = 256
#: A list may open a gate, which makes another list.
_ROUNDS: Final = 3
#: Seconds after which a thought that waits looks again whether it is wanted by now.
_AGAIN: Final = 0.02


class Lists(Protocol):
    """What is needed of the desk."""

    knowledge: Knowledge

    def key_of(self, state: JobState) -> str:
        """Return the key of the answer to a state that may be in no record."""

    def there(self, key: str) -> Answer | None:
        """Return the answer under a key from memory alone."""

    def think(self, state: JobState, ask: Callable[[], None]) -> Begun:
        """Make a list in the background; `ask` is called before each part of the work."""


class _DroppedError(Exception):
    """The job went on in another way."""


@dataclass(eq=False, slots=True)
class _Thought:
    """One list to be made.

    Attributes
    ----------
    weight : the heavier, the sooner
    state : the job as it would stand
    since : version of the job that it follows on
    wanted : somebody waits for it by now
    """

    weight: float
    state: JobState
    since: int
    key: str
    wanted: bool = False
    made: Future[Begun | None] = field(default_factory=Future)


class Ahead:
    """The lists that are made before they are asked for.

    Parameters
    ----------
    lists : the desk
    stands : returns a job of a shop as it stands
    quiet : set while nobody waits for a list
    """

    def __init__(
        self, lists: Lists, stands: Callable[[str, str], JobState], quiet: threading.Event
    ) -> None:
        self._lists, self._stands, self._quiet = lists, stands, quiet
        self._lock = threading.Condition()
        self._looked: OrderedDict[tuple[str, str], Who] = OrderedDict()
        self._thoughts: dict[tuple[str, str], list[_Thought]] = {}
        self._held: OrderedDict[str, Begun] = OrderedDict()
        self._making: _Thought | None = None
        self._imagining = 0
        self._thread: threading.Thread | None = None
        self._closed = False

    def close(self) -> None:
        """Stop; what is being made ends before its next part."""
        with self._lock:
            self._closed = True
            self._lock.notify_all()

    def look(self, shop: str, job: str, who: Who) -> None:
        """Somebody looks at the list of a job: think of what they may say next."""
        with self._lock:
            if self._closed:
                return
            self._looked[shop, job] = who
            self._looked.move_to_end((shop, job))
            while len(self._looked) > _LOOKED:
                self._looked.popitem(last=False)
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="ahead", daemon=True)
                self._thread.start()
            self._lock.notify_all()

    def waiting(self, *, likely: bool = False) -> int:
        """Return how many lists are still to be made, as far as they are known.

        Parameters
        ----------
        likely : only those that probably will be asked for
        """
        least = LIKELY if likely else 0.0
        with self._lock:
            rest = [one for thoughts in self._thoughts.values() for one in thoughts]
            rest += [self._making] if self._making is not None else []
            rows = len(self._looked) + self._imagining
            return rows + sum(one.weight >= least for one in rest)

    def take(self, key: str) -> tuple[Begun | None, str]:
        """Return the list under a key, made to its end if it is being made, and how it was met.

        Returns
        -------
        The list, or nothing; and ``ahead`` (it was there), ``joined`` (it was being made) or
        ``made-now`` (nobody had thought of it).
        """
        with self._lock:
            found = self._held.pop(key, None)
            making = self._making
            if found is None and making is not None and making.key == key:
                making.wanted = True
            else:
                making = None
        if making is not None:
            found = making.made.result()
            with self._lock:
                self._held.pop(key, None)
        how = "made-now" if found is None else "joined" if making else "ahead"
        return found, how

    def _run(self) -> None:
        """Think of one list after the other, the likeliest first."""
        while True:
            with self._lock:
                while not (self._closed or self._looked or self._thoughts):
                    self._lock.wait()
                if self._closed:
                    return
                looked = self._looked.popitem(last=False) if self._looked else None
                self._imagining = int(looked is not None)
            if looked is not None:
                (shop, job), who = looked
                self._imagine(shop, job, who)
            else:
                self._think()

    def _imagine(self, shop: str, job: str, who: Who) -> None:
        """Think of what may be said next in a job; older thoughts of it are given up."""
        thoughts = []
        try:
            state = self._stands(shop, job)
            answer = self._lists.there(self._lists.key_of(state))
            if answer is not None and state.closed is None:
                for weight, body in likely_next(self._lists.knowledge, answer):
                    after = suppose(self._lists.knowledge, state, who, [body])
                    key = self._lists.key_of(after)
                    thoughts.append(_Thought(weight, after, state.version, key))
        except Exception:
            thoughts = []  # who asks for it gets to know why; here nobody does
        with self._lock:
            self._imagining = 0
            self._thoughts.pop((shop, job), None)
            missing = [one for one in thoughts if one.key not in self._held]
            missing = [one for one in missing if self._lists.there(one.key) is None]
            if missing:
                self._thoughts[shop, job] = missing

    def _think(self) -> None:
        """Make the likeliest list of all that are waiting."""
        with self._lock:
            if not self._thoughts:
                return
            job, thoughts = max(self._thoughts.items(), key=lambda row: row[1][0].weight)
            thought = self._making = thoughts.pop(0)
            if not thoughts:
                del self._thoughts[job]
        begun = None
        try:
            begun = self._made(thought)
        except Exception:
            begun = None  # whoever says it gets the list, or the reason why not, as usual
        finally:
            with self._lock:
                self._making = None
            thought.made.set_result(begun)

    def _made(self, thought: _Thought) -> Begun:
        """Return one list; the one after a gate that it opens is made as well."""

        def ask() -> None:
            while not self._quiet.wait(_AGAIN) and not thought.wanted:
                pass
            if self._closed:
                raise _DroppedError

        ask()
        state = thought.state
        if self._stands(state.shop, state.job).version != thought.since:
            raise _DroppedError
        first = self._hold(thought.key, state, ask)
        begun = first
        for _round in range(_ROUNDS):
            if thought.wanted or begun.openings is None:
                break
            bodies = unwritten(begun.openings(), state.record)
            if not bodies:
                break
            state = suppose(self._lists.knowledge, state, PROGRAM, bodies)
            begun = self._hold(self._lists.key_of(state), state, ask)
        return first

    def _hold(self, key: str, state: JobState, ask: Callable[[], None]) -> Begun:
        """Make a list and hold it; what it was made from is let go of."""
        begun = self._lists.think(state, ask)
        hits = []
        if begun.openings is not None and has_new_reason(begun.answer, state.record):
            hits = begun.openings()
        begun = replace(begun, finish=None, openings=lambda: hits)
        with self._lock:
            self._held[key] = begun
            while len(self._held) > HELD:
                self._held.popitem(last=False)
        return begun
