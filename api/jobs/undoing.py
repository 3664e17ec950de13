"""What the undo bar takes back.

The one idea: the last thing that this person wrote and that still counts. What the program
itself wrote, and what somebody else wrote meanwhile, is not touched by a tap on undo.
"""

from __future__ import annotations

from api.store.events import WRITTEN_BY_SERVER, TakenBack
from api.store.fold import JobState

__all__ = ["latest_own"]


def latest_own(state: JobState, person: str) -> str | None:
    """Return the id of the last event of a person that counts, or nothing.

    Parameters
    ----------
    person : id; the write-up that opened the job stays
    """
    for row in reversed(state.history):
        event = row.recorded
        skipped = isinstance(event.body, TakenBack) or event.body.kind in WRITTEN_BY_SERVER
        if event.who.id == person and not row.taken_back and not skipped and event.seq > 1:
            return event.id
    return None
