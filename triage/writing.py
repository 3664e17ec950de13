"""Going through an elimination once, to write its circuit down.

Each step joins the messages left to it, the smallest first, takes in its links
and its gate, and sums its own axis out, just as a sweep does (`triage.sweeping`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Flags, Floats, Ints
from triage.bare import bare
from triage.circuit import CONSTANTS, NODES, ONE, OPS, UNIT, ZERO, Circuit, Pen, add_term, new_pen
from triage.folding import GATE, VALUE, Folded
from triage.tables import GATED
from triage.tracing import Desk, Left, begin, gate, join, leave, link, new_desk, summed

__all__ = ["write_circuit"]


class Course(NamedTuple):
    """What each step takes in."""

    sequence: Ints
    position: Ints
    sort: Ints
    partner: Ints  # of each axis: the other axis of its gate, -1 for none
    weight: Ints  # of each axis: the place of the first of its weights
    spare: Ints  # of each collector: the name of its weight for "collected, value off"
    child: Ints  # (steps,) first message left to a step ...
    after: Ints  # ... and the one after each message
    link: Ints  # (steps,) first link of a step ...
    link_after: Ints  # ... and the one after each link
    link_value: Ints
    link_collector: Ints
    link_strength: Floats


@njit(cache=True)
def _course(folded: Folded, sequence: Ints, position: Ints) -> Course:
    """Return what each step takes in; messages are not there yet."""
    steps, many = sequence.shape[0], folded.link_value.shape[0]
    partner = np.full(steps, -1)
    for axis in range(steps):
        if folded.axis_sort[axis] == GATE:
            other = folded.value_axis[folded.axis_node[axis]]
            partner[axis], partner[other] = other, axis
    first, after = np.full(steps, -1), np.full(many, -1)
    for k in range(many):
        step = min(position[folded.link_value[k]], position[folded.link_collector[k]])
        after[k], first[step] = first[step], k
    return Course(
        sequence,
        position,
        folded.axis_sort,
        partner,
        np.zeros(steps, np.int64),
        np.full(steps, ZERO),
        np.full(steps, -1),
        np.full(steps, -1),
        first,
        after,
        folded.link_value,
        folded.link_collector,
        folded.link_strength,
    )


@njit(cache=True)
def _bare_course(c: Course) -> Course:
    """Return it with bare arrays."""
    return Course(
        bare(c.sequence),
        bare(c.position),
        bare(c.sort),
        bare(c.partner),
        bare(c.weight),
        bare(c.spare),
        bare(c.child),
        bare(c.after),
        bare(c.link),
        bare(c.link_after),
        bare(c.link_value),
        bare(c.link_collector),
        bare(c.link_strength),
    )


@njit(cache=True)
def _bare_tools(desk: Desk, left: Left, pen: Pen) -> tuple[Desk, Left, Pen]:
    """Return all of them with bare arrays."""
    return (
        Desk(
            bare(desk.table),
            bare(desk.spare),
            bare(desk.axes),
            bare(desk.where),
            bare(desk.role),
            bare(desk.many),
            bare(desk.shared),
            bare(desk.plain),
        ),
        Left(
            bare(left.names),
            bare(left.start),
            bare(left.axes),
            bare(left.role),
            bare(left.first),
            bare(left.width),
        ),
        Pen(bare(pen.ops), bare(pen.constants), bare(pen.used)),
    )


@njit(cache=True, forceinline=True)
def _place_weights(course: Course, low: int, high: int, pen: Pen) -> None:
    """Give the weights of one part's axes their places, and a one before them."""
    at = pen.used[NODES]
    pen.used[UNIT] = at
    at += 1
    for step in range(low, high):
        axis = course.sequence[step]
        course.weight[axis] = at
        at += 2 if course.sort[axis] == VALUE else 4
    pen.used[NODES] = at


@njit(cache=True, forceinline=True)
def _take_messages(course: Course, step: int, desk: Desk, left: Left, pen: Pen) -> None:
    """Join the messages left to a step, the smallest first."""
    if course.child[step] < 0:
        axis = course.sequence[step]
        begin(desk, axis, course.sort[axis])
        return
    size, missing = 1, True
    while missing:
        missing = False
        child = course.child[step]
        while child >= 0:
            if left.width[child] == size:
                join(desk, left, child, course.sort, pen)
            missing = missing or left.width[child] > size
            child = course.after[child]
        size += 1


