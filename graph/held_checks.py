"""What a check can still tell once another one that the same thing fools has spoken.

What such checks say of one target together is limited (`graph.verdict_evidence`). So
after the first of them a further one can move the odds by less than its sensitivity and
specificity say, and it must not be valued as if it were a fresh look. Of the range of its
two log ratios only a share is left; the chances of "found" are drawn together by it::

    on' = m + share * (on - m),   off' = m - share * (m - off),   m = (on + off) / 2
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from graph.compiled import CheckItem, VerdictNode
from graph.terms import Confounder

__all__ = ["held_back", "held_total"]

#: (check, target) -> sum of the log ratios that its verdicts gave, before they are held
Told = Mapping[tuple[str, str], float]


def held_total(speakers: Mapping[str, float], cap: float) -> float:
    """Return what several checks say together, as a log ratio held at the cap of their group.

    Parameters
    ----------
    speakers : check -> log ratio of all that it says of one target
    cap : largest combined ratio; never below what the strongest says alone

    Examples
    --------
    >>> round(math.exp(held_total({"a": math.log(8), "b": math.log(6)}, 10.0)), 6)
    10.0
    """
    total = sum(speakers.values())
    if len(speakers) < 2 or total == 0.0:
        return total
    alone = max(speakers.values()) if total > 0.0 else -min(speakers.values())
    return math.copysign(min(abs(total), max(math.log(cap), alone)), total)


def held_back(item: CheckItem, told: Told, groups: Iterable[Confounder]) -> CheckItem:
    """Return a check as it can still be valued.

    Parameters
    ----------
    item : a check that has not been done
    told : what other checks have said
    groups : of checks that the same thing fools

    Notes
    -----
    A check with one verdict stays as it is: its node carries what it tells.
    """
    mine = [group for group in groups if item.id in group.checks]
    if not told or not mine:
        return item
    return replace(item, verdicts=tuple(_held(item.id, v, told, mine) for v in item.verdicts))


def _held(check: str, verdict: VerdictNode, told: Told, groups: list[Confounder]) -> VerdictNode:
    """Return one verdict with its chances drawn together."""
    on, off = verdict.p_found_if_on, verdict.p_found_if_off
    if verdict.node is not None or not 0.0 < off < on < 1.0:
        return verdict
    steps = math.log(on / off), math.log((1.0 - on) / (1.0 - off))
    share = 1.0
    for group in groups:
        before = {
            other: log
            for (other, target), log in told.items()
            if target == verdict.target and other in group.checks and other != check
        }
        if before:
            now = held_total(before, group.cap)
            found, not_found = (held_total({**before, check: s}, group.cap) - now for s in steps)
            share = min(share, max(found - not_found, 0.0) / (steps[0] - steps[1]))
    if share == 1.0:
        return verdict
    middle, half = (on + off) / 2.0, (on - off) / 2.0
    return replace(
        verdict, p_found_if_on=middle + share * half, p_found_if_off=middle - share * half
    )
