"""How a command writes a document: indented JSON, in the order of the model."""

from __future__ import annotations

import json
import sys
from typing import Any

__all__ = ["write_json"]


def write_json(document: Any) -> None:
    """Write a plain value to standard output as JSON.

    Letters beyond ASCII are escaped, so that any pipe carries them.
    """
    json.dump(document, sys.stdout, indent=1, allow_nan=False)
    sys.stdout.write("\n")
