"""`drypark schema`: JSON Schema of a document."""

from __future__ import annotations

from api.commands.output import write_json
from api.documents import document_schema

__all__ = ["run"]


def run(name: str) -> None:
    """Write the JSON Schema of the document called `name`.

    Raises
    ------
    UnknownTermError
        If there is no such document.
    """
    write_json(document_schema(name))
