"""The set-up file: standard library only, and plain words when it can't do its work."""

from __future__ import annotations

import ast
import runpy
import sys
from pathlib import Path
from typing import Any

import pytest

TOP = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def bootstrap() -> dict[str, Any]:
    """Return the names that drypark.py defines, without running it."""
    return runpy.run_path(str(TOP / "drypark.py"), run_name="bootstrap")


def test_it_needs_nothing_but_python() -> None:
    """It runs before anything has been installed."""
    tree = ast.parse((TOP / "drypark.py").read_text(encoding="utf-8"))
    roots = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            roots |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            roots.add((node.module or "").partition(".")[0])

    assert roots <= set(sys.stdlib_module_names)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("No module named ensurepip", "apt install python3-venv"),
        ("OSError: [Errno 28] No space left on device", "the disk is full"),
        ("Temporary failure in name resolution", "could not be fetched"),
        ("THESE PACKAGES DO NOT MATCH THE HASHES", "not the one lock/run.txt names"),
        ("something nobody has seen before", "something nobody has seen before"),
    ],
)
def test_trouble_is_told_in_one_sentence(
    bootstrap: dict[str, Any], words: str, sentence: str
) -> None:
    """A person without the source code must know what to do."""
    told = bootstrap["explained"](words, Path("here"), "run")

    assert sentence in told
    assert "\n" not in told


def test_a_folder_that_is_not_ours_is_left_alone(bootstrap: dict[str, Any], tmp_path: Path) -> None:
    """Nothing of anybody's is removed to make room for an environment."""
    (tmp_path / "thesis.txt").write_text("years of work", encoding="utf-8")

    with pytest.raises(bootstrap["SetupError"], match="was not made by drypark"):
        bootstrap["make_empty"](tmp_path)

    assert (tmp_path / "thesis.txt").read_text(encoding="utf-8") == "years of work"


def test_an_interrupted_set_up_is_done_again(bootstrap: dict[str, Any], tmp_path: Path) -> None:
    """The stamp is written last; without it nothing counts as ready."""
    assert bootstrap["missing"](tmp_path, "run") == ["base", "run", "kernel"]
