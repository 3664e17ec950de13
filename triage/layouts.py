"""Two layouts of one range: which meanings of a code number stand.

The C0 range has been laid out twice, and cars with either layout are on the road: one number
can name a wheel speed circuit in the earlier layout and something else altogether in the
current one. The number alone doesn't tell. Unless somebody says which layout the car has, or
picks the meaning that the scan tool shows, all meanings are kept and the tool asks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from triage.errors import CodeFormatError, UnknownTermError

__all__ = ["CASE_LAYOUTS", "MEANING_LAYOUTS", "Resolution", "resolve_layout"]

#: What a case can say of a car.
CASE_LAYOUTS: Final = ("current", "earlier", "unknown")
#: Where the knowledge can say that a meaning holds.
MEANING_LAYOUTS: Final = ("current", "earlier", "both")


@dataclass(frozen=True, slots=True)
class Resolution:
    """The meanings that stand, in the order given, and whether somebody must choose."""

    kept: tuple[str, ...]
    ask: bool


def resolve_layout(
    meanings: Iterable[tuple[str, str]], layout: str, *, chosen: str = ""
) -> Resolution:
    """Return the meanings of one code number that stand in the layout of the car.

    Parameters
    ----------
    meanings : pairs of meaning id and layout
        Each layout is "current", "earlier" or "both". One id may come more than once.
    layout : str
        What is known of the car: "current", "earlier" or "unknown".
    chosen : str
        The meaning id that a person has picked; "" = nobody has.

    Returns
    -------
    Resolution
        With a chosen id: that one, nothing to ask. With a known layout: the meanings of that
        layout. With an unknown one: all. `ask` holds when several stand, and also when none
        does although the other layout has one, for then the layout may be stated wrongly.

    Raises
    ------
    CodeFormatError
        If a layout is none of the words above.
    UnknownTermError
        If `chosen` is none of the meanings.

    Examples
    --------
    >>> pairs = [("dtc-wss-lf", "earlier"), ("dtc-wss-supply-rf", "current")]
    >>> resolve_layout(pairs, "unknown")
    Resolution(kept=('dtc-wss-lf', 'dtc-wss-supply-rf'), ask=True)
    >>> resolve_layout(pairs, "current")
    Resolution(kept=('dtc-wss-supply-rf',), ask=False)
    """
    pairs = tuple(meanings)
    _check_word(layout, CASE_LAYOUTS, "the case")
    for name, its_layout in pairs:
        _check_word(its_layout, MEANING_LAYOUTS, f"meaning {name!r}")
    every = tuple(dict.fromkeys(name for name, _ in pairs))
    if chosen:
        if chosen not in every:
            raise UnknownTermError("meaning", chosen, every, where="the chosen meaning of a code")
        return Resolution((chosen,), ask=False)
    fits = ("both", layout) if layout != "unknown" else MEANING_LAYOUTS
    kept = tuple(dict.fromkeys(name for name, its_layout in pairs if its_layout in fits))
    return Resolution(kept, ask=len(kept) > 1 or bool(every and not kept))


def _check_word(word: str, allowed: tuple[str, ...], where: str) -> None:
    """Refuse a layout word that nobody defined."""
    if word not in allowed:
        raise CodeFormatError(
            f"layout {word!r}",
            where=where,
            allowed=", ".join(allowed),
            remedy="use one of these words",
        )
