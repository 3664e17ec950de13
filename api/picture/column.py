"""The reasoning for a phone: one box under the other, layer by layer, links beside them.

The one idea: a screen is narrow and long, so nothing may stand side by side. Every box is as
wide as the screen allows and stands below what leads to it; links run in lanes at the left, one
lane for each box that something leads to, so that what arrives there arrives together. Any case
fits the width, with letters of the page's own size. The strongest way is thick and solid, the
rest thin and dashed. Shapes have classes and no paint, as in the wide picture.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import escape, quoteattr

import networkx as nx

from api.picture.paths import LAYERS
from api.picture.reasoning import PathLine, PathNode, Reasoning

__all__ = ["WIDTH", "draw_column"]

#: Widest that it gets; a screen of 320 pixels with its margins leaves this much.
WIDTH: Final = 288
_LETTER, _LINE, _GAP, _HEAD = 16.0, 20.0, 14.0, 30.0
_TALL: Final = 62.0  # a thumb in a glove
_LANE, _MOST_LANES = 9.0, 9
#: Width of a letter of 16 pixels, thin and bold, in the widest face that stands in for another.
_PER_LETTER, _PER_BOLD = 8.6, 10.2


@dataclass(frozen=True, slots=True)
class _Box:
    node: PathNode
    lines: tuple[str, ...]
    top: float
    height: float

    @property
    def middle(self) -> float:
        return self.top + self.height / 2.0


def draw_column(picture: Reasoning, href: Callable[[PathNode], str], *, name: str = "") -> str:
    """Return the picture as SVG of at most `WIDTH`, to be put into a page.

    Parameters
    ----------
    picture : what is shown, at most 60 boxes
    href : where a box leads
    name : begins every id
    """
    order = _in_order(picture)
    lanes, used = _lanes(picture, {node.id: k for k, node in enumerate(order)})
    left = _LANE * (used + 1) + 6.0
    boxes, heads, height = _placed(order, WIDTH - left - 2.0)
    at = {box.node.id: box for box in boxes}
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="reasoning column" width="{WIDTH}" '
        f'height="{height:.0f}" viewBox="0 0 {WIDTH} {height:.0f}" role="group" '
        f"aria-label={quoteattr(f'Reasoning about {picture.label(picture.cause)}')}>"
    ]
    parts += [
        f'<text class="layer" x="{left:.1f}" y="{y:.1f}" aria-hidden="true">{escape(words)}</text>'
        for words, y in heads
    ]
    drawn = sorted(enumerate(picture.lines), key=lambda row: row[1].on)  # the strongest on top
    parts += [_link(line, k, at, (left, lanes), name) for k, line in drawn]
    parts += [_box(box, k, href, left, name) for k, box in enumerate(boxes)]
    return "".join([*parts, "</svg>"])


def _in_order(picture: Reasoning) -> list[PathNode]:
    """Return the boxes from top to bottom: each below what leads to it, the strongest way first."""
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(node.id for node in picture.nodes)
    graph.add_edges_from((line.source, line.target) for line in picture.lines)
    by_id = {node.id: node for node in picture.nodes}
    kinds = list(LAYERS)

    def rank(node: str) -> tuple[int, bool, str]:
        return kinds.index(by_id[node].kind), not by_id[node].on, node

    return [by_id[node] for node in nx.lexicographical_topological_sort(graph, key=rank)]


def _lanes(picture: Reasoning, place: dict[str, int]) -> tuple[dict[str, int], int]:
    """Return a lane for each box that something leads to, and how many lanes there are.

    Lanes that do not meet are the same one; where there are more than find room, the longest
    share the outermost.
    """
    spans: dict[str, tuple[int, int]] = {}
    for line in picture.lines:
        first, last = spans.get(line.target, (place[line.source], place[line.target]))
        spans[line.target] = (min(first, place[line.source]), last)
    free: list[int] = []  # the last row that each lane is taken to
    lanes: dict[str, int] = {}
    for target, (first, last) in sorted(spans.items(), key=lambda row: row[1][1] - row[1][0]):
        lane = next((k for k in range(len(free)) if _clear(lanes, spans, k, (first, last))), -1)
        if lane < 0 and len(free) < _MOST_LANES:
            free.append(last)
            lane = len(free) - 1
        lanes[target] = lane if lane >= 0 else _MOST_LANES - 1
    return lanes, len(free)


def _clear(
    lanes: dict[str, int], spans: dict[str, tuple[int, int]], lane: int, span: tuple[int, int]
) -> bool:
    """Return whether a lane is free along a span."""
    held = [spans[target] for target, one in lanes.items() if one == lane]
    return all(span[1] < first or last < span[0] for first, last in held)


def _placed(
    order: list[PathNode], width: float
) -> tuple[list[_Box], list[tuple[str, float]], float]:
    """Return the boxes with their places, the words over each layer, and the height."""
    boxes: list[_Box] = []
    heads: list[tuple[str, float]] = []
    y, kind = 4.0, ""
    for node in order:
        if node.kind != kind:
            kind = node.kind
            heads.append((_HEADS[kind], y + _LETTER))
            y += _HEAD
        letters = max(8, int((width - 20.0) / (_PER_BOLD if node.on else _PER_LETTER)))
        lines = tuple(textwrap.wrap(node.label, letters)) or (node.id,)
        height = max(_TALL, len(lines) * _LINE + 18.0)
        boxes.append(_Box(node, lines, y, height))
        y += height + _GAP
    return boxes, heads, y


_HEADS: Final = {
    "cause": "Cause",
    "state": "State",
    "finding": "Finding",
    "code": "Code",
    "check": "Check that looks for it",
}


def _link(
    line: PathLine, k: int, at: dict[str, _Box], room: tuple[float, dict[str, int]], name: str
) -> str:
    """Return one link: out of a box at its lower part, along a lane, into the next one."""
    left, lanes = room
    x = left - _LANE * (lanes[line.target] + 1) - 3.0
    out, into = at[line.source].top + at[line.source].height * 0.72, at[line.target].middle
    kind = "looks" if line.strength is None else "link"
    head = (
        f'<polygon points="{left - 9:.1f},{into - 5:.1f} {left:.1f},{into:.1f} '
        f'{left - 9:.1f},{into + 5:.1f}"/>'
        if line.strength is not None
        else ""
    )
    return (
        f'<g id="{name}e{k}" class="edge {kind}{" on" if line.on else ""}">'
        f'<path d="M{left:.1f} {out:.1f}H{x:.1f}V{into:.1f}'
        f'H{left - 8 * bool(head):.1f}"/>{head}</g>'
    )


def _box(box: _Box, k: int, href: Callable[[PathNode], str], left: float, name: str) -> str:
    """Return one box: a link with its name, and the lines of its words."""
    node, right, low = box.node, WIDTH - 2.0, box.top + box.height
    y = box.top + (box.height - len(box.lines) * _LINE) / 2.0 + _LETTER - 1.0
    words = "".join(
        f'<text x="{left + 10:.1f}" y="{y + n * _LINE:.1f}">{escape(text)}</text>'
        for n, text in enumerate(box.lines)
    )
    corners = (
        f"{left:.1f},{box.top:.1f} {right:.1f},{box.top:.1f} "
        f"{right:.1f},{low:.1f} {left:.1f},{low:.1f}"
    )
    label = quoteattr(f"{LAYERS[node.kind]}: {node.label}")
    return (
        f'<g id="{name}n{k}" class="node {node.kind}{" on" if node.on else ""}">'
        f"<a href={quoteattr(href(node))} aria-label={label}>"
        f'<polygon points="{corners}"/>{words}</a></g>'
    )
