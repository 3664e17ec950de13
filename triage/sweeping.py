"""One sweep up and one sweep down a plan give every posterior.

Upwards, each step joins its children's messages, takes in its links and gate,
sums its own axis out and passes the rest on; at the roots stands the evidence's
probability. Downwards the same operations run transposed: what comes out at a
step is the derivative of that probability, and the derivative times the table,
split by the step's own axis, is the marginal of that axis. Since every table
operation is linear in each operand this is exact, and since nothing is negative
nothing cancels [1]_.

Tables are not kept: the downward sweep builds each one again from the messages,
which is cheaper than the room they would take.

References
----------
.. [1] Darwiche, A. (2003). A differential approach to inference in Bayesian
       networks. Journal of the ACM 50(3), 280-305. (From memory.)
"""

from __future__ import annotations

import numpy as np
from numba import njit

from triage.arrays import Floats, Ints
from triage.folding import GATE, PRESENT, VALUE
from triage.planning import Plan
from triage.tables import (
    EMPTY,
    GATED,
    absorb_gate,
    absorb_gate_back,
    absorb_link,
    absorb_link_back,
    join_terms,
    offsets,
)

__all__ = ["sweep"]


@njit(cache=True)
def _layout(plan: Plan, step: int, bit: Ints, role: Ints) -> int:
    """Write the bit of each axis of the step's table; clear roles; return how many bits."""
    low, high = plan.start[step], plan.start[step + 1]
    for i in range(low, high):
        bit[plan.scope[i]] = i - low
        role[plan.scope[i]] = EMPTY
    bit[plan.sequence[step]] = high - low
    role[plan.sequence[step]] = EMPTY
    return high - low + 1


@njit(cache=True)
def _split(plan: Plan, step: int, child: int, bit: Ints, role: Ints) -> tuple[Ints, ...]:
    """Sort the axes of a table and a child's message by how they meet.

    Returns
    -------
    shared bits in the table, shared kinds, shared bits in the message;
    plain bits in the table and message (value axes and axes only the message
    has filled), and whether the table is read there; bits only the table has.
    """
    low, high = plan.start[child], plan.start[child + 1]
    many = high - low
    width = plan.start[step + 1] - plan.start[step] + 1
    shared_t, shared_k, shared_m = (
        np.empty(many, np.int64),
        np.empty(many, np.int64),
        np.empty(many, np.int64),
    )
    plain_t, plain_m, plain_read = (
        np.empty(many, np.int64),
        np.empty(many, np.int64),
        np.empty(many, np.int64),
    )
    in_message = np.zeros(width, np.bool_)
    shared, plain = 0, 0
    for i in range(many):
        axis = plan.scope[low + i]
        in_message[bit[axis]] = True
        if plan.sort[axis] != VALUE and role[axis] != EMPTY:
            shared_t[shared], shared_m[shared] = bit[axis], i
            if plan.role[low + i] == GATED:
                shared_k[shared] = 2
            else:
                shared_k[shared] = 1 if role[axis] == GATED else 0
            shared += 1
        else:
            plain_t[plain], plain_m[plain] = bit[axis], i
            plain_read[plain] = 1 if plan.sort[axis] == VALUE else 0
            plain += 1
    rest = np.empty(width, np.int64)
    left = 0
    for i in range(plan.start[step], plan.start[step + 1] + 1):
        axis = plan.scope[i] if i < plan.start[step + 1] else plan.sequence[step]
        if not in_message[bit[axis]] and (plan.sort[axis] == VALUE or role[axis] != EMPTY):
            rest[left] = bit[axis]
            left += 1
    return (
        shared_t[:shared],
        shared_k[:shared],
        shared_m[:shared],
        plain_t[:plain],
        plain_m[:plain],
        plain_read[:plain],
        rest[:left],
    )


@njit(cache=True)
def _take_roles(plan: Plan, child: int, role: Ints) -> None:
    """After joining a message its collector axes are filled, and gated if it was."""
    for i in range(plan.start[child], plan.start[child + 1]):
        axis = plan.scope[i]
        if plan.sort[axis] != VALUE and role[axis] != GATED:
            role[axis] = plan.role[i]


@njit(cache=True)
def _masked(bits: Ints, mask: Ints) -> Ints:
    """Return `offsets` where bits whose mask is 0 count nothing."""
    count = bits.shape[0]
    out = np.zeros(1 << count, np.int64)
    for b in range(count):
        step, half = (np.int64(1) << bits[b]) * mask[b], 1 << b
        for i in range(half):
            out[half + i] = out[i] + step
    return out


