"""The picture of the reasoning: nothing lost against the graph, nothing but what the table says."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Protocol

import networkx as nx
import pytest

from api.answering.reasons import path_rows
from api.documents import read_case
from api.pages.why import table_rows
from api.picture.column import WIDTH, draw_column
from api.picture.paths import draw, plain
from api.picture.reasoning import MOST_NODES, PathLine, PathNode, Reasoning, reasoning
from graph.build import compile_case
from graph.compiled import CompiledCase
from graph.load import load_knowledge
from graph.terms import Knowledge

TOP = Path(__file__).resolve().parents[3]
CASES = sorted((TOP / "fixtures" / "cases").glob("*.json"))[:4]


class Drawing(Protocol):
    """One of the two ways to draw."""

    def __call__(
        self, picture: Reasoning, href: Callable[[PathNode], str], *, name: str = ""
    ) -> str:
        """Return the picture as SVG."""


SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    """Return the shipped knowledge."""
    return load_knowledge()


def causes_of(compiled: CompiledCase) -> list[str]:
    """Return some causes that lead to the complaint, and the parts that codes name."""
    graph, targets = compiled.network.graph, compiled.complaint & set(compiled.network.graph)
    nodes = compiled.network.nodes
    below: dict[str, set[str]] = {node: nx.descendants(graph, node) for node in sorted(nodes)}
    able = [node for node, far in below.items() if nodes[node].kind == "cause" and targets & far]
    return [*able[::9], *(part for part in compiled.parts if part in nodes)]


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_every_ranked_path_is_in_the_picture_and_no_link_is_lost(
    path: Path, knowledge: Knowledge
) -> None:
    """Held against networkx: the links among the boxes are exactly those of the graph."""
    compiled = compile_case(knowledge, read_case(path).to_input())
    asked = causes_of(compiled)
    assert len(asked) > 3
    for cause in asked:
        made = reasoning(knowledge, compiled, cause)
        shown = {node.id for node in made.nodes if node.kind != "check"}
        links = {(line.source, line.target) for line in made.lines if line.strength is not None}
        assert links == set(compiled.network.graph.subgraph(shown).edges)
        assert len(made.nodes) <= MOST_NODES
        for row in path_rows(knowledge, compiled, (cause,))[cause]:
            assert {(link.source, link.target) for link in row.links} <= links
        if made.left_out == 0:
            absent = {n for n, seen in compiled.evidence.items() if seen is False} - {cause}
            graph = compiled.network.graph.subgraph(set(compiled.network.graph) - absent)
            ways = {
                node
                for node in nx.descendants(graph, cause)
                if any(nx.has_path(graph, node, one) for one in compiled.complaint & set(graph))
            }
            assert shown == ways | {cause}


@pytest.mark.parametrize("drawing", [draw, draw_column], ids=["wide", "column"])
def test_the_drawing_holds_every_box_and_link_and_no_paint(
    knowledge: Knowledge, drawing: Drawing
) -> None:
    """The page's own style paints; a style attribute would be refused by the browser."""
    compiled = compile_case(knowledge, read_case(CASES[0]).to_input())
    made = reasoning(knowledge, compiled, "rc-bearing-play@lr")
    drawn = drawing(made, lambda node: f"#{node.id}", name="x")
    root = ET.fromstring(drawn)
    groups = [group for group in root.iter(f"{SVG}g") if group.get("id", "")[:2] in ("xn", "xe")]
    boxes = [group for group in groups if "node" in group.get("class", "").split()]
    links = [group for group in groups if "edge" in group.get("class", "").split()]

    assert len(boxes) == len(made.nodes)
    assert len(links) == len(made.lines)
    assert sum("on" in group.get("class", "").split() for group in boxes) == sum(
        node.on for node in made.nodes
    )
    names = [link.get("aria-label") for link in root.iter(f"{SVG}a")]
    assert sorted(map(str, names)) == sorted(f"{node.kind}: {node.label}" for node in made.nodes)
    assert {link.get("href") for link in root.iter(f"{SVG}a")} == {f"#{n.id}" for n in made.nodes}
    paint = ("style", "fill", "stroke", "font-family")
    assert not [e.tag for e in root.iter() for key in paint if key in e.attrib]
    assert not list(root.iter(f"{SVG}title"))
    assert drawn == drawing(made, lambda node: f"#{node.id}", name="x")


