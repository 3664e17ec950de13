"""Numbers in words: how likely, how heavy, how long, where.

The one idea: a word comes first, and the figure beside it is rounded to what a starting
estimate is worth. Two published scales give the words, both from memory:

* probability: the likelihood scale of the IPCC guidance note on uncertainty [1]_;
* weight of evidence: Jeffreys' grades [2]_, in decibans, ten times the common logarithm of
  a likelihood ratio. His steps of half a power of ten are five decibans each.

References
----------
.. [1] Mastrandrea, M. D. et al. (2010). Guidance Note for Lead Authors of the IPCC Fifth
       Assessment Report on Consistent Treatment of Uncertainties, table 1.
.. [2] Jeffreys, H. (1961). Theory of Probability, 3rd edition, appendix B.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from triage.errors import ParameterError

__all__ = [
    "ALWAYS_STATED",
    "GATE_LEVELS",
    "PLACES_AT_END",
    "PLACE_WORDS",
    "evidence_words",
    "minutes_words",
    "percent_words",
    "place_words",
    "places_in_words",
    "probability_words",
]

#: Places at the end of what a gate still needs, such as "at lf, rf".
PLACES_AT_END: Final = re.compile(
    r"\bat ((?:lf|rf|lr|rr|front|rear|left|right)(?:, (?:lf|rf|lr|rr))*)$"
)

PLACE_WORDS: Final[Mapping[str, str]] = {
    "lf": "left front",
    "rf": "right front",
    "lr": "left rear",
    "rr": "right rear",
    "front": "front",
    "rear": "rear",
    "left": "left side",
    "right": "right side",
    "vehicle": "",
}

#: What an open gate forbids, gravest first.
GATE_LEVELS: Final[Mapping[str, str]] = {
    "do-not-drive": "Must not be driven",
    "no-road-test-until-lift-check": "No road test until it was checked on the lift",
    "road-test-lot-only": "Walking pace on the lot only",
    "lot-or-spare-limit": "Lot, or within the spare's marked speed and distance",
    "none": "Before that step",
}

#: What every answer states, on screen and on paper.
ALWAYS_STATED: Final = (
    "Torque, play, run-out, alignment and ride height limits come from the vehicle maker's "
    "information only; Drypark has none of its own.",
    "A code names a circuit, not a part.",
    "Save freeze frame and status, then clear. No code while its test has not run (status "
    "bit 4 set) proves nothing.",
    "Every number here is an estimate; the senior technician decides.",
    "After any wheel was off: wheel nuts to the maker's value, and again after the distance "
    "the shop states.",
    "Tell the customer which functions are off now (ABS, stability, steering assist) and not "
    "to rely on them.",
    "Not examined is not the same as in order: keep the two lists apart.",
)

#: (lowest probability of the band, word), from the top.
_LIKELIHOOD: Final = (
    (0.99, "virtually certain"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.10, "unlikely"),
    (0.01, "very unlikely"),
    (0.0, "exceptionally unlikely"),
)
#: (lowest weight of the grade in decibans, word), from the top.
_GRADES: Final = (
    (20.0, "decisive"),
    (15.0, "very strong"),
    (10.0, "strong"),
    (5.0, "substantial"),
    (0.0, "slight"),
)


def probability_words(probability: float) -> str:
    """Return the word of the likelihood scale for a probability in [0, 1].

    The bands are read so that they do not overlap: 0.33 to 0.66 is "about as likely as not",
    and a band's edge belongs to the word nearer to "don't know".

    Raises
    ------
    ParameterError
        If it lies outside [0, 1] or is no number.

    Examples
    --------
    >>> probability_words(0.58), probability_words(0.07)
    ('about as likely as not', 'very unlikely')
    """
    _check(probability)
    for lowest, word in _LIKELIHOOD[:3]:
        if probability > lowest:
            return word
    for lowest, word in _LIKELIHOOD[3:]:
        if probability >= lowest:
            return word
    return _LIKELIHOOD[-1][1]


def percent_words(probability: float) -> str:
    """Return a probability as a figure rounded to what it is worth.

    Whole percents below 10 and above 90, steps of five between, and no claim to more than
    "under 1 %" and "over 99 %".

    Examples
    --------
    >>> percent_words(0.583), percent_words(0.071), percent_words(0.0004)
    ('60 %', '7 %', 'under 1 %')
    """
    _check(probability)
    if probability < 0.01:
        return "under 1 %"
    if probability > 0.99:
        return "over 99 %"
    step = 1 if probability < 0.1 or probability > 0.9 else 5
    return f"{round(100 * probability / step) * step} %"


def evidence_words(decibans: float) -> str:
    """Return Jeffreys' grade of a weight of evidence, and which way it points.

    His lowest grade, "not worth more than a bare mention", is shortened to "slight".

    Examples
    --------
    >>> evidence_words(6.1), evidence_words(-12.0), evidence_words(0.02)
    ('substantial, for', 'strong, against', 'none')
    """
    size = abs(decibans)
    if size < 0.05:
        return "none"
    grade = next(word for lowest, word in _GRADES if size >= lowest)
    return f"{grade}, {'for' if decibans > 0 else 'against'}"


def minutes_words(minutes: float) -> str:
    """Return a time as "4 min" or "1 h 15 min".

    Examples
    --------
    >>> minutes_words(4), minutes_words(75), minutes_words(0.4)
    ('4 min', '1 h 15 min', 'under 1 min')
    """
    if minutes < 0.5:
        return "under 1 min"
    whole = round(minutes)
    if whole < 60:
        return f"{whole} min"
    hours, rest = divmod(whole, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def place_words(place: str) -> str:
    """Return a place in words; the whole vehicle has none.

    Examples
    --------
    >>> place_words("lr"), place_words("vehicle")
    ('left rear', '')
    """
    return PLACE_WORDS.get(place, place)


def places_in_words(text: str) -> str:
    """Return a text that ends in places, with those in words.

    Examples
    --------
    >>> places_in_words("Axle nut at lf, rf")
    'Axle nut at left front, right front'
    """
    return PLACES_AT_END.sub(
        lambda match: "at " + ", ".join(place_words(one) for one in match[1].split(", ")), text
    )


def _check(probability: float) -> None:
    """Refuse what is no probability."""
    if not 0.0 <= probability <= 1.0:
        raise ParameterError("a probability", probability)
