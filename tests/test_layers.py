"""Imports point one way, in no circle, and the inner layers know nothing of the world."""

from __future__ import annotations

import ast
import socket
from pathlib import Path

import networkx as nx
import pytest

TOP = Path(__file__).resolve().parent.parent
LAYERS = ("triage", "graph", "api")  # each may import itself and those to its left
WORLD = {
    "asyncio", "datetime", "fastapi", "ftplib", "glob", "http", "io", "jinja2", "os", "oxrdflib",
    "pathlib", "psycopg", "pydantic", "pyoxigraph", "pyshacl", "random", "rdflib", "secrets",
    "shutil", "smtplib", "socket", "sqlalchemy", "sqlite3", "starlette", "subprocess", "tempfile",
    "threading", "time", "urllib", "uuid",
}  # fmt: skip
BANNED = {
    "triage": WORLD,
    "graph": {"fastapi", "jinja2", "psycopg", "socket", "sqlalchemy", "sqlite3", "starlette"},
    "api": set[str](),
}
#: Built-in calls that reach the world without an import.
WORLDLY_CALLS = {"open", "input", "print", "exec", "eval", "__import__"}
MODULES = sorted(path.relative_to(TOP) for layer in LAYERS for path in (TOP / layer).rglob("*.py"))


def imported(path: Path) -> set[str]:
    """Return every module that a file imports, with `from a import b` as both a and a.b."""
    names = set()
    for node in ast.walk(ast.parse((TOP / path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} has a relative import"
            names.add(node.module or "")
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def roots(names: set[str]) -> set[str]:
    """Return the first part of each name."""
    return {name.partition(".")[0] for name in names}


def dotted(path: Path) -> str:
    """Return the name under which a file is imported."""
    parts = path.with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_a_module_imports_only_its_own_and_inner_layers(path: Path) -> None:
    """No module reaches outward, and inner layers know no web, RDF, SQL, files or clock."""
    layer = path.parts[0]
    outer = set(LAYERS[LAYERS.index(layer) + 1 :])

    assert not roots(imported(path)) & (outer | BANNED[layer] | {"tests", "drypark"})


@pytest.mark.parametrize("path", [p for p in MODULES if p.parts[0] == "triage"], ids=str)
def test_the_arithmetic_calls_nothing_of_the_world(path: Path) -> None:
    """A file can be opened, and text printed, without any import."""
    tree = ast.parse((TOP / path).read_text(encoding="utf-8"))
    called = {
        node.func.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }

    assert not called & WORLDLY_CALLS


def test_no_modules_import_each_other_in_a_circle() -> None:
    """A circle means a wrong boundary; imports inside functions count as well."""
    names = {dotted(path): path for path in MODULES}
    calls: nx.DiGraph[str] = nx.DiGraph()
    for name, path in names.items():
        calls.add_edges_from((name, other) for other in imported(path) & names.keys() - {name})
    circles = [sorted(part) for part in nx.strongly_connected_components(calls) if len(part) > 1]

    assert calls.number_of_edges() > len(names), "imports went unread"
    assert not circles


def test_every_layer_was_collected() -> None:
    """A glob that silently collects nothing must fail here."""
    assert {path.parts[0] for path in MODULES} == set(LAYERS)
    assert len(MODULES) > 60


def test_the_packages_are_ours() -> None:
    """Generic names must not be shadowed by somebody else's packages."""
    import api
    import graph
    import triage

    for package in (triage, graph, api):
        assert str(package.__file__).startswith(str(TOP))


def test_no_test_reaches_another_machine() -> None:
    """The guard of conftest is itself a claim; the address is one reserved by RFC 5737."""
    with socket.socket() as outward, pytest.raises(RuntimeError, match="tests use no network"):
        outward.connect(("192.0.2.1", 80))
    with pytest.raises(RuntimeError, match=r"asked for the address of drypark\.example"):
        socket.getaddrinfo("drypark.example", 80)


def test_this_machine_can_still_be_reached() -> None:
    """A guard that refuses everything would prove nothing, and break the tests of the pages."""
    with (
        socket.create_server(("127.0.0.1", 0)) as server,
        socket.create_connection(server.getsockname()) as client,
    ):
        server.accept()[0].close()

        assert client.getpeername() == server.getsockname()
