"""What the house asks of every file that is kept."""

from __future__ import annotations

import ast
import subprocess
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent
CEILING = 400  # lines of one Python file
# Built from halves, so that this file does not hold what it looks for.
FORBIDDEN = (
    "trans" + "cript",
    "seed " + "document",
    "safe to" + " drive!",
    "/wo" + "rk/",
    "/ro" + "ot/",
)


def kept_files() -> list[Path]:
    """Return the files under version control, or all files where there is none."""
    done = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=TOP,
        capture_output=True,
        text=True,
        check=False,
    )
    names = done.stdout.splitlines()
    if done.returncode or not names:
        names = [str(p.relative_to(TOP)) for p in TOP.rglob("*") if ".venv" not in p.parts]
    return [TOP / name for name in names if (TOP / name).is_file()]


FILES = kept_files()
PYTHON = [path for path in FILES if path.suffix == ".py"]
TESTS = [path for path in PYTHON if path.name.startswith("test_")]


def test_the_sweeps_found_files() -> None:
    """A sweep over nothing proves nothing."""
    assert len(FILES) > 200
    assert len(PYTHON) > 120
    assert len(TESTS) > 40


@pytest.mark.parametrize("path", PYTHON, ids=lambda p: str(p.relative_to(TOP)))
def test_no_file_grows_without_end(path: Path) -> None:
    """One idea a file; past the ceiling it is more than one."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= CEILING


@pytest.mark.parametrize("word", FORBIDDEN)
def test_no_kept_file_holds_a_forbidden_word(word: str) -> None:
    """Neither where the work came from nor where it was done belongs into it."""
    holding = []
    for path in FILES:
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        if word in text.lower():
            holding.append(str(path.relative_to(TOP)))

    assert not holding


@pytest.mark.parametrize("path", TESTS, ids=lambda p: str(p.relative_to(TOP)))
def test_every_test_says_why_it_matters(path: Path) -> None:
    """A test without a reason can't be judged when it fails."""
    silent = [
        node.name
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
        and node.name.startswith("test_")
        and not ast.get_docstring(node)
    ]

    assert not silent


@pytest.mark.parametrize("name", ["run.txt", "test.txt"])
def test_the_locks_have_hashes_and_no_addresses(name: str) -> None:
    """A lock says which files, never from where."""
    text = (TOP / "lock" / name).read_text(encoding="utf-8")
    packages = [line for line in text.splitlines() if line[:1].isalnum()]

    assert "://" not in text
    assert len(packages) > 40
    assert text.count("--hash=sha256:") >= len(packages)


def test_every_folder_of_fixtures_says_where_it_comes_from() -> None:
    """Invented or published: a reader must be told."""
    folders = [p for p in (TOP / "fixtures").iterdir() if p.is_dir()]
    told = (TOP / "fixtures" / "README.md").read_text(encoding="utf-8")

    assert folders
    assert [p.name for p in folders if not (p / "README.md").exists() and p.name not in told] == []
