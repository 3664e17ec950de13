"""What can be wrong with the records, each in one sentence that says what is safe.

::

    StoreError (a TriageError)
    ├── JobNotFoundError        no such job in this shop
    ├── EventConflictError      an event id that stands for something else already
    ├── EventRefusedError       an event that may not be written
    ├── NoRecordsError          there are none at that address
    ├── SchemaBehindError       the records are older than this program
    ├── SchemaAheadError        the records are newer than this program
    ├── BrokenRecordsError      the file is no database, is damaged, or fails its own checks
    ├── RecordsFullError        no room left
    ├── RecordsReadOnlyError    they cannot be written to
    ├── RecordsBusyError        somebody else is writing for too long
    ├── RecordsUnreachableError the database does not answer
    └── TargetExistsError       the place to write to is taken
"""

from __future__ import annotations

from triage.errors import TriageError

__all__ = [
    "BrokenRecordsError",
    "EventConflictError",
    "EventRefusedError",
    "JobNotFoundError",
    "NoRecordsError",
    "RecordsBusyError",
    "RecordsFullError",
    "RecordsReadOnlyError",
    "RecordsUnreachableError",
    "SchemaAheadError",
    "SchemaBehindError",
    "StoreError",
    "TargetExistsError",
]


class StoreError(TriageError):
    """Base of everything that is wrong with the records.

    Attributes
    ----------
    problem : what is wrong, and where
    safe : what is not lost
    remedy : what to do
    """

    def __init__(self, problem: str, *, safe: str, remedy: str) -> None:
        self.problem, self.safe, self.remedy = problem, safe, remedy
        super().__init__(f"{problem}; {safe}; {remedy}")


class JobNotFoundError(StoreError):
    """There is no such job in this shop; another shop's job is none either."""

    def __init__(self, job: str) -> None:
        self.job = job
        super().__init__(
            f"there is no job {job[:80]!r}",
            safe="nothing was changed",
            remedy="look for it on the board",
        )


class EventConflictError(StoreError):
    """An event id was used before for something else."""

    def __init__(self, event: str) -> None:
        self.event = event
        super().__init__(
            f"the event id {event!r} stands for something else already",
            safe="what was recorded first is kept, this was not recorded",
            remedy="send it again under a new id",
        )


class EventRefusedError(StoreError):
    """An event may not be written."""

    def __init__(self, event: str, problem: str, remedy: str) -> None:
        self.event = event
        super().__init__(problem, safe="nothing of this sending was recorded", remedy=remedy)


class NoRecordsError(StoreError):
    """There are no records where some were expected."""


class SchemaBehindError(StoreError):
    """The records are older than this program."""


class SchemaAheadError(StoreError):
    """The records were written by a newer program."""


class BrokenRecordsError(StoreError):
    """The file is no database of ours, is damaged, or fails its own checks."""


class RecordsFullError(StoreError):
    """There is no room left to write."""


class RecordsReadOnlyError(StoreError):
    """The records cannot be written to."""


class RecordsBusyError(StoreError):
    """Somebody else has been writing for too long."""


class RecordsUnreachableError(StoreError):
    """The database does not answer, or refuses us."""


class TargetExistsError(StoreError):
    """The place to write to is taken; nothing is ever overwritten."""
