"""What all documents share: frozen, closed, no coercion, no NaN.

The one idea: the `description` of a field says what is *allowed* there. It is published in
the JSON Schema, and the sentence that refuses a value quotes it, so the two cannot differ.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["Document", "Line", "Place", "Probability", "TermId"]


class Document(BaseModel):
    """Base of every model of a document."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        allow_inf_nan=False,
        populate_by_name=True,
        serialize_by_alias=True,
    )


#: One line of text: no control characters, so that nothing can steer a terminal.
Line = Annotated[str, Field(max_length=200, pattern=r"^[^\x00-\x1f\x7f-\x9f]*$")]
#: An id of the knowledge; whether it is known is asked of the knowledge, not here.
TermId = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f-\x9f]*$")]
Place = Literal["lf", "rf", "lr", "rr", "front", "rear", "left", "right", "vehicle"]
Probability = Annotated[float, Field(ge=0.0, le=1.0)]
