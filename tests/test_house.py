"""What the house asks of every file that is kept."""

from __future__ import annotations

import ast
import subprocess
import tomllib
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent
PACKAGES = ("triage", "graph", "api")
CEILING = 400  # lines of one Python file
LONGEST = 60  # lines of one function, without its docstring
FunctionNode = ast.FunctionDef | ast.AsyncFunctionDef
# Built from halves, so that this file does not hold what it looks for.
FORBIDDEN = (
    "trans" + "cript",
    "seed " + "document",
    "/wo" + "rk/",
    "/ro" + "ot/",
    "/ho" + "me/",
    "/t" + "mp/",
    "c:" + "\\users",
    "sha" + "red/",
    "py" + "pi.org",
    "files.python" + "hosted",
    "npm" + "js",
    "proxy.go" + "lang",
)


def kept_files() -> list[Path]:
    """Return the files under version control, or all files where there is none."""
    try:
        done = subprocess.run(
            ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
            cwd=TOP,
            capture_output=True,
            text=True,
            check=True,
        )
        names = done.stdout.splitlines()
    except (OSError, subprocess.CalledProcessError):  # an unpacked archive
        passed = {".git", ".venv", "__pycache__"}
        names = [str(p.relative_to(TOP)) for p in TOP.rglob("*") if not passed & {*p.parts}]
    return sorted(TOP / name for name in names if (TOP / name).is_file())


FILES = kept_files()
PYTHON = [path for path in FILES if path.suffix == ".py"]
OURS = [path for path in PYTHON if path.relative_to(TOP).parts[0] in PACKAGES]
TESTS = [path for path in PYTHON if path.name.startswith("test_")]


def named(path: Path) -> str:
    """Return the name of a file as it stands in a report."""
    return path.relative_to(TOP).as_posix()


def tree_of(path: Path) -> ast.Module:
    """Return the syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"))


def bound(tree: ast.Module) -> set[str]:
    """Return the names that a module binds at its top, or hands out when asked for them."""
    names = set()
    body = list(tree.body)
    if any(isinstance(node, ast.FunctionDef) and node.name == "__getattr__" for node in body):
        body += [one for node in body if isinstance(node, ast.If) for one in node.body]
    for node in body:
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)):
            names.add(node.name)
        elif isinstance(node, (ast.Import, ast.ImportFrom)):
            names |= {alias.asname or alias.name for alias in node.names}
        elif isinstance(node, (ast.Assign, ast.AnnAssign)):
            names |= {part.id for part in ast.walk(node) if isinstance(part, ast.Name)}
    return names


def listed(tree: ast.Module) -> list[str] | None:
    """Return the names in `__all__`, or None where there is none."""
    for node in tree.body:
        if isinstance(node, (ast.Assign, ast.AnnAssign)) and node.value:
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            if any(isinstance(target, ast.Name) and target.id == "__all__" for target in targets):
                return list(ast.literal_eval(node.value))
    return None


def own_lines(node: FunctionNode) -> int:
    """Return the length of a function without its signature and docstring."""
    first = node.body[1] if ast.get_docstring(node) and len(node.body) > 1 else node.body[0]
    return (node.end_lineno or 0) - first.lineno + 1


def test_the_sweeps_found_files() -> None:
    """A sweep over nothing proves nothing."""
    assert len(FILES) > 200
    assert len(PYTHON) > 120
    assert len(OURS) > 100
    assert len(TESTS) > 40


@pytest.mark.parametrize("path", PYTHON, ids=named)
def test_no_file_grows_without_end(path: Path) -> None:
    """One idea a file; past the ceiling it is more than one."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= CEILING


@pytest.mark.parametrize("path", OURS, ids=named)
def test_no_function_grows_without_end(path: Path) -> None:
    """A function that does not fit on a screen can't be checked by reading."""
    found = [node for node in ast.walk(tree_of(path)) if isinstance(node, FunctionNode)]

    assert {node.name: n for node in found if (n := own_lines(node)) > LONGEST} == {}


@pytest.mark.parametrize("path", OURS, ids=named)
def test_public_means_listed(path: Path) -> None:
    """A module that binds public names says in `__all__` which of them it offers."""
    tree = tree_of(path)
    names, public = listed(tree), {name for name in bound(tree) if not name.startswith("_")}

    assert names is not None or public <= {"annotations"}
    assert set(names or ()) <= bound(tree)
    assert len(names or ()) == len(set(names or ()))


@pytest.mark.parametrize("word", FORBIDDEN)
def test_no_kept_file_holds_a_forbidden_word(word: str) -> None:
    """Neither where the work came from nor where it was done belongs into it."""
    holding = [
        named(path)
        for path in FILES
        if word in path.read_text(encoding="utf-8", errors="ignore").lower()
        or word.strip("/") == path.name.lower()
    ]

    assert not holding


@pytest.mark.parametrize("path", TESTS, ids=named)
def test_every_test_says_why_it_matters(path: Path) -> None:
    """A test without a reason can't be judged when it fails."""
    found = [
        node
        for node in ast.walk(tree_of(path))
        if isinstance(node, FunctionNode) and node.name.startswith("test_")
    ]

    assert found
    assert not [node.name for node in found if not ast.get_docstring(node)]


@pytest.mark.parametrize("path", TESTS, ids=named)
def test_an_expected_error_is_known_by_its_words(path: Path) -> None:
    """`raises` without `match` passes on an error of quite another cause."""
    silent = [
        node.lineno
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "raises"
        and not any(word.arg in ("match", "check") for word in node.keywords)
    ]

    assert not silent


@pytest.mark.parametrize("folder", ["fixtures", "graph/knowledge"])
def test_every_folder_says_where_its_contents_come_from(folder: str) -> None:
    """Invented, published or from memory: a reader must be told, in a README beside it."""
    top = TOP / folder
    told = (top / "README.md").read_text(encoding="utf-8")
    inside = {path.relative_to(top).parts[0] for path in FILES if top in path.parents}
    folders = [name for name in sorted(inside) if (top / name).is_dir()]

    assert inside
    assert [n for n in folders if not (top / n / "README.md").exists() and n not in told] == []


def test_the_version_has_its_changes_written_down() -> None:
    """Somebody who updates wants to know what is new."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]

    assert f"## {project['version']}" in (TOP / "CHANGELOG.md").read_text(encoding="utf-8")


def test_the_server_runs_the_same_check_as_the_desk() -> None:
    """Two lists of checks would drift apart."""
    assert "python3 drypark.py test" in (TOP / ".ci" / "run").read_text(encoding="utf-8")
