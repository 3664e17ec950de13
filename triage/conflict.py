"""Which statements cannot hold together: the smallest conflicting set.

Evidence of probability zero is a contradiction in what was typed in, and the
person who typed it needs to know which statements clash. Statements are first
dropped one by one while the rest stays impossible; what is left is a conflict
from which nothing can be dropped. Smaller conflicts elsewhere are then looked
for, size by size, so that the set returned is the smallest there is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import combinations

from triage.model import Network

__all__ = ["smallest_conflict"]

#: Sets larger than this are not searched one by one; see `smallest_conflict`.
_SEARCHED = 20_000


def smallest_conflict(
    network: Network,
    evidence: Mapping[str, bool | float],
    is_possible: Callable[[Network, Mapping[str, bool | float]], bool],
) -> tuple[str, ...]:
    """Return the ids of the smallest set of statements that has probability zero.

    Parameters
    ----------
    network, evidence : a pair for which ``is_possible`` is False
    is_possible : tells whether some evidence has a probability above zero

    Notes
    -----
    Likelihood ratios are above zero and can never be part of a conflict. When
    there are more than 20,000 sets of a size to try, the conflict from which
    nothing can be dropped is returned as it is.
    """
    core = {key: value for key, value in evidence.items() if isinstance(value, bool)}
    hard = dict(core)
    for key in list(core):
        rest = {other: value for other, value in core.items() if other != key}
        if not is_possible(network, rest):
            core = rest
    tried = 0
    for size in range(1, len(core)):
        for keys in combinations(hard, size):
            tried += 1
            if tried > _SEARCHED:
                return tuple(core)
            if not is_possible(network, {key: hard[key] for key in keys}):
                return keys
    return tuple(core)
