"""What must come before what on the list, and the chains that follow from it.

Four kinds of rule, in this order; a rule that would close a circle with an
earlier one is left out:

1. *first*: before everything else (an open safety gate closes on it);
2. *gates*: a set-up is entered only when these checks have been done (before the
   car is driven); they are put on the list together with the first check there;
3. *before*: of two checks that are both on the list one comes earlier (tight
   joints before the alignment rack, saving before clearing);
4. *refit*: where a wheel has been off, its nuts are tightened before the car moves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from triage.sequencing import Chain

__all__ = ["NO_RULES", "Refit", "Rules", "chains_of", "predecessors"]


@dataclass(frozen=True, slots=True)
class Refit:
    """Tightening the wheels: due on the way from one set-up to another."""

    off: str  # set-up in which a wheel is off
    road: str  # set-up in which the car is driven
    setup: str  # where the nuts are tightened
    minutes: float
    offer: int = -1  # the check offered that does the same, if there is one


@dataclass(frozen=True, slots=True)
class Rules:
    """Rules over the offers, which are named by their index.

    Attributes
    ----------
    first : offers that come first whatever they bring
    gates : set-up -> offers done before the first check in it
    before : pairs of sets; whatever is listed of the one comes before the other
    refit : tightening the wheels, if it is to be watched
    """

    first: tuple[int, ...] = ()
    gates: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    before: tuple[tuple[frozenset[int], frozenset[int]], ...] = ()
    refit: Refit | None = None


#: Nothing has to come before anything.
NO_RULES = Rules()


def predecessors(
    jobs: Sequence[int], setups: Sequence[str], rules: Rules
) -> dict[int, frozenset[int]]:
    """Return for each listed offer the listed offers that come before it.

    Parameters
    ----------
    jobs : offers on the list
    setups : set-up of every offer
    rules : Rules

    Returns
    -------
    dict
        Closed: a predecessor's predecessors are among them; without a circle.

    Examples
    --------
    >>> rules = Rules(gates={"road": (0,)}, before=((frozenset({1}), frozenset({0})),))
    >>> predecessors([0, 1, 2], ["walk", "walk", "road"], rules)[2] == {0, 1}
    True
    """
    before: dict[int, set[int]] = {job: set() for job in jobs}
    for early, late in _pairs(before.keys(), setups, rules):
        if early == late or late in before[early]:
            continue
        found = before[early] | {early}
        for job, known in before.items():
            if job == late or late in known:
                known |= found
    return {job: frozenset(known) for job, known in before.items()}


def _pairs(listed: Iterable[int], setups: Sequence[str], rules: Rules) -> Iterable[tuple[int, int]]:
    """Yield pairs (early, late), the strictest rule first."""
    jobs = list(listed)
    first = [job for job in jobs if job in rules.first]
    yield from ((early, late) for early in first for late in jobs if late not in first)
    for setup, needed in rules.gates.items():
        inside = [job for job in jobs if setups[job] == setup]
        yield from ((early, late) for early in needed if early in jobs for late in inside)
    for early_ones, late_ones in rules.before:
        early = [job for job in jobs if job in early_ones]
        late = [job for job in jobs if job in late_ones and job not in early_ones]
        yield from ((one, other) for one in early for other in late)


def chains_of(
    needs: Mapping[int, frozenset[int]],
    places: Mapping[int, int],
    value: Mapping[int, tuple[float, float]],
    clears: int = -1,
) -> list[Chain]:
    """Return the listed offers as chains.

    Parameters
    ----------
    needs : as `predecessors` returns it
    places : index of each offer's set-up
    value : weight and minutes of each offer
    clears : the offer that tightens the wheels, or -1

    Returns
    -------
    list of Chain
        Offers of one chain have one set-up, the same predecessors and successors.
    """
    after = {job: frozenset(late for late in needs if job in needs[late]) for job in needs}
    groups: dict[tuple[int, frozenset[int], frozenset[int], bool], list[int]] = {}
    for job in needs:
        key = (places[job], needs[job], after[job], job == clears)
        groups.setdefault(key, []).append(job)
    home = {job: c for c, members in enumerate(groups.values()) for job in members}
    chains = []
    for (setup, early, _, clearing), members in groups.items():
        order = sorted(members, key=lambda job: -_rate(*value[job]))
        weights, times = zip(*(value[job] for job in order), strict=True)
        waits = frozenset(home[job] for job in early)
        chains.append(Chain(setup, tuple(order), weights, times, waits, clearing))
    return chains


def _rate(weight: float, minutes: float) -> float:
    """Return value for minutes; what takes no time goes first."""
    return weight / minutes if minutes > 0.0 else float("inf")
