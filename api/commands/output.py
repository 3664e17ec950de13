"""How a command writes: indented JSON on standard output, and files that appear whole or not."""

from __future__ import annotations

import json
import secrets
import shutil
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from triage.errors import DocumentError

__all__ = ["whole_file", "write_folder", "write_json"]


def write_json(document: Any) -> None:
    """Write a plain value to standard output as JSON, in the order of the model.

    Letters beyond ASCII are escaped, so that any pipe carries them.
    """
    json.dump(document, sys.stdout, indent=1, allow_nan=False)
    sys.stdout.write("\n")


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a name to write under; the file takes its own name, or another's place, at the end.

    Raises
    ------
    DocumentError
        If it cannot be written there; nothing is left of it then, nor when the work is stopped.
    """
    part = _part_of(path)
    try:
        yield part
        part.replace(path)
    except OSError as error:
        raise _refused("file", path, error, "a file in a folder that is there") from None
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def write_folder(path: Path, texts: Mapping[str, str]) -> None:
    """Write files into a new folder, all of them or none.

    Raises
    ------
    DocumentError
        If the folder is there already, or cannot be made.
    """
    part = _part_of(path)
    try:
        if path.exists():
            raise FileExistsError(17, "file exists")
        part.mkdir(parents=True)
        for name, text in texts.items():
            (part / name).write_text(text, encoding="utf-8", newline="\n")
        part.rename(path)
    except OSError as error:
        allowed = "the name of a folder that is not there yet"
        raise _refused("folder", path, error, allowed) from None
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _part_of(path: Path) -> Path:
    """Return the name of an unfinished file or folder beside the one it shall be."""
    where = path.absolute()
    return where.with_name(f".{where.name}.{secrets.token_hex(4)}.part")


def _refused(what: str, path: Path, error: OSError, allowed: str) -> DocumentError:
    """Return the sentence for what the system refused."""
    done = "written" if what == "file" else "made"
    return DocumentError(
        f"the {what} cannot be {done} ({(error.strerror or 'unknown reason').lower()})",
        where=str(path),
        allowed=allowed,
        remedy="choose another name",
    )
