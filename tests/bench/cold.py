"""How long a first answer takes in a process that has just been started."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent.parent
RUNS = 5
CASES = ("kerb-strike-van", "sensor-really-bad", "must-not-be-driven")


def cold_rows() -> list[dict[str, object]]:
    """Return, for each demo case, the seconds of whole processes: start to answer."""
    rows: list[dict[str, object]] = []
    for case in CASES:
        path = TOP / "fixtures" / "cases" / f"{case}.json"
        seconds = [_seconds(["triage", str(path), "--json"]) for _ in range(RUNS)]
        rows.append({"what": f"triage {case}", **_spread(seconds)})
    rows.append({"what": "--version", **_spread([_seconds(["--version"]) for _ in range(RUNS)])})
    check = [_seconds(["knowledge", "check"]) for _ in range(3)]
    rows.append({"what": "knowledge check", **_spread(check)})
    return rows


def _seconds(arguments: list[str]) -> float:
    """Return how long one command takes as a whole process."""
    started = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "api.command", *arguments], cwd=TOP, capture_output=True, check=True
    )
    return time.perf_counter() - started


def _spread(seconds: list[float]) -> dict[str, object]:
    """Return smallest, median and largest."""
    return {
        "min s": min(seconds),
        "median s": statistics.median(seconds),
        "max s": max(seconds),
        "runs": len(seconds),
    }
