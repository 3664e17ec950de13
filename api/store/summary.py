"""What the board asks of a job, kept beside its id: worked out from its events, never typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import RowMapping

from api.store.fold import JobState

__all__ = ["BEARS_ON_SUMMARY", "JobSummary", "columns_of", "summary_from"]

#: Kinds of event that change more of the summary than its version and time.
BEARS_ON_SUMMARY = frozenset(
    {"written-up", "code-read", "waiting", "closed", "comeback", "taken-back"}
)


@dataclass(frozen=True, slots=True)
class JobSummary:
    """A line of the board."""

    job: str
    shop: str
    ticket: str
    label: str
    opened: datetime
    last: datetime
    version: int
    waiting_for: str
    is_open: bool
    comebacks: int


def summary_from(row: RowMapping) -> JobSummary:
    """Return a row of the table as a line of the board."""
    return JobSummary(
        job=row["id"],
        shop=row["shop"],
        ticket=row["ticket"],
        label=row["label"],
        opened=row["opened"],
        last=row["last"],
        version=row["version"],
        waiting_for=row["waiting_for"],
        is_open=row["is_open"],
        comebacks=row["comebacks"],
    )


def columns_of(state: JobState) -> dict[str, Any]:
    """Return what the table keeps of a state, apart from its hash."""
    words = (
        state.ticket,
        state.case.vehicle.label,
        state.case.complaint,
        *(code.code for code in state.case.codes),
    )
    return {
        "opened": state.opened,
        "last": state.last,
        "version": state.version,
        "ticket": state.ticket,
        "label": state.case.vehicle.label,
        "waiting_for": state.waiting_for,
        "is_open": state.closed is None,
        "comebacks": len(state.comebacks),
        "search": " ".join(words).casefold(),
    }
