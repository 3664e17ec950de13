"""Shipped knowledge kept as it was decoded, so that the next process need not read it again.

The one idea: what is kept carries the key of all that it was made from, the files' contents and
the program that decodes them; with any other key it is not there. It lies beside the compiled
arithmetic, which numba keeps in the same form (pickled) and in the same trust: a folder that only
the owner of the environment writes to. Where no such folder is named, nothing is kept.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import secrets
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Final

from graph.terms import Knowledge

__all__ = ["keep", "kept", "key_of"]

_NAME: Final = "knowledge.kept"
_KEY: Final = 32  # bytes


def key_of(fingerprint: str, sources: bytes) -> bytes:
    """Return the key of knowledge: contents, and names, times and sizes of what decodes it."""
    digest = hashlib.sha256(f"{fingerprint}\0".encode() + sources)
    for path in sorted(Path(__file__).parent.glob("*.py")):
        about = path.stat()
        digest.update(f"\0{path.name} {about.st_mtime_ns} {about.st_size}".encode())
    return digest.digest()


def kept(key: bytes) -> Knowledge | None:
    """Return what is kept under a key; None where nothing is, or nothing that can be read."""
    for place in _places():
        with suppress(OSError, ValueError, EOFError, pickle.UnpicklingError, AttributeError):
            data = place.read_bytes()
            if data[:_KEY] == key:
                found = pickle.loads(memoryview(data)[_KEY:])  # noqa: S301 - our own file, see above
                if isinstance(found, Knowledge):
                    return found
    return None


def keep(key: bytes, knowledge: Knowledge) -> None:
    """Keep knowledge under a key, whole or not at all; where that can't be, nothing is kept."""
    for place in _places():
        part = place.with_name(f".{place.name}.{secrets.token_hex(4)}")
        with suppress(OSError):
            try:
                part.write_bytes(key + pickle.dumps(knowledge, pickle.HIGHEST_PROTOCOL))
                part.replace(place)
            finally:
                part.unlink(missing_ok=True)


def _places() -> Iterator[Path]:
    """Yield the file that knowledge is kept in, if there is a folder for it."""
    folder = os.environ.get("NUMBA_CACHE_DIR")
    if folder and Path(folder).is_dir():
        yield Path(folder) / _NAME
