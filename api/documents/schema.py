"""JSON Schema of every document that goes in or out.

The one idea: the schema is made from the models that read and write, never written beside
them. The network document is `triage`'s plain form; its model stands here because `triage`
knows no pydantic.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, Literal

from pydantic import BaseModel, Field

from api.documents.answer import Answer
from api.documents.base import Document, Probability
from api.documents.case import Case
from triage.errors import UnknownTermError

__all__ = ["SCHEMAS", "NetworkDocument", "document_schema"]

DIALECT = "https://json-schema.org/draft/2020-12/schema"


class ParentEntry(Document):
    """A link into a node."""

    id: str
    strength: Probability = Field(description="net strength")


class NodeEntry(Document):
    """A cause with its prior, or a state or finding with its leak."""

    id: str
    kind: Literal["cause", "state", "finding"]
    prior: Probability | None = Field(default=None, description="of a cause")
    leak: Probability | None = Field(
        default=None, description="of a state or a finding; 0 if left out"
    )
    parents: tuple[ParentEntry, ...] = ()


class NetworkDocument(Document):
    """A noisy-OR network, for any inference engine."""

    nodes: tuple[NodeEntry, ...]


SCHEMAS: Final[Mapping[str, type[BaseModel]]] = {
    "case": Case,
    "answer": Answer,
    "network": NetworkDocument,
}


def document_schema(name: str) -> dict[str, Any]:
    """Return the JSON Schema of a document by its name.

    Raises
    ------
    UnknownTermError
        If there is no such document.

    Examples
    --------
    >>> document_schema("case")["title"]
    'Case'
    """
    if name not in SCHEMAS:
        raise UnknownTermError("document", name, SCHEMAS)
    return {"$schema": DIALECT, **SCHEMAS[name].model_json_schema(by_alias=True)}
