"""The set-up file: standard library only, and plain words when it can't do its work."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import pytest

TOP = Path(__file__).resolve().parent.parent
FILE = TOP / "drypark.py"


@pytest.fixture
def bootstrap() -> ModuleType:
    """Return drypark.py as a module of its own, so that a test may change what it holds."""
    spec = spec_from_file_location("bootstrap", FILE)
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def ready(bootstrap: ModuleType, tmp_path: Path) -> Path:
    """Return an environment folder that carries right stamps for `run`, without packages."""
    venv = tmp_path / "venv"
    bootstrap.scripts_in(venv).mkdir(parents=True)
    bootstrap.python_in(venv).touch()
    stamps = {"run": bootstrap.lock_stamp("run", venv), "kernel": bootstrap.kernel_stamp()}
    bootstrap.write_stamps(venv, stamps)
    return venv


def test_it_needs_nothing_but_python() -> None:
    """It runs before anything has been installed."""
    roots = set()
    for node in ast.walk(ast.parse(FILE.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            roots |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            roots.add((node.module or "").partition(".")[0])

    assert "subprocess" in roots
    assert roots <= set(sys.stdlib_module_names)


def test_an_old_python_reads_a_sentence() -> None:
    """A syntax or import error would not tell anybody what to install."""
    ast.parse(FILE.read_text(encoding="utf-8"), feature_version=(3, 7))
    older = "import sys, runpy; sys.version_info = (3, 9, 2); runpy.run_path('drypark.py')"
    done = subprocess.run(
        [sys.executable, "-c", older], cwd=TOP, capture_output=True, text=True, check=False
    )

    assert done.returncode == 1
    assert done.stderr.startswith("drypark: this is Python 3.9, Drypark needs 3.11 or newer")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("No module named ensurepip", "apt install python3-venv"),
        ("[Errno 13] Permission denied: 'here'", "name a folder of your own in DRYPARK_VENV"),
        ("OSError: [Errno 28] No space left on device", "the disk is full"),
        ("Temporary failure in name resolution", "could not be fetched"),
        ("satisfies alembic==1.2 (from versions: none)", "could not be fetched"),
        ("THESE PACKAGES DO NOT MATCH THE HASHES", "not the one lock/run.txt names"),
        ("ERROR: No matching distribution found for numba", "no ready-made package for Python"),
        ("something nobody has seen before", "something nobody has seen before"),
    ],
)
def test_trouble_is_told_in_one_sentence(bootstrap: ModuleType, words: str, sentence: str) -> None:
    """A person without the source code must know what to do."""
    told = bootstrap.explained(words, Path("here"), "run")

    assert sentence in told
    assert "\n" not in told
    assert "{" not in told


def test_a_full_disk_is_told_before_anything_is_fetched(
    bootstrap: ModuleType, tmp_path: Path
) -> None:
    """Half an environment on a full disk helps nobody."""
    bootstrap.ROOM_MB["run"] = 10**9

    with pytest.raises(bootstrap.SetupError, match=r"MB are free .* the environment needs"):
        bootstrap.check_room(tmp_path / "not" / "there" / "yet", "run")


def test_a_folder_that_is_not_ours_is_left_alone(bootstrap: ModuleType, tmp_path: Path) -> None:
    """Nothing of anybody's is removed to make room for an environment."""
    (tmp_path / "thesis.txt").write_text("years of work", encoding="utf-8")

    with pytest.raises(bootstrap.SetupError, match="was not made by drypark"):
        bootstrap.make_empty(tmp_path)

    assert (tmp_path / "thesis.txt").read_text(encoding="utf-8") == "years of work"


def test_a_finished_environment_is_used_as_it_is(bootstrap: ModuleType, ready: Path) -> None:
    """Nobody waits for a set-up that is done."""
    assert bootstrap.missing(ready, "run") == []


def test_the_gate_adds_its_tools_to_a_finished_environment(
    bootstrap: ModuleType, ready: Path
) -> None:
    """The tools of the gate come on top; what runs is not made anew."""
    assert bootstrap.missing(ready, "test") == ["test"]


