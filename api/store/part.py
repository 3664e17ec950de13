"""What the parts of the records have in common: the database they share, and the clock."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from api.store.database import Database

__all__ = ["Part"]


class Part:
    """One part of the records.

    Parameters
    ----------
    database : open, and of the right shape
    clock : returns the time of the server with its zone
    """

    def __init__(self, database: Database, clock: Callable[[], datetime]) -> None:
        self._database, self._clock = database, clock
