"""Answers that were made: at hand, and in the store.

The one idea: what was shown can be shown again exactly, whether its account was made by then or
not. So the list is kept when it is made and the whole answer when that is made, each under a
key of its own; whoever asks gets the whole where it is there, and else the list. An account that
is made fuller afterwards has a third key: the first one kept under a key stands.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict

from api.documents import Answer
from api.store.answers import AnswerStore
from api.store.fold import JobState

__all__ = ["Kept", "fuller_key", "list_key", "seen_key"]

#: Answers kept at hand.
_AT_HAND = 256


def list_key(key: str) -> str:
    """Return the key of a list, from the key of the whole answer.

    Examples
    --------
    >>> len(list_key("0" * 64)), list_key("0" * 64) != list_key("1" * 64)
    (64, True)
    """
    return hashlib.sha256(f"list\0{key}".encode()).hexdigest()


def fuller_key(key: str) -> str:
    """Return the key of an account made fuller afterwards, from the key of the whole answer.

    Examples
    --------
    >>> len(fuller_key("0" * 64)), fuller_key("0" * 64) == list_key("0" * 64)
    (64, False)
    """
    return hashlib.sha256(f"fuller\0{key}".encode()).hexdigest()


def seen_key(state: JobState) -> str:
    """Return the key under which the store keeps which answer a job was shown at a version."""
    text = f"shown\0{state.shop}\0{state.job}\0{state.version}"
    return hashlib.sha256(text.encode()).hexdigest()


class Kept:
    """The answers that are there already.

    Parameters
    ----------
    store : where they are kept for good
    """

    def __init__(self, store: AnswerStore) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._at_hand: OrderedDict[str, Answer] = OrderedDict()

    def find(self, key: str) -> Answer | None:
        """Return the answer under a key, whole where it is there; takes milliseconds."""
        return self.at_hand(key) or self._stored(key)

    def at_hand(self, key: str) -> Answer | None:
        """Return the answer under a key from memory alone."""
        with self._lock:
            found = self._at_hand.get(key)
            if found is not None:
                self._at_hand.move_to_end(key)
        return found

    def shown(self, state: JobState) -> tuple[str, Answer] | None:
        """Return key and answer as they were shown when a job stood so."""
        key = self._store.get(seen_key(state))
        found = self.find(key) if key else None
        return (key, found) if key and found else None

    def keep(self, key: str, answer: Answer, *, seen: JobState | None = None) -> None:
        """Keep an answer, its account made or not.

        Parameters
        ----------
        key : of the whole answer
        seen : the job that is shown it, as it stands
        """
        whole = answer.account == "made"
        document = answer.model_dump_json(by_alias=True)
        more = [(seen_key(seen), key)] if seen else []
        self._store.keep(key if whole else list_key(key), document, *more)
        self._hold(key, answer)

    def keep_fuller(self, key: str, answer: Answer, *, last: bool) -> None:
        """Show a whole answer in the place of one that was less full; the last one is kept.

        Parameters
        ----------
        key : of the whole answer
        """
        with self._lock:
            self._at_hand[key] = answer
        if last:
            self._store.keep(fuller_key(key), answer.model_dump_json(by_alias=True))

    def _stored(self, key: str) -> Answer | None:
        """Return the answer under a key from the store."""
        document = self._store.get(fuller_key(key), key, list_key(key))
        if document is None:
            return None
        found = Answer.model_validate_json(document)
        self._hold(key, found)
        return found

    def _hold(self, key: str, answer: Answer) -> None:
        """Keep an answer at hand; let go of the one that was not asked for longest."""
        with self._lock:
            there = self._at_hand.get(key)
            if there is None or there.account != "made":
                self._at_hand[key] = answer
            self._at_hand.move_to_end(key)
            while len(self._at_hand) > _AT_HAND:
                self._at_hand.popitem(last=False)
