"""Have every compiled function on disk before anybody waits for an answer; set-up runs it.

The parts of the kernel are compiled side by side, each in a process of its own, and then one
case goes the whole way, which compiles what is left. Each function that is on disk is a line, so
that set-up can count them.
"""

from __future__ import annotations

import io
import os
import subprocess
import sys
import threading
from contextlib import redirect_stdout
from pathlib import Path

from api.command import run
from triage.kernel import PARTS, warm_up

__all__ = ["warm"]

_LOOK = 0.5  # seconds between two looks at what is there


def warm(case: str) -> None:
    """Compile everything, and answer the case file named.

    Raises
    ------
    SystemExit
        With the command's code, if the case can't be answered.
    """
    ended = threading.Event()
    teller = threading.Thread(target=_tell, args=(ended,), daemon=True)
    teller.start()
    code = _compile(case)
    ended.set()
    teller.join()
    if code:
        raise SystemExit(code)


def _compile(case: str) -> int:
    """Compile the parts side by side, then the rest; return the exit code of the answer."""
    first, *others = PARTS
    words = "from triage.kernel import warm_up; warm_up({!r})"
    at_work = [
        subprocess.Popen([sys.executable, "-c", words.format(part)])  # noqa: S603 - our own words
        for part in others
    ]
    warm_up(first)
    for process in at_work:
        process.wait()  # one that failed is made up for by the case
    with redirect_stdout(io.StringIO()):
        return run(["triage", case])


def _tell(ended: threading.Event) -> None:
    """Name each function once it is on disk, until all are."""
    folder, seen, last = os.environ.get("NUMBA_CACHE_DIR"), set[str](), False
    while folder and not last:
        last = ended.wait(_LOOK)
        for path in sorted(Path(folder).glob("*/*.nbi")):
            name = path.name.partition("-")[0]
            if path.name not in seen:
                seen.add(path.name)
                print(f"compiled {name}", file=sys.__stdout__, flush=True)
