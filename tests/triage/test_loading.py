"""Compiled functions loaded lightly: the same numbers, and compiling goes on."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

from triage.kernel import warm_up
from triage.loading import TRIED

TOP = Path(__file__).resolve().parent.parent.parent


def _said(program: str, **environment: str) -> list[str]:
    """Return the words that a program in a process of its own writes."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program],
        cwd=TOP,
        env={**os.environ, "PYTHONPATH": str(TOP), **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.split()


def test_the_numba_that_is_shipped_has_been_tried() -> None:
    """A new version is looked at before it is reached into; until then it loads as it does."""
    locked = re.search(r"^numba==(\S+)", (TOP / "lock" / "run.txt").read_text("utf-8"), re.M)
    assert locked is not None
    assert locked[1] in TRIED


def test_lightly_loaded_functions_say_the_same() -> None:
    """To the last digit; and numba did not make itself ready to compile."""
    usual = warm_up()  # compiles what is not on disk yet
    said = _said(
        "import sys; from triage.loading import load_lightly; light = load_lightly();"
        "from triage.kernel import warm_up; print(light, repr(warm_up()));"
        "print('numba.misc.gdb_hook' in sys.modules)"
    )
    assert said == ["True", repr(usual), "False"]


def test_what_is_not_on_disk_is_compiled_after_all(tmp_path: Path) -> None:
    """A function of our own calls one that was loaded lightly: its code is read for linking."""
    warm_up()
    caller = tmp_path / "caller.py"
    caller.write_text(
        "from numba import njit\n"
        "from triage.loading import load_lightly\n"
        "assert load_lightly()\n"
        "from triage.kernel import warm_up\n"
        "from triage.ordering import put_in_order\n"
        "before = warm_up()\n"
        "@njit\n"
        "def twice(folded, thorough):\n"
        "    return put_in_order(folded, thorough)[4] + put_in_order(folded, not thorough)[4]\n"
        "twice.compile(put_in_order.signatures[0])\n"
        "print(len(twice.signatures), before == warm_up())\n",
        "utf-8",
    )
    assert _said(f"import runpy; runpy.run_path({str(caller)!r})") == ["1", "True"]


def test_another_version_is_left_alone() -> None:
    """Its inside may be another one."""
    said = _said(
        "import numba; numba.__version__ = '0.0'; from numba.core import caching;"
        "before = caching.Cache.load_overload; from triage.loading import load_lightly;"
        "print(load_lightly(), caching.Cache.load_overload is before)"
    )
    assert said == ["False", "True"]