@njit(cache=True)
def _thirds(message: Floats, shared: Ints, plain: Ints) -> Floats:
    """Return the message as (3**shared, 2**plain, lanes): off, all, on a shared axis."""
    lanes = message.shape[1]
    plain_at = offsets(plain, plain.shape[0])
    count = shared.shape[0]
    out = np.zeros((3**count, plain_at.shape[0], lanes))
    corner = offsets(shared, count)
    for i in range(corner.shape[0]):
        at, digit, rest = 0, 1, i
        for _ in range(count):
            at += 2 * digit * (rest & 1)
            rest >>= 1
            digit *= 3
        for j in range(plain_at.shape[0]):
            for b in range(lanes):
                out[at, j, b] = message[corner[i] + plain_at[j], b]
    digit = 1
    for _ in range(count):
        for i in range(out.shape[0]):
            if (i // digit) % 3 == 1:
                for j in range(plain_at.shape[0]):
                    for b in range(lanes):
                        out[i, j, b] = out[i - digit, j, b] + out[i + digit, j, b]
        digit *= 3
    return out


@njit(cache=True)
def _thirds_back(grown: Floats, message: Floats, shared: Ints, plain: Ints) -> None:
    """Transpose of `_thirds`: write the derivative of the message; spoils `grown`."""
    lanes = message.shape[1]
    plain_at = offsets(plain, plain.shape[0])
    count = shared.shape[0]
    digit = 1
    for _ in range(count):
        for i in range(grown.shape[0]):
            if (i // digit) % 3 == 1:
                for j in range(plain_at.shape[0]):
                    for b in range(lanes):
                        grown[i - digit, j, b] += grown[i, j, b]
                        grown[i + digit, j, b] += grown[i, j, b]
        digit *= 3
    corner = offsets(shared, count)
    for i in range(corner.shape[0]):
        at, digit, rest = 0, 1, i
        for _ in range(count):
            at += 2 * digit * (rest & 1)
            rest >>= 1
            digit *= 3
        for j in range(plain_at.shape[0]):
            for b in range(lanes):
                message[corner[i] + plain_at[j], b] = grown[at, j, b]


@njit(cache=True)
def _join(table: Floats, message: Floats, out: Floats, size: int, parts: tuple[Ints, ...]) -> None:
    """Write the join of a table and a message into `out`."""
    shared_t, shared_k, shared_m, plain_t, plain_m, plain_read, rest = parts
    out[:size] = 0.0
    grown = _thirds(message, shared_m, plain_m)
    term_t, term_m, term_o = join_terms(shared_k, shared_t, shared_t.shape[0])
    read = _masked(plain_t, plain_read)
    write = offsets(plain_t, plain_t.shape[0])
    along = offsets(rest, rest.shape[0])
    lanes = message.shape[1]
    for t in range(term_t.shape[0]):
        for p in range(read.shape[0]):
            at_t, at_o = term_t[t] + read[p], term_o[t] + write[p]
            for r in range(along.shape[0]):
                for b in range(lanes):
                    out[at_o + along[r], b] += (
                        table[at_t + along[r], b] * grown[term_m[t], p, b]
                    )


@njit(cache=True)
def _join_back(
    table: Floats, message: Floats, slope: Floats, slope_table: Floats, parts: tuple[Ints, ...]
) -> Floats:
    """Transpose of `_join`: fill `slope_table`, return the message's derivative."""
    shared_t, shared_k, shared_m, plain_t, plain_m, plain_read, rest = parts
    grown = _thirds(message, shared_m, plain_m)
    back = np.zeros_like(grown)
    term_t, term_m, term_o = join_terms(shared_k, shared_t, shared_t.shape[0])
    read = _masked(plain_t, plain_read)
    write = offsets(plain_t, plain_t.shape[0])
    along = offsets(rest, rest.shape[0])
    lanes = message.shape[1]
    for t in range(term_t.shape[0]):
        for p in range(read.shape[0]):
            at_t, at_o = term_t[t] + read[p], term_o[t] + write[p]
            for r in range(along.shape[0]):
                for b in range(lanes):
                    flow = slope[at_o + along[r], b]
                    slope_table[at_t + along[r], b] += flow * grown[term_m[t], p, b]
                    back[term_m[t], p, b] += flow * table[at_t + along[r], b]
    out = np.empty_like(message)
    _thirds_back(back, out, shared_m, plain_m)
    return out


@njit(cache=True)
def _build(
    plan: Plan, step: int, messages: Floats, stack: Floats, bit: Ints, role: Ints
) -> list[tuple[Ints, ...]]:
    """Fill the step's tables, one for each child joined; return how each met.

    Table ``k`` of the stack is the join of the first ``k`` children; the last
    one has also taken in the step's links.
    """
    width = _layout(plan, step, bit, role)
    size = 1 << width
    met = [_split(plan, step, step, bit, role) for _ in range(0)]
    _unit(plan, step, stack[:size], bit)
    level = 0
    for c in range(plan.child_start[step], plan.child_start[step + 1]):
        child = plan.child[c]
        parts = _split(plan, step, child, bit, role)
        message = messages[plan.message_start[child] : plan.message_start[child + 1]]
        _join(
            stack[level * size : (level + 1) * size],
            message,
            stack[(level + 1) * size : (level + 2) * size],
            size,
            parts,
        )
        _take_roles(plan, child, role)
        met.append(parts)
        level += 1
    table = stack[level * size : (level + 1) * size]
    for k in range(plan.link_start[step], plan.link_start[step + 1]):
        collector = plan.link_collector[k]
        absorb_link(
            table,
            size,
            bit[plan.link_value[k]],
            bit[collector],
            (plan.link_strength[k], role[collector]),
        )
    return met


@njit(cache=True)
def _unit(plan: Plan, step: int, table: Floats, bit: Ints) -> None:
    """Fill a table with ones where every collector is off, zeros elsewhere."""
    collectors = 0
    for i in range(plan.start[step], plan.start[step + 1] + 1):
        axis = plan.scope[i] if i < plan.start[step + 1] else plan.sequence[step]
        if plan.sort[axis] != VALUE:
            collectors |= 1 << bit[axis]
    for i in range(table.shape[0]):
        table[i] = 0.0 if i & collectors else 1.0


@njit(cache=True)
def _sum_out(
    plan: Plan, step: int, table: Floats, weights: tuple[Floats, Floats], look: tuple[Ints, Ints]
) -> None:
    """Sum the step's own axis out, leaving the message in the table's lower half."""
    unary, gate = weights
    bit, role = look
    axis = plan.sequence[step]
    half, lanes = table.shape[0] // 2, table.shape[1]
    if plan.sort[axis] == VALUE:
        other = plan.partner[axis]
        if other >= 0 and plan.position[other] > step:
            absorb_gate(table, table.shape[0], bit[axis], bit[other], gate[other])
        for i in range(half):
            for b in range(lanes):
                table[i, b] = table[i, b] * unary[axis, 0, b] + (
                    table[half + i, b] * unary[axis, 1, b]
                )
        return
    if role[axis] == GATED:
        return
    value = 0
    if plan.sort[axis] == GATE:
        value = 1 << bit[plan.partner[axis]]
    for i in range(half):
        v = 1 if i & value else 0
        for b in range(lanes):
            table[i, b] = table[i, b] * gate[axis, 0, v, b] + (
                table[half + i, b] * gate[axis, 1, v, b]
            )


@njit(cache=True)
def _sum_out_back(
    plan: Plan,
    step: int,
    tables: tuple[Floats, Floats, Floats],
    weights: tuple[Floats, Floats],
    look: tuple[Ints, Ints],
    marginal: Floats,
) -> None:
    """Spread the message's derivative over the table; note the own axis' marginal."""
    table, above, slope = tables
    unary, gate = weights
    bit, role = look
    axis = plan.sequence[step]
    half, lanes = table.shape[0] // 2, table.shape[1]
    if plan.sort[axis] == VALUE:
        other = plan.partner[axis]
        gates_here = other >= 0 and plan.position[other] > step
        if gates_here:
            absorb_gate(table, table.shape[0], bit[axis], bit[other], gate[other])
        total = np.zeros((2, lanes))
        for i in range(half):
            for b in range(lanes):
                low, high = above[i, b] * unary[axis, 0, b], above[i, b] * unary[axis, 1, b]
                slope[i, b], slope[half + i, b] = low, high
                total[0, b] += low * table[i, b]
                total[1, b] += high * table[half + i, b]
        for b in range(lanes):
            marginal[axis, b] = total[1, b] / (total[0, b] + total[1, b])
        if gates_here:
            absorb_gate_back(slope, table.shape[0], bit[axis], bit[other], gate[other])
        return
    if role[axis] == GATED:
        slope[:half] = above
        slope[half:] = 0.0
        return
    value = 0
    if plan.sort[axis] == GATE:
        value = 1 << bit[plan.partner[axis]]
    for i in range(half):
        v = 1 if i & value else 0
        for b in range(lanes):
            slope[i, b] = above[i, b] * gate[axis, 0, v, b]
            slope[half + i, b] = above[i, b] * gate[axis, 1, v, b]


@njit(cache=True)
def _normalise(message: Floats, log_total: Floats) -> None:
    """Scale each lane of a message to a largest entry of one; keep the logs."""
    for b in range(message.shape[1]):
        top = 0.0
        for i in range(message.shape[0]):
            top = max(top, message[i, b])
        log_total[b] += np.log(top)
        if top > 0.0:
            for i in range(message.shape[0]):
                message[i, b] /= top


@njit(cache=True)
def _room(plan: Plan) -> int:
    """Return how many entries the largest stack of tables needs."""
    most = 1
    for step in range(plan.sequence.shape[0]):
        width = plan.start[step + 1] - plan.start[step] + 1
        tables = plan.child_start[step + 1] - plan.child_start[step] + 1
        most = max(most, tables << width)
    return most


@njit(cache=True)
def _down(
    plan: Plan,
    weights: tuple[Floats, Floats],
    messages: Floats,
    stack: Floats,
    marginal: Floats,
) -> None:
    """The downward sweep; messages are replaced by their derivatives."""
    steps, lanes = plan.sequence.shape[0], messages.shape[1]
    bit, role = np.zeros(steps, np.int64), np.zeros(steps, np.int64)
    for step in range(steps - 1, -1, -1):
        met = _build(plan, step, messages, stack, bit, role)
        size = 1 << (plan.start[step + 1] - plan.start[step] + 1)
        level = len(met)
        above = messages[plan.message_start[step] : plan.message_start[step + 1]]
        if plan.start[step + 1] == plan.start[step]:
            above[:] = 1.0
        slope = np.empty((size, lanes))
        table = stack[level * size : (level + 1) * size]
        _sum_out_back(plan, step, (table, above, slope), weights, (bit, role), marginal)
        for k in range(plan.link_start[step + 1] - 1, plan.link_start[step] - 1, -1):
            collector = plan.link_collector[k]
            absorb_link_back(
                slope,
                size,
                bit[plan.link_value[k]],
                bit[collector],
                (plan.link_strength[k], role[collector]),
            )
        for c in range(level - 1, -1, -1):
            child = plan.child[plan.child_start[step] + c]
            message = messages[plan.message_start[child] : plan.message_start[child + 1]]
            before = np.zeros((size, lanes))
            back = _join_back(stack[c * size : (c + 1) * size], message, slope, before, met[c])
            for b in range(lanes):
                total = 0.0
                for i in range(message.shape[0]):
                    total += message[i, b] * back[i, b]
                for i in range(message.shape[0]):
                    message[i, b] = back[i, b] / total
            slope = before


@njit(cache=True)
def sweep(plan: Plan, unary: Floats, gate: Floats, down: bool) -> tuple[Floats, Floats]:
    """Return the log evidence of every lane and, if asked, every marginal.

    Parameters
    ----------
    plan : Plan
    unary : (axes, 2, lanes) weights of the value axes
    gate : (axes, 2, 2, lanes) gates of the collector axes, [collected, value]
    down : whether the marginals are wanted

    Returns
    -------
    log_evidence : (lanes,) natural logs, -inf where the lane is impossible
    marginal : (axes, lanes) P(on) of each value axis; nan on other axes, on
        impossible lanes and when not asked for
    """
    steps, lanes = plan.sequence.shape[0], unary.shape[2]
    log_total = np.zeros(lanes)
    marginal = np.full((steps, lanes), np.nan)
    if steps == 0:
        return log_total, marginal
    messages = np.empty((plan.message_start[steps], lanes))
    stack = np.empty((_room(plan), lanes))
    bit, role = np.zeros(steps, np.int64), np.zeros(steps, np.int64)
    weights = (unary, gate)
    for step in range(steps):
        level = len(_build(plan, step, messages, stack, bit, role))
        size = 1 << (plan.start[step + 1] - plan.start[step] + 1)
        table = stack[level * size : (level + 1) * size]
        _sum_out(plan, step, table, weights, (bit, role))
        message = messages[plan.message_start[step] : plan.message_start[step + 1]]
        message[:] = table[: size // 2]
        _normalise(message, log_total)
    if down:
        _down(plan, weights, messages, stack, marginal)
    return log_total, marginal
