"""The failure type byte: what kind of fault the module saw, apart from where.

The third byte of a trouble code. Its high nibble is the category, and the category says
more about the way to look than the code does: a circuit short and a signal that is not
plausible have different causes. All names and meanings are in our own words **from memory**
of SAE J2012 / ISO 15031-6; the annex that lists them was not at hand. Show them as such.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from triage.errors import ParameterError

__all__ = ["BASIS", "CATEGORIES", "MEANINGS", "category", "category_name", "meaning"]

#: Where the names and meanings come from; show it beside them.
BASIS = "from memory of SAE J2012 / ISO 15031-6, own words"

#: Names of the categories 0 to 9; 10 to 15 are not assigned.
CATEGORIES = (
    "general",
    "general electrical",
    "general signal",
    "frequency or pulse-width signal",
    "system internal",
    "system programming",
    "algorithm based",
    "mechanical",
    "bus signal or message",
    "component or system operation",
)

#: Meaning of single bytes, own words, from memory. A byte that is missing is not known here.
MEANINGS: Mapping[int, str] = MappingProxyType(
    {
        0x00: "no further detail",
        0x01: "general electrical fault",
        0x02: "general signal fault",
        0x07: "mechanical failure",
        0x11: "circuit short to ground",
        0x12: "circuit short to battery",
        0x13: "circuit open",
        0x14: "circuit short to ground or open",
        0x15: "circuit short to battery or open",
        0x16: "circuit voltage below limit",
        0x17: "circuit voltage above limit",
        0x18: "circuit current below limit",
        0x19: "circuit current above limit",
        0x1A: "circuit resistance below limit",
        0x1B: "circuit resistance above limit",
        0x1F: "circuit intermittent",
        0x21: "signal amplitude too small",
        0x22: "signal amplitude too large",
        0x23: "signal stuck low",
        0x24: "signal stuck high",
        0x25: "signal shape or waveform wrong",
        0x26: "signal changes too slowly",
        0x27: "signal changes too fast",
        0x28: "signal bias out of range, zero adjustment failed",
        0x29: "signal invalid",
        0x2A: "signal stuck within its range",
        0x2F: "signal erratic",
        0x31: "no signal",
        0x36: "signal frequency too low",
        0x37: "signal frequency too high",
        0x38: "signal frequency incorrect",
        0x39: "too few pulses",
        0x3A: "too many pulses",
        0x41: "internal check: checksum",
        0x42: "internal check: memory",
        0x43: "internal check: special memory",
        0x44: "internal check: data memory",
        0x45: "internal check: program memory",
        0x46: "internal check: calibration memory",
        0x47: "internal check: watchdog",
        0x48: "internal check: supervision software",
        0x49: "internal electronic failure",
        0x4A: "wrong component installed",
        0x51: "not programmed",
        0x54: "calibration missing",
        0x55: "not configured",
        0x56: "configuration invalid or incompatible",
        0x57: "software incompatible",
        0x61: "signal calculation failed",
        0x62: "signals disagree when compared",
        0x63: "circuit or component protection time-out",
        0x64: "signal not plausible",
        0x67: "signal wrong after an event",
        0x71: "actuator stuck",
        0x73: "actuator stuck closed",
        0x76: "wrong mounting position",
        0x78: "alignment or adjustment incorrect",
        0x79: "mechanical linkage failed",
        0x7A: "fluid leak",
        0x7B: "fluid level low",
        0x81: "bus: invalid serial data received",
        0x82: "bus: message counter wrong",
        0x83: "bus: signal protection value wrong",
        0x84: "bus: signal below its range",
        0x85: "bus: signal above its range",
        0x86: "bus: signal invalid",
        0x87: "bus: message missing",
        0x88: "bus off",
        0x92: "performance or incorrect operation",
        0x94: "unexpected operation",
        0x96: "component internal failure",
        0x97: "operation obstructed or blocked",
        0x98: "over temperature",
    }
)


def category(byte: int) -> int:
    """Return the category of a failure type byte: its high nibble, 0 to 15.

    Parameters
    ----------
    byte : int in 0 to 255

    Raises
    ------
    ParameterError
        If `byte` lies outside its range.

    Examples
    --------
    >>> category(0x64)
    6
    """
    if not 0 <= byte <= 0xFF:
        raise ParameterError("a failure type", byte, allowed="0 to 255")
    return byte >> 4


def category_name(byte: int) -> str:
    """Return the name of the byte's category, or "not assigned" from A0 on.

    Examples
    --------
    >>> category_name(0x1F)
    'general electrical'
    """
    number = category(byte)
    return CATEGORIES[number] if number < len(CATEGORIES) else "not assigned"


def meaning(byte: int) -> str | None:
    """Return the meaning of one byte in our own words, or None where none is known.

    Examples
    --------
    >>> meaning(0x64)
    'signal not plausible'
    >>> meaning(0x65) is None
    True
    """
    category(byte)
    return MEANINGS.get(byte)