def test_an_interrupted_set_up_is_done_again(
    bootstrap: ModuleType, ready: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The stamp goes before the first step and comes back after the last."""

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt("by a person")

    monkeypatch.setattr(bootstrap, "install", interrupted)
    with pytest.raises(KeyboardInterrupt, match="by a person"):
        bootstrap.make(ready, "test", ["test"])

    assert bootstrap.missing(ready, "test") == ["base", "test", "kernel"]


@pytest.mark.parametrize("part", ["lock_file", "project_table", "TOP"])
def test_an_environment_made_from_something_else_is_made_anew(
    bootstrap: ModuleType,
    ready: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    part: str,
) -> None:
    """Other versions, another project or a moved folder: the old environment fits no more."""
    other = tmp_path / "other.txt"
    other.write_text("numpy==1.0\n", encoding="utf-8")
    moved = tmp_path / "moved"
    moved.symlink_to(TOP, target_is_directory=True)
    instead = {
        "lock_file": lambda _: other,
        "project_table": lambda: {"version": "9"},
        "TOP": moved,
    }

    monkeypatch.setattr(bootstrap, part, instead[part])

    assert bootstrap.missing(ready, "run")[0] == "base"


def test_changed_arithmetic_is_compiled_again(
    bootstrap: ModuleType, ready: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kernel from older source would answer wrongly and say nothing."""
    monkeypatch.setattr(bootstrap, "kernel_stamp", lambda: "of a changed file")

    assert bootstrap.missing(ready, "run") == ["kernel"]


def test_broken_arithmetic_does_not_keep_the_gate_from_running(
    bootstrap: ModuleType,
    ready: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Whoever breaks the kernel needs the gate to see where."""
    failed = (1, "Traceback\nNameError: no 'q'")
    monkeypatch.setattr(bootstrap, "counted", lambda *_: failed)
    bootstrap.make(ready, "test", ["kernel"])

    assert "not compiled beforehand (NameError: no 'q')" in capsys.readouterr().err
    assert bootstrap.missing(ready, "run") == ["kernel"]


def test_only_one_process_sets_up_at_a_time(bootstrap: ModuleType, tmp_path: Path) -> None:
    """Two at once would write into the same files; the second waits for the first."""
    venv = tmp_path / "venv"
    other = tmp_path / "venv.lock"

    with bootstrap.sole_setup(venv), other.open("a+", encoding="utf-8") as file:
        assert not bootstrap.try_lock(file)

    with other.open("a+", encoding="utf-8") as file:
        assert bootstrap.try_lock(file)


def test_the_demo_says_that_its_case_is_invented(
    bootstrap: ModuleType, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Nobody must take the van of the demo for a measured one."""
    command = bootstrap.command_line(tmp_path, ["demo"])

    assert "are invented" in capsys.readouterr().out
    assert command[2:] == ["triage", str(bootstrap.DEMO_CASE)]
    assert bootstrap.DEMO_CASE.is_file()


def test_what_is_fetched_and_compiled_is_counted(
    bootstrap: ModuleType, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A minute without a sign looks like a program that hangs; a pipe gets a line in 25."""
    words = "\n".join([f"compiled {k}" for k in range(60)] + ["the last word"])
    command = [sys.executable, "-c", f"import sys; print({words!r}); sys.exit(3)"]

    code, said = bootstrap.counted(command, tmp_path, (80, "compiled ", "compiled"))

    assert code == 3
    assert said.endswith("the last word\n")
    assert capsys.readouterr().err.split("\n") == [
        "         25 of 80 compiled",
        "         50 of 80 compiled",
        "",
    ]


def test_the_compiler_names_each_function_once(tmp_path: Path) -> None:
    """What set-up counts; the folder is looked at, so that it does not matter who compiled."""
    (tmp_path / "triage_0").mkdir()
    for name in ("folding.fold-1.py311.nbi", "folding.fold-1.py311.1.nbc", "lanes.run-2.py311.nbi"):
        (tmp_path / "triage_0" / name).touch()
    program = "import threading; from api.warming import _tell; e = threading.Event(); e.set();"
    done = subprocess.run(
        [sys.executable, "-c", f"{program} _tell(e)"],
        cwd=TOP,
        env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.splitlines() == ["compiled folding.fold", "compiled lanes.run"]