@njit(cache=True, forceinline=True)
def _step(course: Course, step: int, desk: Desk, left: Left, pen: Pen) -> int:
    """Trace one step; return the step its message goes to, -1 for none."""
    axis = course.sequence[step]
    _take_messages(course, step, desk, left, pen)
    k = course.link[step]
    while k >= 0:
        link(desk, course.link_value[k], course.link_collector[k], course.link_strength[k], pen)
        k = course.link_after[k]
    other, first = course.partner[axis], course.weight[axis]
    if course.sort[axis] == VALUE:
        if other >= 0 and course.position[other] > step:
            g = course.weight[other]
            gate(desk, axis, other, (g, g + 1, course.spare[other], g + 3), pen)
        summed(desk, axis, -1, (first, first + 1, first, first + 1), pen)
    elif desk.role[axis] == GATED:
        summed(desk, axis, -1, (ONE, ZERO, ONE, ZERO), pen)
    elif course.sort[axis] == GATE:
        weight = (first, course.spare[axis], first + 1, first + 3)
        summed(desk, axis, other, weight, pen)
    else:
        summed(desk, axis, -1, (first, first + 2, first, first + 2), pen)
    to = course.position.shape[0]
    for bit in range(desk.many[0]):
        to = min(to, course.position[desk.axes[bit]])
    leave(desk, left, step)
    return to if left.width[step] else -1


@njit(cache=True, nogil=True)
def write_circuit(
    folded: Folded, order: tuple[Ints, Ints, Ints, Ints, float], causes: Flags, room: int
) -> tuple[bool, Circuit]:
    """Return whether the circuit of a case found room, and the circuit.

    Parameters
    ----------
    folded : the case
    order : as `triage.ordering.elimination` returns it
    causes : (nodes,) of which nodes it is asked how far they would be on by
        themselves (`triage.lanes`)
    room : operations at the most
    """
    sequence, bounds, _, position, _ = order
    steps, links = sequence.shape[0], folded.link_value.shape[0]
    sizes = np.zeros(steps + 1, np.int64)
    most, parts = 1, 0
    for step in range(steps):
        width = bounds[step + 1] - bounds[step]
        sizes[step + 1] = sizes[step] + (1 << width)
        most = max(most, width + 1)
        parts += 1 if width == 0 else 0
    course, desk = _course(folded, sequence, position), new_desk(steps, most)
    for axis in range(steps):
        asked = causes[folded.axis_node[axis]] or folded.gate[axis, 1, 0] > 0.0
        if asked and course.sort[axis] == GATE:
            course.spare[axis] = 0  # becomes a place when the weights get theirs
    left = Left(
        np.empty(sizes[steps], np.int32),
        sizes,
        np.empty(bounds[steps], np.int64),
        np.empty(bounds[steps], np.int64),
        bounds,
        np.zeros(steps, np.int64),
    )
    pen = new_pen(room, 8 * room + 4 * links + 16)
    marks = np.zeros((4, parts + 1), np.int64)
    part = _write_parts(_bare_course(course), bounds, _bare_tools(desk, left, pen), marks)
    circuit = _finish(folded, course, (pen, marks, part))
    if desk.many.shape[0] + left.width.shape[0] != steps + 1:  # never; keeps both alive
        raise AssertionError
    return pen.used[OPS] <= room, circuit


@njit(cache=True)
def _write_parts(course: Course, bounds: Ints, tools: tuple[Desk, Left, Pen], marks: Ints) -> Ints:
    """Write part by part; return the part of each axis.

    `marks` are for each part: first step, first operation, first number, and its root.
    """
    desk, left, pen = tools
    steps, low, at = course.sequence.shape[0], 0, 0
    part = np.empty(steps, np.int64)
    while low < steps:
        high = low
        while bounds[high + 1] > bounds[high]:
            high += 1
        high += 1
        marks[0, at], marks[1, at], marks[2, at] = low, pen.used[OPS], pen.used[NODES]
        _place_weights(course, low, high, pen)
        for step in range(low, high):
            axis = course.sequence[step]
            part[axis] = at
            if course.spare[axis] == 0:
                course.spare[axis] = course.weight[axis] + 2
        root = ONE
        for step in range(low, high):
            if pen.used[OPS] > pen.ops.shape[0]:
                break
            to = _step(course, step, desk, left, pen)
            if to >= 0:
                course.after[step], course.child[to] = course.child[to], step
            else:
                root = add_term(pen, ZERO, root, left.names[left.start[step]], pen.used[NODES])
        marks[3, at] = root
        low, at = high, at + 1
    marks[0, at], marks[1, at], marks[2, at] = steps, pen.used[OPS], pen.used[NODES]
    return part


@njit(cache=True)
def _finish(folded: Folded, course: Course, written: tuple[Pen, Ints, Ints]) -> Circuit:
    """Return the circuit with its weights."""
    pen, marks, part = written
    initial = np.empty(pen.used[NODES])
    for axis in range(part.shape[0]):
        first = course.weight[axis]
        if course.sort[axis] == VALUE:
            initial[first], initial[first + 1] = folded.unary[axis, 0], folded.unary[axis, 1]
        else:
            for g in range(4):
                initial[first + g] = folded.gate[axis, g // 2, g % 2]
    for p in range(marks.shape[1] - 1):
        initial[marks[2, p]] = 1.0
    return Circuit(
        pen.ops[: pen.used[OPS]].copy(),
        pen.constants[: pen.used[CONSTANTS]].copy(),
        initial,
        course.weight,
        course.sort,
        course.sequence,
        marks[0],
        marks[1],
        marks[2],
        marks[3, :-1].copy(),
        part,
    )
