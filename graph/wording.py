"""The turns of phrase that every row about a knowledge file shares."""

from __future__ import annotations

import difflib
from collections.abc import Collection

from graph.namespaces import term_of

__all__ = ["nearest", "quoted"]


def quoted(iri: str) -> str:
    """Return a subject as a sentence names it: its id if it has one.

    Examples
    --------
    >>> quoted("https://drypark.example/terms#rc-bearing-play")
    "'rc-bearing-play'"
    """
    return repr(term_of(iri) or iri)


def nearest(word: str, known: Collection[str], *, otherwise: str) -> str:
    """Return the advice to use one of the known words that come near, or `otherwise`.

    Examples
    --------
    >>> nearest("frnt", ["front", "rear"], otherwise="say front or rear")
    "did you mean 'front'"
    """
    close = difflib.get_close_matches(word, sorted(known), n=3, cutoff=0.5)
    return "did you mean " + " or ".join(repr(one) for one in close) if close else otherwise
