"""The package's front: all its names, and none of its weight before one is asked for."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import triage

TOP = Path(__file__).resolve().parent.parent.parent


@pytest.mark.parametrize("name", triage.__all__)
def test_every_name_is_there(name: str) -> None:
    """Also for `from triage import ...`, and from the module that says what it is."""
    assert getattr(triage, name).__module__.startswith("triage.")
    assert name in triage._FROM


def test_the_names_are_as_many_as_they_were() -> None:
    """Partner of the sweep above."""
    assert len(triage.__all__) == len(triage._FROM) == 8


def test_a_name_that_is_not_there_is_refused() -> None:
    """As any module does it."""
    with pytest.raises(AttributeError, match="module 'triage' has no attribute 'posteriors'"):
        _ = triage.posteriors


def test_errors_and_help_need_no_compiler() -> None:
    """`drypark --help`, and whatever looks after records, is there at once."""
    program = (
        "import sys; from api.command import run; run(['--help']);"
        "from triage.errors import TriageError;"
        "sys.exit('numba' in sys.modules or 'networkx' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], cwd=TOP, stdout=-3, check=False)
    assert done.returncode == 0
