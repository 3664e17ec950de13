"""A complaint in parts: what is said, what is denied, and where on the car.

The one idea: negation and side are settled by small rules before anything is looked up.
"Hums at speed, not when braking" is one thing said and one denied; "front left" is a place
and not a word to look for; "when I turn left" is a direction and stays.

The rules are common practice, no source. Driver's and passenger's side are not read: which
side that is depends on the country.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

__all__ = ["LONGEST", "NOT", "Clause", "clauses_of", "words_of"]

LONGEST: Final = 4000  # characters that are read of a complaint
NOT: Final = "not"  # the one word that all denials become

_WORD = re.compile(r"[a-z0-9]+")
#: Other spellings of the trade's words, as the customer's words in the knowledge have them.
_SPELT: Final = {
    "tyre": "tire", "tyres": "tires", "kerb": "curb", "kerbs": "curbs", "colour": "color",
    "centre": "center", "aluminium": "aluminum", "petrol": "gas", "motorway": "freeway",
    "boot": "trunk", "grey": "gray", "rotor": "disc", "rotors": "discs",
}  # fmt: skip
_DENIALS = re.compile(
    r"\b(?:cannot|no|never|nothing|without|none|neither|nor|"
    r"(?:is|was|are|were|do|does|did|has|have|had|wo|ca|could|would|should|will|can)n['\u2019]?t)\b"
)
#: "not only", "not sure": no denial of what follows.
_NO_DENIAL = re.compile(
    r"\b(?:not|no)\s+(?:only|just|sure|certain|idea|matter|doubt)\b|\bnothing\s+but\b"
)
_BREAKS = re.compile(
    r"[.;:!?,\n\r\t()\[\]/\"]+|\s[-\u2013\u2014]+\s|\b(?:but|except|though|although|however|whereas|yet)\b"
)
#: A denial of a circumstance ends what was said before it: "hums, not when braking".
_NEW_PART = re.compile(r"\s(?=not\s+(?:when|while|if|on|at|under|in|during|after|with|the|my)\b)")

_END: Final = {"front": "f", "rear": "r", "back": "r"}
#: "came right back", "right in front": no place.
_NO_PLACE = re.compile(r"\b(?:came|come|comes|right)\s+(?:right\s+)?back\b|\bin\s+front\s+of\b")
_CORNER = re.compile(
    r"\b(?:(?P<end1>front|rear|back)[\s-]+(?P<side1>left|right)"
    r"|(?P<side2>left|right)(?:[\s-]+hand)?(?:[\s-]+side)?[\s-]+(?P<end2>front|rear|back))\b"
)
_THING = r"(?:wheels?|tires?|tyres?|hubs?|brakes?|axles?|corners?|struts?|shocks?|springs?)"
_SIDE = re.compile(
    rf"\b(?:(?:on|from|at)\s+the\s+)?(?P<side>left|right)[\s-]+(?:hand[\s-]+)?(?=side\b|{_THING}\b)"
    r"|\b(?:on|from)\s+(?:the|my)\s+(?P<side2>left|right)\b(?![\s-]*(?:hand\b|turns?\b|bends?\b))"
)
_AXLE = re.compile(
    rf"\b(?:(?P<end>front|rear)\b(?!\s+of\b)|(?P<end2>back)(?=\s+(?:end|{_THING})\b)"
    r"|(?:in|at|from|of)\s+the\s+(?P<end3>back)\b)"
)


@dataclass(frozen=True, slots=True)
class Clause:
    """One part of a complaint."""

    words: tuple[str, ...]  # in lower case, denials as NOT, a corner taken out
    place: str | None  # of graph.places.PLACES; None = not said
    denied: bool


def words_of(text: str) -> tuple[str, ...]:
    """Return the words of a text, in one spelling and with one word for every denial.

    Examples
    --------
    >>> words_of("Horn doesn't work, two tyres")
    ('horn', 'not', 'work', 'two', 'tires')
    """
    return tuple(_SPELT.get(word, word) for word in _WORD.findall(_with_one_denial(text.lower())))


def clauses_of(text: str) -> tuple[Clause, ...]:
    """Return the parts of a complaint in their order; at most `LONGEST` characters are read.

    Examples
    --------
    >>> [(" ".join(c.words), c.place, c.denied) for c in clauses_of("Hums front left, not braking")]
    [('hums', 'lf', False), ('not braking', None, True)]
    """
    plain = _with_one_denial(_NO_DENIAL.sub(" ", text[:LONGEST].lower()))
    parts = (part for rough in _BREAKS.split(plain) for part in _NEW_PART.split(rough))
    clauses = []
    for part in parts:
        place, rest = _place(part)
        words = words_of(rest)
        if words or place:
            clauses.append(Clause(words, place, NOT in words))
    return tuple(clauses)


def _with_one_denial(text: str) -> str:
    """Return a text in which every denial is the same word."""
    return _DENIALS.sub(NOT, text.replace("\u2019", "'"))


def _place(part: str) -> tuple[str | None, str]:
    """Return the place a part names, and the part without the words of a corner or side."""
    corner = _CORNER.search(part)
    if corner and not _NO_PLACE.search(part):
        end, side = corner["end1"] or corner["end2"], corner["side1"] or corner["side2"]
        return side[0] + _END[end], _CORNER.sub(" ", part, count=1)
    side_said = _SIDE.search(part)
    if side_said:
        side = side_said["side"] or side_said["side2"]
        return side, part[: side_said.start()] + " " + part[side_said.end() :]
    axle = _AXLE.search(part)
    if axle:
        return "front" if "front" in (axle["end"], axle["end2"]) else "rear", part
    return None, part
