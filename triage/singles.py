"""Messages that range over one axis only: combined among themselves first.

A hub with two hundred parents gets two hundred such messages. Each is a pair of
numbers; on a value axis they multiply, on a collector axis they are joined by OR,
and the one that is gated, if there is one, pulls all the others through. Their
derivatives come from products of what lies before and behind each of them.
"""

from __future__ import annotations

from numba import njit

from triage.arrays import Floats
from triage.folding import VALUE
from triage.planning import Plan
from triage.tables import COLLECTING, EMPTY, GATED

__all__ = ["combine_singles", "combine_singles_back"]


@njit(cache=True)
def combine_singles(plan: Plan, step: int, messages: Floats, first: int, ahead: Floats) -> int:
    """Combine the step's single-axis messages; return the role of the own axis.

    Parameters
    ----------
    first : where the single-axis children start among the step's children
    ahead : (many + 2, 2, lanes), written: entry ``k`` is the combination of the
        first ``k`` messages that are not gated; the last used entry is the whole
    """
    axis, lanes = plan.sequence[step], messages.shape[1]
    value = plan.sort[axis] == VALUE
    ahead[0, 0], ahead[0, 1] = 1.0, (1.0 if value else 0.0)
    count, gated = 0, -1
    for c in range(first, plan.child_start[step + 1]):
        child = plan.child[c]
        at = plan.message_start[child]
        if not value and plan.role[plan.start[child]] == GATED:
            gated = at
            continue
        for b in range(lanes):
            off, on = messages[at, b], messages[at + 1, b]
            if value:
                ahead[count + 1, 0, b] = ahead[count, 0, b] * off
                ahead[count + 1, 1, b] = ahead[count, 1, b] * on
            else:
                ahead[count + 1, 0, b] = ahead[count, 0, b] * off
                ahead[count + 1, 1, b] = ahead[count, 1, b] * (off + on) + ahead[count, 0, b] * on
        count += 1
    if gated >= 0:
        for b in range(lanes):
            off, on = ahead[count, 0, b], ahead[count, 1, b]
            ahead[count + 1, 0, b] = off * messages[gated, b] + on * messages[gated + 1, b]
            ahead[count + 1, 1, b] = (off + on) * messages[gated + 1, b]
        return GATED
    ahead[count + 1] = ahead[count]
    if value or count == 0:
        return EMPTY
    return COLLECTING


@njit(cache=True)
def combine_singles_back(
    plan: Plan, step: int, messages: Floats, first: int, work: tuple[Floats, Floats]
) -> None:
    """Replace each single-axis message by its derivative.

    `work` is `ahead` as `combine_singles` left it and the derivative (2, lanes)
    of the whole, which is spoiled.
    """
    ahead, slope = work
    axis, lanes = plan.sequence[step], messages.shape[1]
    value = plan.sort[axis] == VALUE
    last = plan.child_start[step + 1]
    count = last - first
    for c in range(first, last):
        child = plan.child[c]
        if not value and plan.role[plan.start[child]] == GATED:
            count -= 1
            at = plan.message_start[child]
            for b in range(lanes):
                off, on = ahead[count, 0, b], ahead[count, 1, b]
                gate_off, gate_on = messages[at, b], messages[at + 1, b]
                low, high = slope[0, b], slope[1, b]
                messages[at, b] = low * off
                messages[at + 1, b] = low * on + high * (off + on)
                slope[0, b] = low * gate_off + high * gate_on
                slope[1, b] = (low + high) * gate_on
    behind = ahead[count + 1]
    behind[0], behind[1] = 1.0, (1.0 if value else 0.0)
    for c in range(last - 1, first - 1, -1):
        child = plan.child[c]
        if not value and plan.role[plan.start[child]] == GATED:
            continue
        count -= 1
        _one_back(messages, plan.message_start[child], (ahead[count], behind, slope), value)


@njit(cache=True)
def _one_back(messages: Floats, at: int, work: tuple[Floats, Floats, Floats], value: bool) -> None:
    """Replace one message by its derivative and take it into `behind`."""
    before, behind, slope = work
    for b in range(messages.shape[1]):
        off, on = messages[at, b], messages[at + 1, b]
        if value:
            messages[at, b] = slope[0, b] * before[0, b] * behind[0, b]
            messages[at + 1, b] = slope[1, b] * before[1, b] * behind[1, b]
            behind[0, b] *= off
            behind[1, b] *= on
            continue
        rest_off = before[0, b] * behind[0, b]
        rest_on = before[1, b] * (behind[0, b] + behind[1, b]) + before[0, b] * behind[1, b]
        messages[at, b] = slope[0, b] * rest_off + slope[1, b] * rest_on
        messages[at + 1, b] = slope[1, b] * (rest_off + rest_on)
        behind[1, b] = behind[1, b] * (off + on) + behind[0, b] * on
        behind[0, b] *= off
