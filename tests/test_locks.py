"""The locks: every file by its hash, no address, and the same versions in both."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent
NAMES = ("run", "test")
_PINNED = re.compile(r"(?P<name>[a-z0-9][a-z0-9._-]*)(?:\[[a-z,]+\])?==(?P<version>[^\s;\\]+)")
_ASKED = re.compile(r"[A-Za-z0-9._-]+")


def text_of(name: str) -> str:
    """Return one lock as text."""
    return (TOP / "lock" / f"{name}.txt").read_text(encoding="utf-8")


def entries(name: str) -> list[str]:
    """Return the entries of a lock: a pin with the hashes below it."""
    return [part for part in re.split(r"^(?=\S)", text_of(name), flags=re.M) if part.strip()]


def pins(name: str) -> set[tuple[str, str]]:
    """Return the (package, version) pairs of a lock; a package may have one for each Python."""
    return {
        (found["name"], found["version"])
        for part in entries(name)
        if (found := _PINNED.match(part))
    }


def asked(name: str) -> set[str]:
    """Return the packages that the project asks for, in the form of the lock."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lines = project["dependencies"] + (
        project["optional-dependencies"]["test"] if name == "test" else []
    )
    found = [_ASKED.match(line) for line in lines]
    return {re.sub(r"[-_.]+", "-", match[0]).lower() for match in found if match}


@pytest.mark.parametrize("name", NAMES)
def test_every_entry_is_a_version_with_its_hashes(name: str) -> None:
    """Without a hash anybody on the way may exchange a file."""
    parts = entries(name)

    assert len(parts) > 40
    assert [part for part in parts if not _PINNED.match(part)] == []
    assert [part for part in parts if "--hash=sha256:" not in part] == []


@pytest.mark.parametrize("name", NAMES)
def test_no_address_stands_in_a_lock(name: str) -> None:
    """A lock says which files, never from where: a mirror must serve as well."""
    assert "://" not in text_of(name)
    assert "--index" not in text_of(name)


def test_the_gate_tests_the_versions_that_run() -> None:
    """A test on other versions than the shop's would prove little."""
    assert pins("run") <= pins("test")


@pytest.mark.parametrize("name", NAMES)
def test_everything_asked_for_is_locked(name: str) -> None:
    """A dependency added to the project but not to the lock fails on the next machine."""
    wanted = asked(name)

    assert len(wanted) > 20
    assert wanted <= {package for package, _ in pins(name)}


def imported() -> set[str]:
    """Return the top names of what the program imports, without its own and the language's."""
    names = set()
    for path in (
        path for part in ("api", "graph", "triage") for path in (TOP / part).rglob("*.py")
    ):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names.add(node.module.partition(".")[0])
    return names - set(sys.stdlib_module_names) - {"api", "graph", "triage"}


def test_everything_that_is_imported_is_in_the_lock_of_the_program() -> None:
    """The tools of the gate bring packages along that a shop does not have."""
    comes_from, locked = packages_distributions(), {package for package, _ in pins("run")}
    strangers = {
        name
        for name in imported()
        if not {re.sub(r"[-_.]+", "-", one).lower() for one in comes_from[name]} & locked
    }

    assert len(imported()) > 20
    assert strangers == set()
