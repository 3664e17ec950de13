"""How long a first answer takes in a process that has just been started.

Measured as somebody types it: the `drypark` command of an environment that `drypark.py` made with
what the program needs and nothing else. (The environment that the tests run in has more, and
numba reads scipy in where it is: 0.2 s.) It is made the first time, beside the other one.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

from drypark import inner_environment, launcher_in, python_in

TOP = Path(__file__).resolve().parent.parent.parent
#: The environment of a user, and the variable that names another one.
PLAIN, NAMED = TOP / ".venv-plain", "DRYPARK_PLAIN_VENV"
RUNS = 7
CASES = ("kerb-strike-van", "sensor-really-bad", "must-not-be-driven", "two-faults")
DEAR = ("two-faults",)  # its whole answer takes half a minute: once
#: The line with which the list ends on the screen, and the one with which the answer does.
_LIST_ENDS, _ANSWER_ENDS = b"What it can be", b"Jeffreys 1961"


def cold_rows() -> list[dict[str, object]]:
    """Return, for each demo case and some commands, the seconds of whole processes."""
    venv = plain_environment()
    rows = []
    for case in CASES:
        path = str(TOP / "fixtures" / "cases" / f"{case}.json")
        if case not in DEAR:
            _timed(venv, ["triage", path])  # the disk's cache is not what is measured
        runs = [_timed(venv, ["triage", path]) for _ in range(1 if case in DEAR else RUNS)]
        for k, what in enumerate(("list on the screen", "whole answer")):
            rows.append({"what": f"{case}: {what}", **_spread([run[k] for run in runs])})
        rows.append({"what": f"{case}: processor time", **_spread([run[2] for run in runs])})
    for words in (["--version"], ["knowledge", "check"]):
        rows.append({"what": " ".join(words), **_spread([_timed(venv, words)[1] for _ in "abc"])})
    return rows


def plain_environment() -> Path:
    """Return the environment of a user, made or brought up to date by `drypark.py`."""
    venv = Path(os.environ.get(NAMED) or PLAIN).absolute()
    subprocess.run(
        [sys.executable, str(TOP / "drypark.py"), "--version"],
        env={**os.environ, "DRYPARK_VENV": str(venv)},
        stdout=subprocess.DEVNULL,
        check=True,
    )
    return venv


def _timed(venv: Path, arguments: list[str]) -> tuple[float, float, float]:
    """Return when the list was there, when all of it was, and what it took of the processor."""
    environment = {k: v for k, v in inner_environment(venv).items() if k != "NUMBA_CACHE_DIR"}
    before, started, listed, seen = os.times(), time.perf_counter(), None, b""
    command = [str(python_in(venv)), str(launcher_in(venv)), *arguments]
    with subprocess.Popen(
        command, cwd=TOP, env=environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as running:
        while running.stdout is not None and (some := os.read(running.stdout.fileno(), 65536)):
            seen += some
            if listed is None and _LIST_ENDS in seen:
                listed = time.perf_counter() - started
    whole, after = time.perf_counter() - started, os.times()
    if running.returncode or (arguments[0] == "triage" and _ANSWER_ENDS not in seen):
        raise RuntimeError(f"drypark {' '.join(arguments)} did not do its work")
    used = (after.children_user - before.children_user) + (
        after.children_system - before.children_system
    )
    return whole if listed is None else listed, whole, used


def _spread(seconds: list[float]) -> dict[str, object]:
    """Return smallest, median and largest."""
    return {
        "min s": min(seconds),
        "median s": statistics.median(seconds),
        "max s": max(seconds),
        "runs": len(seconds),
    }
