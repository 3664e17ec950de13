"""Files that appear whole or not at all, and never in place of another.

The one idea: a file is written under a name of its own, looked at, and only then given the name
that was asked for, by a step of the system that fails when the name is taken.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from api.store.errors import RecordsFullError, TargetExistsError

__all__ = ["appearing", "must_be_free"]

#: What SQLite lays beside its file.
_BESIDE = ("", "-wal", "-shm", "-journal")


def must_be_free(path: Path) -> None:
    """Refuse a name that is taken, or that belongs to a database that is.

    Raises
    ------
    TargetExistsError
        If something is there.
    """
    for end in _BESIDE:
        taken = Path(f"{path}{end}")
        if os.path.lexists(taken):
            raise TargetExistsError(
                f"{taken} is there already",
                safe="it was not touched",
                remedy="give the name of a new file",
            )


@contextmanager
def appearing(path: Path) -> Iterator[Path]:
    """Yield a name to write under; the file gets its own name when all went well.

    Raises
    ------
    TargetExistsError
        If the name is taken, before or meanwhile.
    RecordsFullError
        If the disk does not take it.
    """
    must_be_free(path)
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        yield part
        _reach_disk(part)
        must_be_free(path)
        _name(part, path)
        _reach_disk(path.parent)
    except OSError as error:
        raise RecordsFullError(
            f"{path}: the file cannot be written ({(error.strerror or 'unknown').lower()})",
            safe="the records themselves are untouched",
            remedy="make room, or choose another folder",
        ) from error
    finally:
        for end in _BESIDE:
            with suppress(OSError):  # not made, or already named as above
                Path(f"{part}{end}").unlink()


def _name(part: Path, path: Path) -> None:
    """Give a file its name; fails when the name is taken meanwhile."""
    try:
        os.link(part, path)
    except FileExistsError:
        must_be_free(path)
    except OSError:  # a file system without links
        part.rename(path)


def _reach_disk(path: Path) -> None:
    """Wait until a file, or a folder's list of names, is on the disk."""
    if path.is_dir() and os.name == "nt":
        return  # folders cannot be opened there
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
