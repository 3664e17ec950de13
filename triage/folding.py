"""From a network and its evidence to the axes and factors that must be summed.

Three things make a large network small before any table is built:

* only ancestors of the evidence matter (and of what is asked for besides);
* a finding seen *absent* needs no axis: it multiplies each of its parents by
  the chance that the link stayed silent, ``(1, 1 - strength)``;
* a noisy-OR node needs *one* axis however many parents it has. On that axis
  lies "is anything switching it on yet?" (off, on). Parents are absorbed into
  it one at a time, and two partial answers are joined by logical OR.

So there are two sorts of axis. A *value* axis holds the value of an unobserved
node. A *collector* axis gathers what switches a node on; at its end waits a
2 x 2 *gate*: ``gate[collected, value]``, which holds leak and soft evidence, and
for a node seen present is the vector (leak, 1). All numbers are probabilities or
likelihood ratios: nothing is ever subtracted, so nothing can cancel.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Flags, Floats, Ints
from triage.bare import bare

__all__ = [
    "GATE",
    "PRESENT",
    "VALUE",
    "Folded",
    "Links",
    "fold",
    "keep_ancestors",
    "neighbours",
]

VALUE, GATE, PRESENT = 0, 1, 2  # sorts of axis


class Links(NamedTuple):
    """A network as numbers, nodes in topological order."""

    base: Floats  # prior or leak of each node
    pointer: Ints  # links of node i are pointer[i]:pointer[i + 1]
    parents: Ints
    strengths: Floats


class Folded(NamedTuple):
    """The axes and factors of one case."""

    value_axis: Ints  # of each node, -1 for none
    collector_axis: Ints
    axis_node: Ints  # of each axis
    axis_sort: Ints  # VALUE, GATE or PRESENT
    unary: Floats  # (axes, 2) weights of the value axes
    gate: Floats  # (axes, 2, 2) [collected, value] of the collector axes
    link_value: Ints  # the links that remain, by axis
    link_collector: Ints
    link_strength: Floats
    constant: Floats  # (1,) natural log of what no axis is needed for
    used: Ints  # (2,) numbers of axes and of links


@njit(cache=True)
def keep_ancestors(links: Links, wanted: Flags) -> Flags:
    """Return the wanted nodes and all from which they can be reached.

    Links of strength zero lead nowhere.
    """
    keep = wanted.copy()
    for node in range(wanted.shape[0] - 1, -1, -1):
        if keep[node]:
            for k in range(links.pointer[node], links.pointer[node + 1]):
                if links.strengths[k] > 0.0:
                    keep[links.parents[k]] = True
    return keep


@njit(cache=True, forceinline=True)
def _alone(links: Links, node: int, seen: Ints) -> tuple[float, float]:
    """Return P(off) and P(on) from the leak and the parents seen present.

    Both are built up, neither is taken from one, so that neither loses digits.
    """
    off, on = 1.0 - links.base[node], links.base[node]
    for k in range(links.pointer[node], links.pointer[node + 1]):
        if seen[links.parents[k]] == 1:
            off *= 1.0 - links.strengths[k]
            on = on + (1.0 - on) * links.strengths[k]
    return off, on


@njit(cache=True, forceinline=True)
def _open_parents(links: Links, node: int, seen: Ints) -> tuple[int, int]:
    """Return how many parents are unobserved, and the link index of the last."""
    count, last = 0, -1
    for k in range(links.pointer[node], links.pointer[node + 1]):
        if seen[links.parents[k]] < 0 and links.strengths[k] > 0.0:
            count += 1
            last = k
    return count, last


@njit(cache=True, forceinline=True)
def _fold_absent(links: Links, node: int, seen: Ints, out: Folded) -> None:
    """Fold a node seen absent: weights on its parents, no axis."""
    out.constant[0] += np.log(_alone(links, node, seen)[0])
    for k in range(links.pointer[node], links.pointer[node + 1]):
        if seen[links.parents[k]] < 0 and links.strengths[k] > 0.0:
            out.unary[out.value_axis[links.parents[k]], 1] *= 1.0 - links.strengths[k]


@njit(cache=True, forceinline=True)
def _collect(links: Links, node: int, seen: Ints, sort: int, out: Folded) -> int:
    """Give a node its collector axis with the links of its open parents; return it."""
    axis = out.used[0]
    out.collector_axis[node] = axis
    out.axis_node[axis], out.axis_sort[axis] = node, sort
    for k in range(links.pointer[node], links.pointer[node + 1]):
        if seen[links.parents[k]] < 0 and links.strengths[k] > 0.0:
            at = out.used[1]
            out.link_value[at] = out.value_axis[links.parents[k]]
            out.link_collector[at] = axis
            out.link_strength[at] = links.strengths[k]
            out.used[1] += 1
    out.used[0] += 1
    return axis


@njit(cache=True, forceinline=True)
def _fold_present(links: Links, node: int, seen: Ints, out: Folded) -> None:
    """Fold a node seen present: a collector, or weights on its only parent."""
    off, on = _alone(links, node, seen)
    count, last = _open_parents(links, node, seen)
    if count == 0:
        out.constant[0] += np.log(on)
    elif count == 1:
        axis = out.value_axis[links.parents[last]]
        out.unary[axis, 0] *= on
        out.unary[axis, 1] *= on + off * links.strengths[last]
    else:
        axis = _collect(links, node, seen, PRESENT, out)
        out.gate[axis, 0, 0], out.gate[axis, 1, 0] = on, 1.0


@njit(cache=True, forceinline=True)
def _fold_hidden(links: Links, node: int, seen: Ints, ratio: float, out: Folded) -> None:
    """Fold an unobserved node: a value axis, and a collector when it has open parents."""
    off, on = _alone(links, node, seen)
    axis = out.used[0]
    out.value_axis[node] = axis
    out.axis_node[axis], out.axis_sort[axis] = node, VALUE
    out.used[0] += 1
    if _open_parents(links, node, seen)[0] == 0:
        out.unary[axis, 0], out.unary[axis, 1] = off, on * ratio
        return
    gate = out.gate[_collect(links, node, seen, GATE, out)]
    gate[0, 0], gate[0, 1] = off, on * ratio
    gate[1, 0], gate[1, 1] = 0.0, ratio


@njit(cache=True, nogil=True)
def fold(links: Links, seen: Ints, ratio: Floats) -> Folded:
    """Return the axes and factors of one case.

    Parameters
    ----------
    links : what the evidence touches, as a network of its own (`triage.local`)
    seen : 1 present, 0 absent, -1 not observed
    ratio : likelihood ratio of soft evidence, 1 where there is none
    """
    total, many = links.base.shape[0], links.parents.shape[0]
    out = Folded(
        np.full(total, -1, np.int64),
        np.full(total, -1, np.int64),
        np.empty(2 * total, np.int64),
        np.empty(2 * total, np.int64),
        np.ones((2 * total, 2)),
        np.ones((2 * total, 2, 2)),
        np.empty(many, np.int64),
        np.empty(many, np.int64),
        np.empty(many),
        np.zeros(1),
        np.zeros(2, np.int64),
    )
    lean = Links(bare(links.base), bare(links.pointer), bare(links.parents), bare(links.strengths))
    _fold_all(lean, bare(seen), bare(ratio), _bare_folded(out))
    axes, left = out.used[0], out.used[1]
    return Folded(
        out.value_axis,
        out.collector_axis,
        out.axis_node[:axes],
        out.axis_sort[:axes],
        out.unary[:axes],
        out.gate[:axes],
        out.link_value[:left],
        out.link_collector[:left],
        out.link_strength[:left],
        out.constant,
        out.used,
    )


@njit(cache=True)
def _fold_all(links: Links, seen: Ints, ratio: Floats, out: Folded) -> None:
    """Fold every node."""
    for node in range(links.base.shape[0]):
        if seen[node] == 0:
            _fold_absent(links, node, seen, out)
        elif seen[node] == 1:
            _fold_present(links, node, seen, out)
        else:
            _fold_hidden(links, node, seen, ratio[node], out)


@njit(cache=True)
def _bare_folded(f: Folded) -> Folded:
    """Return it with bare arrays."""
    return Folded(
        bare(f.value_axis),
        bare(f.collector_axis),
        bare(f.axis_node),
        bare(f.axis_sort),
        bare(f.unary),
        bare(f.gate),
        bare(f.link_value),
        bare(f.link_collector),
        bare(f.link_strength),
        bare(f.constant),
        bare(f.used),
    )


@njit(cache=True)
def neighbours(folded: Folded) -> tuple[Ints, Ints]:
    """Return the interaction graph of the axes: neighbours of each, as starts and a list."""
    total = folded.axis_node.shape[0]
    start = np.zeros(total + 1, np.int64)
    for k in range(folded.link_value.shape[0]):
        start[folded.link_value[k] + 1] += 1
        start[folded.link_collector[k] + 1] += 1
    for b in range(total):
        if folded.axis_sort[b] == GATE:
            start[b + 1] += 1
            start[folded.value_axis[folded.axis_node[b]] + 1] += 1
    for axis in range(total):
        start[axis + 1] += start[axis]
    fill = start[:-1].copy()
    around = np.empty(start[total], np.int64)
    for k in range(folded.link_value.shape[0]):
        _join_edge(folded.link_value[k], folded.link_collector[k], fill, around)
    for b in range(total):
        if folded.axis_sort[b] == GATE:
            _join_edge(folded.value_axis[folded.axis_node[b]], b, fill, around)
    return start, around


@njit(cache=True, forceinline=True)
def _join_edge(a: int, b: int, fill: Ints, around: Ints) -> None:
    """Write two axes as each other's neighbours."""
    around[fill[a]], around[fill[b]] = b, a
    fill[a] += 1
    fill[b] += 1
