"""Many small writes in one transaction: each waits for the disk once, not one after the other.

The one idea: whoever comes first does the work of all who wait. A write is confirmed when the
transaction that holds it is on the disk, and each can still fail by itself: it has a savepoint
of its own.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any, TypeVar

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

__all__ = ["Together"]

_T = TypeVar("_T")
#: So many in one transaction at most: others want to read what was written, soon.
_MOST = 64


class _Wanted:
    """One piece of work, and what became of it."""

    def __init__(self, work: Callable[[Connection], Any]) -> None:
        self.work = work
        self.result: Any = None
        self.error: BaseException | None = None
        self.done = False


class Together:
    """The queue before a database's one writer.

    Parameters
    ----------
    transaction : begins one that may write, commits when left, rolls back on an error
    """

    def __init__(self, transaction: Callable[[], AbstractContextManager[Connection]]) -> None:
        self._transaction = transaction
        self._waiting: deque[_Wanted] = deque()
        self.turn = threading.Lock()  # threads of one process take turns here

    def write(self, work: Callable[[Connection], _T]) -> _T:
        """Do a piece of work in a transaction; return what it returned once that is on the disk.

        Parameters
        ----------
        work : takes the connection; may run in another thread than the caller's

        Raises
        ------
        Exception
            What the work raised, with nothing of it kept; or what the transaction raised, with
            nothing kept of all who shared it.
        """
        mine = _Wanted(work)
        self._waiting.append(mine)
        with self.turn:
            while not mine.done:
                self._do([self._waiting.popleft() for _ in range(min(len(self._waiting), _MOST))])
        if mine.error is not None:
            raise mine.error
        result: _T = mine.result
        return result

    def _do(self, batch: list[_Wanted]) -> None:
        """Do the work of several in one transaction."""
        try:
            with self._transaction() as connection:
                for one in batch:
                    _try(connection, one)
        except BaseException as error:
            for one in batch:
                one.error = one.error or error
            if not isinstance(error, Exception):
                raise
        finally:
            for one in batch:
                one.done = True


def _try(connection: Connection, one: _Wanted) -> None:
    """Do one piece; trouble of the database is everybody's, all else is its own."""
    try:
        with connection.begin_nested():
            one.result = one.work(connection)
    except DBAPIError:
        raise
    except Exception as error:
        one.error = error
