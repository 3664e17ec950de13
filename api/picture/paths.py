"""The reasoning drawn: boxes in layers, as an SVG that the page's own style colours.

The one idea: Graphviz places, the page paints. Everything that it says about colour, line and
type is taken out again; what is left are shapes with classes. The strongest path is bold and
solid, everything else thin and dashed, so that it reads without colour and on paper. Every box
is a link with a name, in the order of the layers, so that Tab walks them.

Labels go in as plain text: a leading ``<`` would be taken for markup, a backslash for a command.
"""

from __future__ import annotations

import re
import textwrap
import threading
import xml.etree.ElementTree as ET
from collections.abc import Callable
from typing import Final

import pygraphviz

from api.picture.reasoning import PathNode, Reasoning

__all__ = ["LAYERS", "draw", "plain"]

#: Kinds in the order of the layers, with their words.
LAYERS: Final = {
    "cause": "cause",
    "state": "state",
    "finding": "finding",
    "code": "code",
    "check": "check",
}
_WIDTH: Final = 20  # characters of a line in a box
_SCALE: Final = 1.2  # letters of 14 units are then just over 16 pixels
_PAINT: Final = re.compile(r"^(?:fill|stroke|font|text-decoration|style$)")
_SVG: Final = "http://www.w3.org/2000/svg"
_LINK: Final = "{http://www.w3.org/1999/xlink}"
_LOCK = threading.Lock()  # Graphviz keeps state between calls


def plain(text: str) -> str:
    r"""Return a label that Graphviz shows as it is written.

    Examples
    --------
    >>> plain(r"<b> & C:\new")
    '&lt;b&gt; &amp; C:\\\\new'
    """
    safe = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return safe.replace("\\", "\\\\")


def draw(picture: Reasoning, href: Callable[[PathNode], str], *, name: str = "") -> str:
    """Return the picture as SVG, to be put into a page.

    Parameters
    ----------
    picture : what is shown
    href : where a box leads
    name : begins every id, where two pictures stand in one page
    """
    with _LOCK:
        made = _graph(picture, href, name).draw(format="svg", prog="dot")
    return _clean(made.decode() if isinstance(made, bytes) else str(made), picture, name)


def _graph(picture: Reasoning, href: Callable[[PathNode], str], name: str) -> pygraphviz.AGraph:
    """Return the graph for Graphviz, everything in a fixed order."""
    graph = pygraphviz.AGraph(directed=True, strict=True)
    graph.graph_attr.update(rankdir="LR", nodesep="0.15", ranksep="0.35", ordering="out")
    graph.node_attr.update(shape="box", fontsize="14", margin="0.15,0.12")
    graph.node_attr["height"] = "0.72"  # 62 pixels on the page: a thumb in a glove
    graph.node_attr["width"] = "0.72"
    nodes = _in_order(picture)
    number = {node.id: k for k, node in enumerate(nodes)}
    graph.graph_attr["id"] = f"{name}graph"
    for node in nodes:
        lines = textwrap.wrap(node.label, _WIDTH) or [node.id]
        graph.add_node(
            f"n{number[node.id]}",
            label="\\n".join(plain(line) for line in lines),
            id=f"{name}n{number[node.id]}",
            URL=href(node).replace("&", "&amp;"),
            tooltip=" ",
            fontname="Helvetica-Bold" if node.on else "Helvetica",
        )
        graph.get_node(f"n{number[node.id]}").attr["class"] = _classes(node.kind, node.on)
    for k, line in enumerate(picture.lines):
        ends = (f"n{number[line.source]}", f"n{number[line.target]}")
        graph.add_edge(*ends, id=f"{name}e{k}", arrowhead="none" if line.strength is None else "")
        kind = "looks" if line.strength is None else "link"
        graph.get_edge(*ends).attr["class"] = _classes(kind, line.on)
    return graph


def _classes(kind: str, on: bool) -> str:
    return f"{kind} on" if on else kind


def _clean(svg: str, picture: Reasoning, name: str) -> str:
    """Take out colours, type and titles; name the links for those who hear the page."""
    ET.register_namespace("", _SVG)
    root = ET.fromstring(svg)  # noqa: S314 -- our own drawing
    words = {
        f"{name}n{k}": f"{LAYERS[node.kind]}: {node.label}"
        for k, node in enumerate(_in_order(picture))
    }
    for group in root.iter(f"{{{_SVG}}}g"):
        for child in list(group):
            backdrop = group.get("class") == "graph" and child.tag == f"{{{_SVG}}}polygon"
            if child.tag == f"{{{_SVG}}}title" or backdrop:
                group.remove(child)
    for element in root.iter():
        for key in [k for k in element.attrib if _PAINT.match(k)]:
            del element.attrib[key]
    for group in root.iter(f"{{{_SVG}}}g"):
        label = words.get(group.get("id", ""))
        for link in group.iter(f"{{{_SVG}}}a") if label else ():
            _name_link(link, str(label))
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    root.set("width", f"{width * _SCALE:.0f}")
    root.set("height", f"{height * _SCALE:.0f}")
    root.set("role", "group")
    root.set("aria-label", f"Reasoning about {picture.label(picture.cause)}")
    root.set("class", "reasoning")
    return ET.tostring(root, encoding="unicode")


def _in_order(picture: Reasoning) -> list[PathNode]:
    """Return the nodes in the order in which they are numbered."""
    order = list(LAYERS)
    return sorted(picture.nodes, key=lambda node: (order.index(node.kind), not node.on, node.id))


def _name_link(link: ET.Element, label: str) -> None:
    """Give a link its plain address and its name."""
    address = link.attrib.pop(f"{_LINK}href", "")
    link.attrib.pop(f"{_LINK}title", None)
    link.attrib.pop("target", None)
    link.set("href", address)
    link.set("aria-label", label)
