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
from triage.tables import GATED

__all__ = ["combine_singles", "combine_singles_back"]


@njit(cache=True)
def combine_singles(plan: Plan, step: int, messages: Floats, first: int, ahead: Floats) -> int:
    """Combine the step's single-axis messages; return which entry of `ahead` is the whole.

    Parameters
    ----------
    first : where the single-axis children start among the step's children
    ahead : (many + 2, 2), written: entry ``k`` is the combination of the
        first ``k`` messages that are not gated
    """
    axis = plan.sequence[step]
    value = plan.sort[axis] == VALUE
    ahead[0, 0], ahead[0, 1] = 1.0, (1.0 if value else 0.0)
    count, gated = 0, -1
    for c in range(first, plan.child_start[step + 1]):
        child = plan.child[c]
        at = plan.message_start[child]
        if not value and plan.role[plan.start[child]] == GATED:
            gated = at
            continue
        off, on = messages[at], messages[at + 1]
        ahead[count + 1, 0] = ahead[count, 0] * off
        if value:
            ahead[count + 1, 1] = ahead[count, 1] * on
        else:
            ahead[count + 1, 1] = ahead[count, 1] * (off + on) + ahead[count, 0] * on
        count += 1
    if gated >= 0:
        off, on = ahead[count, 0], ahead[count, 1]
        ahead[count + 1, 0] = off * messages[gated] + on * messages[gated + 1]
        ahead[count + 1, 1] = (off + on) * messages[gated + 1]
        return count + 1
    return count


@njit(cache=True)
def combine_singles_back(
    plan: Plan, step: int, messages: Floats, first: int, work: tuple[Floats, Floats]
) -> None:
    """Replace each single-axis message by its derivative.

    `work` is `ahead` as `combine_singles` left it and the derivative (2,)
    of the whole, which is spoiled.
    """
    ahead, slope = work
    value = plan.sort[plan.sequence[step]] == VALUE
    last = plan.child_start[step + 1]
    count = last - first
    for c in range(first, last):
        child = plan.child[c]
        if not value and plan.role[plan.start[child]] == GATED:
            count -= 1
            at = plan.message_start[child]
            off, on = ahead[count, 0], ahead[count, 1]
            gate_off, gate_on = messages[at], messages[at + 1]
            low, high = slope[0], slope[1]
            messages[at] = low * off
            messages[at + 1] = low * on + high * (off + on)
            slope[0] = low * gate_off + high * gate_on
            slope[1] = (low + high) * gate_on
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
    off, on = messages[at], messages[at + 1]
    if value:
        messages[at] = slope[0] * before[0] * behind[0]
        messages[at + 1] = slope[1] * before[1] * behind[1]
        behind[0] *= off
        behind[1] *= on
        return
    rest_off = before[0] * behind[0]
    rest_on = before[1] * (behind[0] + behind[1]) + before[0] * behind[1]
    messages[at] = slope[0] * rest_off + slope[1] * rest_on
    messages[at + 1] = slope[1] * (rest_off + rest_on)
    behind[1] = behind[1] * (off + on) + behind[0] * on
    behind[0] *= off
