"""The gate: what must be true before anything lands, in order, stopping at the first failure.

`python3 drypark.py test` runs it. `--fast` leaves out tests marked slow; pytest
says how many that were. The tests come last, so that pytest's own closing line
ends the report and the quick steps fail first.
"""

from __future__ import annotations

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
    ("types", (PYTHON, "-m", "mypy", *CODE)),
    ("layers", (PYTHON, "-c", "from importlinter.cli import lint_imports_command as c; c()")),
    ("knowledge", (PYTHON, "-m", "api.command", "knowledge", "check")),
    ("tests", (PYTHON, "-m", "pytest", "-q", "-n", "2", "--dist", "loadfile")),
)


def main(arguments: list[str]) -> int:
    """Run the steps; return 0, 1 when a step fails, or 2 for an argument there isn't."""
    unknown = [word for word in arguments if word != "--fast"]
    if unknown:
        say(f"'{unknown[0]}' is no argument of test, the only one is --fast; nothing was run")
        return 2
    fast = "--fast" in arguments
    if fast:
        say("--fast leaves out the tests marked slow; pytest's last line counts them as deselected")
    started = time.monotonic()
    for number, (name, command) in enumerate(STEPS, 1):
        line = [*command, "-m", "not slow"] if fast and name == "tests" else list(command)
        say(f"{number} of {len(STEPS)}, {name}")
        began = time.monotonic()
        try:
            code = subprocess.call(line, cwd=TOP)
        except KeyboardInterrupt:
            say(f"stopped in {name}, step {number} of {len(STEPS)}; nothing after it was run")
            return 130
        took = time.monotonic() - began
        if code:
            say(f"FAILED at {name} after {took:.0f} s (exit code {code}); nothing after it was run")
            return 1
        say(f"{name} passed in {took:.0f} s")
    say(f"all {len(STEPS)} steps passed in {time.monotonic() - started:.0f} s")
    return 0


def say(words: str) -> None:
    """Write one line beside what the steps write themselves."""
    sys.stderr.write(f"gate: {words}\n")
    sys.stderr.flush()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
