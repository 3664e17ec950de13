"""Which events count: undo and redo are events too.

A *taken back* takes an event out, and taking that back puts it in again, and so on. Of all
that was said about one event the last word counts, whoever said it: two people who both press
undo take it out once, and one redo puts it in again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from api.store.events import Recorded, TakenBack

__all__ = ["aim_of", "taken_back"]


def aim_of(event: str, aims: Mapping[str, str]) -> tuple[str, bool]:
    """Return the event that a chain of taking back is about, and whether it takes it out.

    Parameters
    ----------
    event : id of the last of the chain
    aims : for each taking back, the id of what it takes back

    Examples
    --------
    >>> aims = {"undo": "verdict", "redo": "undo"}
    >>> aim_of("undo", aims), aim_of("redo", aims)
    (('verdict', True), ('verdict', False))
    """
    steps = 0
    while event in aims:
        event, steps = aims[event], steps + 1
    return event, steps % 2 == 1


def taken_back(events: Iterable[Recorded]) -> dict[str, str]:
    """Return the ids of the events that count for nothing, with the name of who took each back."""
    aims: dict[str, str] = {}
    gone: dict[str, str] = {}
    for event in events:
        if not isinstance(event.body, TakenBack):
            continue
        aims[event.id] = event.body.event
        reached, out = event.id, True
        while reached in aims:
            reached = aims[reached]
            gone.pop(reached, None)
            if out:
                gone[reached] = event.who.name
            out = not out
    return gone
