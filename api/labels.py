"""Words for the ids that stand in a text.

The one idea: notes and keys are written with ids, so that a program can follow them; a person
reads the labels. `labels_in` collects them from the knowledge, `worded` puts them in.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from api.words import place_words
from graph.terms import Knowledge

__all__ = ["label_of", "labels_in", "worded"]

_ID = re.compile(
    r"\b((?:rc|st|sy|ck|su|sg|cx|vf|dtc|rp)-[a-z0-9]+(?:-[a-z0-9]+)*)"
    r"(?:@(lf|rf|lr|rr|front|rear|left|right|vehicle|somewhere)\b)?"
)


def label_of(knowledge: Knowledge, term: str) -> str:
    """Return the words of a term, without its place; nothing for one that is not known."""
    for table in (
        knowledge.causes,
        knowledge.states,
        knowledge.findings,
        knowledge.checks,
        knowledge.setups,
        knowledge.gates,
        knowledge.contexts,
        knowledge.facts,
        knowledge.repairs,
    ):
        if term in table:
            return str(table[term].label)
    return f"code for {knowledge.codes[term].watched}" if term in knowledge.codes else ""


def labels_in(knowledge: Knowledge, texts: Iterable[str]) -> dict[str, str]:
    """Return the words of every known id that the texts name, by id without place."""
    ids = {match[1] for text in texts for match in _ID.finditer(text)}
    return {term: words for term in sorted(ids) if (words := label_of(knowledge, term))}


def worded(text: str, labels: Mapping[str, str]) -> str:
    """Return a text with words in the place of the ids that have some.

    Examples
    --------
    >>> worded("rc-bearing-play@lr found", {"rc-bearing-play": "Hub bearing play"})
    'Hub bearing play, left rear found'
    >>> worded("ck-shake@lf:rc-x@lf", {"ck-shake": "Wheel shake"})
    'Wheel shake, left front: rc-x@lf'
    """

    def words_of(match: re.Match[str]) -> str:
        words = labels.get(match[1])
        if words is None:
            return match[0]
        place = place_words(match[2] or "")
        return f"{words}, {place}" if place else words

    parted = re.sub(r"(?<=[\w])(:)(?=(?:rc|st)-)", ": ", text)
    return _ID.sub(words_of, parted)
