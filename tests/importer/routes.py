"""How surely a cause makes a state: the strongest chain of links, at the worse axle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from graph.terms import Link

__all__ = ["carried"]

_SKIPPED = {"front": ("rear>",), "rear": ("front>",)}
_FURTHEST = 5  # links in a chain; no chain of the knowledge that matters here is longer


def carried(cause: str, states: Mapping[str, float], links: Sequence[Link]) -> float:
    """Return how much of a check's sensitivity for a cause its states already carry.

    Parameters
    ----------
    cause : cause id
    states : mapping of state id to the check's sensitivity for it
    links : the active links

    Returns
    -------
    float
        The largest product of link strengths along a chain from the cause to a
        state, times the sensitivity for that state; the smaller of front and rear.
    """
    return min(_best(cause, states, links, skipped) for skipped in _SKIPPED.values())


def _best(
    cause: str, states: Mapping[str, float], links: Sequence[Link], skipped: tuple[str, ...]
) -> float:
    """Return the best product at one axle, by relaxing the links a few times."""
    reach = {cause: 1.0}
    for _ in range(_FURTHEST):
        for link in links:
            if link.source in reach and not link.reach.startswith(skipped):
                through = reach[link.source] * link.strength
                reach[link.target] = max(reach.get(link.target, 0.0), through)
    return max((reach.get(state, 0.0) * share for state, share in states.items()), default=0.0)
