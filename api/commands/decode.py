"""`drypark decode`: what typed codes and response bytes say."""

from __future__ import annotations

from collections.abc import Sequence

from api.commands.output import write_json
from api.commands.sources import standard_input
from api.terminal import Page, decoded_document, show_decoded
from graph.load import load_knowledge
from triage.decode import decode
from triage.errors import CodeFormatError

__all__ = ["run"]


def run(texts: Sequence[str], *, as_json: bool) -> None:
    """Read the texts, or standard input for a single ``-``.

    Raises
    ------
    CodeFormatError
        If nothing at all could be read.
    """
    text = " ".join(texts)
    if text == "-":
        text = standard_input().decode("utf-8", errors="replace")
    decoded = decode(text)
    errors = [issue for issue in decoded.issues if issue.level == "error"]
    if errors and not decoded.codes and not decoded.responses:
        first = errors[0]
        what = first.message.removesuffix(" in it").removeprefix("there is ")
        allowed, remedy = _ALLOWED, first.remedy
        if remedy.startswith(_STATES):  # what a response may hold is told more closely
            allowed, _, remedy = remedy.removeprefix(_STATES).partition("; ")
        raise CodeFormatError(what, where=first.where, allowed=allowed, remedy=remedy)
    knowledge = load_knowledge()
    if as_json:
        write_json(decoded_document(decoded, knowledge))
    else:
        show_decoded(decoded, knowledge, Page())


_ALLOWED = "trouble codes, or response bytes in hexadecimal"
_STATES = "allowed: "
