"""Where a command's input comes from: a file, or standard input for a dash."""

from __future__ import annotations

import sys

from api.documents import MAX_BYTES, Case, read_case

__all__ = ["case_from", "standard_input"]


def case_from(name: str) -> Case:
    """Return the case in a file, or on standard input for ``-``.

    Raises
    ------
    DocumentError
        If it cannot be read, is no case, or is too large.
    """
    return read_case(standard_input() if name == "-" else name)


def standard_input() -> bytes:
    """Return what stands on standard input, never more than one byte over what is allowed."""
    return sys.stdin.buffer.read(MAX_BYTES + 1)
