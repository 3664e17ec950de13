"""The gate: what must be true before anything lands, in order, stopping at the first failure.

`python3 drypark.py test` runs it. `--fast` leaves out tests marked slow; pytest
says how many that were.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

__all__ = ["STEPS", "main"]

TOP = Path(__file__).resolve().parent.parent
PYTHON = sys.executable
CODE = ("drypark.py", "triage", "graph", "api", "tests")
#: Name of each step and the command that is it.
STEPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("format", (PYTHON, "-m", "ruff", "format", "--check", "--quiet", *CODE)),
    ("lint", (PYTHON, "-m", "ruff", "check", "--quiet", *CODE)),
    ("types", (PYTHON, "-m", "mypy", "triage", "graph", "api", "tests")),
    ("layers", (PYTHON, "-c", "from importlinter.cli import lint_imports_command as c; c()")),
    ("knowledge", (PYTHON, "-m", "api.command", "knowledge", "check")),
    ("tests", (PYTHON, "-m", "pytest", "-q", "-n", "2", "--dist", "loadfile")),
)


def main(arguments: list[str]) -> int:
    """Run the steps; return the exit code of the first that fails, or 0."""
    fast = "--fast" in arguments
    for number, (name, command) in enumerate(STEPS, 1):
        line = [*command, "-m", "not slow"] if fast and name == "tests" else list(command)
        sys.stderr.write(f"gate {number} of {len(STEPS)}: {name}\n")
        started = time.monotonic()
        done = subprocess.run(line, cwd=TOP, env=os.environ, check=False)
        took = time.monotonic() - started
        if done.returncode:
            sys.stderr.write(f"gate: {name} failed after {took:.0f} s; nothing after it was run\n")
            return done.returncode
        sys.stderr.write(f"gate: {name} passed in {took:.0f} s\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