def test_the_table_says_what_the_picture_says(knowledge: Knowledge) -> None:
    """Who can't see the picture must miss nothing."""
    compiled = compile_case(knowledge, read_case(CASES[0]).to_input())
    made = reasoning(knowledge, compiled, "rc-bearing-play@lr")
    rows = table_rows(made)

    assert len(rows) == len(made.lines)
    linked = [row for row in rows if row["strength"] is not None]
    assert linked
    assert all(row["mechanism"] and row["origin"] and row["review"] for row in linked)
    assert any(row["on"] for row in rows)


def boxes_in(root: ET.Element) -> list[tuple[str, list[float], list[float]]]:
    """Return id, left to right and top to bottom of each box."""
    out = []
    for group in root.iter(f"{SVG}g"):
        if "node" in group.get("class", "").split():
            polygon = next(group.iter(f"{SVG}polygon"))
            pairs = [pair.split(",") for pair in polygon.get("points", "").split()]
            xs, ys = ([float(pair[k]) for pair in pairs] for k in (0, 1))
            out.append((group.get("id", ""), [min(xs), max(xs)], [min(ys), max(ys)]))
    return out


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_the_column_fits_a_phone_whatever_the_case(path: Path, knowledge: Knowledge) -> None:
    """Nothing beside anything: all within the width, each box under what leads to it."""
    compiled = compile_case(knowledge, read_case(path).to_input())
    most = 0
    for cause in causes_of(compiled):
        made = reasoning(knowledge, compiled, cause)
        most = max(most, len(made.nodes))
        root = ET.fromstring(draw_column(made, lambda node: f"#{node.id}"))
        assert float(root.get("width", "")) == WIDTH
        rows = boxes_in(root)
        assert len(rows) == len(made.nodes)
        assert all(x[0] >= 0 and x[1] <= WIDTH and x[1] - x[0] >= 180 for _, x, _ in rows)
        assert all(y[1] - y[0] >= 60 for _, _, y in rows)
        assert all(low[2][1] + 8 <= high[2][0] for low, high in pairwise(rows))
        names = [link.get("href", "")[1:] for link in root.iter(f"{SVG}a")]
        for line in made.lines:
            assert names.index(line.source) < names.index(line.target)
        runs = [group.find(f"{SVG}path") for group in root.iter(f"{SVG}g")]
        lanes = [
            float(re.findall(r"H(-?[0-9.]+)V", run.get("d", ""))[0])
            for run in runs
            if run is not None
        ]
        assert len(lanes) == len(made.lines)
        assert min(lanes) >= 0
    assert most > 12


@pytest.mark.parametrize("text", ["<b>bold</b>", "C:\\new\\name", "a & b", '"quoted"', "\\N", "<"])
def test_a_label_is_drawn_as_it_is_written(text: str) -> None:
    """Neither markup nor a command of the drawing program may come out of a label."""
    nodes = (PathNode("a", "cause", text, on=True), PathNode("b", "state", "plain", on=True))
    made = Reasoning("a", nodes, (PathLine("a", "b", 0.5, on=True),), 0)
    for drawn in (draw(made, lambda node: "#"), draw_column(made, lambda node: "#")):
        root = ET.fromstring(drawn)
        first = next(g for g in root.iter(f"{SVG}g") if g.get("id") == "n0")
        assert "".join(part.text or "" for part in first.iter(f"{SVG}text")) == text
    assert plain(text).count("<") == 0
