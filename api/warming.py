"""Have every compiled function on disk before anybody waits for an answer; set-up runs it.

The parts of the kernel are compiled side by side, each in a process of its own, and then one
case goes the whole way, which compiles what is left.
"""

from __future__ import annotations

import subprocess
import sys

from api.command import run
from triage.kernel import PARTS, warm_up

__all__ = ["warm"]


def warm(case: str) -> None:
    """Compile everything, and answer the case file named.

    Raises
    ------
    SystemExit
        With the command's code, if the case can't be answered.
    """
    first, *others = PARTS
    words = "from triage.kernel import warm_up; warm_up({!r})"
    at_work = [
        subprocess.Popen([sys.executable, "-c", words.format(part)])  # noqa: S603 - our own words
        for part in others
    ]
    warm_up(first)
    for process in at_work:
        process.wait()  # one that failed is made up for by the case
    run(["triage", case])
