"""Imports point one way, and the inner layers know nothing of the world."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent
LAYERS = ("triage", "graph", "api")  # each may import itself and those to its left
WORLD = {
    "asyncio", "datetime", "fastapi", "ftplib", "http", "io", "jinja2", "os", "pathlib", "psycopg",
    "pydantic", "pyshacl", "random", "rdflib", "secrets", "shutil", "smtplib", "socket",
    "sqlalchemy", "sqlite3", "subprocess", "tempfile", "time", "urllib",
}  # fmt: skip
BANNED = {
    "triage": WORLD,
    "graph": {"fastapi", "jinja2", "psycopg", "socket", "sqlalchemy", "sqlite3", "starlette"},
    "api": set[str](),
}
MODULES = sorted(path.relative_to(TOP) for layer in LAYERS for path in (TOP / layer).rglob("*.py"))


def imported_roots(path: Path) -> set[str]:
    """Return the first part of every absolute import of a module."""
    roots = set()
    for node in ast.walk(ast.parse((TOP / path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            roots |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} has a relative import"
            roots.add((node.module or "").partition(".")[0])
    return roots


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_a_module_imports_only_its_own_and_inner_layers(path: Path) -> None:
    """No module reaches outward, and inner layers know no web, RDF, SQL, files or clock."""
    layer = path.parts[0]
    outer = set(LAYERS[LAYERS.index(layer) + 1 :])

    assert not imported_roots(path) & (outer | BANNED[layer])


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
