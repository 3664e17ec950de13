"""From the evidence to the small network that it touches, renumbered.

Most of a large network has no part in a case. Everything that is worked out
afterwards should cost what the case has and not what the network has, so the
first step goes from the evidence upwards and never looks at the rest: one bit
for each node says whether it is wanted. Rows are in topological order, so
going through the set bits from the highest to the lowest sees every node before
its parents, and counting the set bits below a node gives its new number.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from triage.arrays import Bits, Floats, Ints
from triage.folding import Links
from triage.ordering import popcount

__all__ = ["Local", "gather"]

_ONE = np.uint64(1)


class Local(NamedTuple):
    """What the evidence touches, as a network of its own."""

    nodes: Ints  # the network's row of each node, ascending
    links: Links  # in the new numbers; links of strength zero are left out
    link_rows: Ints  # the network's row of each link
    seen: Ints  # 1 present, 0 absent, -1 not observed
    ratio: Floats  # likelihood ratio of soft evidence, 1 where there is none


@njit(cache=True, inline="always")
def _highest(word: np.uint64) -> int:
    """Return the place of the highest set bit."""
    for shift in (1, 2, 4, 8, 16, 32):
        word |= word >> np.uint64(shift)
    return popcount(word) - 1


@njit(cache=True)
def _reach(links: Links, wanted: Ints) -> tuple[Bits, int, int]:
    """Return the wanted nodes and all above them as bits, and how many nodes and links."""
    words = links.base.shape[0] // 64 + 1
    bits = np.zeros(words, np.uint64)
    for row in wanted:
        bits[row // 64] |= _ONE << np.uint64(row % 64)
    nodes, many = 0, 0
    for word in range(words - 1, -1, -1):
        left = bits[word]
        while left:
            place = _highest(left)
            nodes += 1
            row = word * 64 + place
            for k in range(links.pointer[row], links.pointer[row + 1]):
                if links.strengths[k] > 0.0:
                    many += 1
                    parent = links.parents[k]
                    bits[parent // 64] |= _ONE << np.uint64(parent % 64)
            left = bits[word] & ((_ONE << np.uint64(place)) - _ONE)
    return bits, nodes, many


@njit(cache=True)
def _below(bits: Bits) -> Ints:
    """Return for each word how many bits are set before it."""
    out = np.empty(bits.shape[0], np.int64)
    count = 0
    for word in range(bits.shape[0]):
        out[word] = count
        count += popcount(bits[word])
    return out


@njit(cache=True)
def _number(bits: Bits, below: Ints, row: int) -> int:
    """Return a node's new number."""
    word = row // 64
    lower = (_ONE << np.uint64(row % 64)) - _ONE
    return int(below[word] + popcount(bits[word] & lower))


@njit(cache=True, nogil=True)
def gather(links: Links, told: tuple[Ints, Ints, Floats], extra: Ints) -> Local:
    """Return the evidence's ancestors as a network of their own.

    Parameters
    ----------
    links : the network
    told : rows of the evidence, their states (1, 0, -1 for soft evidence) and ratios
    extra : rows of further nodes to keep
    """
    rows, states, ratios = told
    bits, count, many = _reach(links, np.concatenate((rows, extra)))
    below = _below(bits)
    nodes = np.empty(count, np.int64)
    pointer = np.zeros(count + 1, np.int64)
    base = np.empty(count)
    parents, link_rows = np.empty(many, np.int64), np.empty(many, np.int64)
    strengths = np.empty(many)
    node, at = 0, 0
    for word in range(bits.shape[0]):
        left = bits[word]
        while left:
            row = word * 64 + popcount((left & (~left + _ONE)) - _ONE)
            left &= left - _ONE
            nodes[node], base[node] = row, links.base[row]
            for k in range(links.pointer[row], links.pointer[row + 1]):
                if links.strengths[k] > 0.0:
                    parents[at] = _number(bits, below, links.parents[k])
                    strengths[at], link_rows[at] = links.strengths[k], k
                    at += 1
            node += 1
            pointer[node] = at
    seen, ratio = np.full(count, -1, np.int64), np.ones(count)
    for k in range(rows.shape[0]):
        node = _number(bits, below, rows[k])
        seen[node], ratio[node] = states[k], ratios[k]
    return Local(nodes, Links(base, pointer, parents, strengths), link_rows, seen, ratio)
