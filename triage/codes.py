"""Trouble codes: one value, three ways to write it.

A code is a 16-bit number; on newer modules a third byte, the failure type, follows::

    bits 15-14   letter       00 P, 01 C, 10 B, 11 U
    bits 13-12   first digit  0 to 3
    bits 11-0    three hexadecimal digits
    third byte   failure type, written after a hyphen: C0051-54

Who fixed a meaning can be read from the number alone (from memory of SAE J2012; check it
against the current edition)::

    the standard   P0, P2, P3400-P3FFF, C0, B0, U0, U3
    the maker      P1, P3000-P33FF, C1, C2, B1, B2, U1, U2
    reserved       C3, B3

A maker's code is kept as it was written and is never given a meaning here.

References
----------
SAE J2012 / ISO 15031-6 (notation), ISO 14229-1 (three-byte form).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from triage.errors import CodeFormatError, ParameterError

__all__ = ["LETTERS", "Control", "TroubleCode"]

#: The letters in the order of their two bits.
LETTERS = "PCBU"
#: Who fixes the meaning of a code.
Control = Literal["standard", "maker", "reserved"]

_CODE = re.compile(r"([PCBU])([0-3][0-9A-F]{3})(?:[-:]?([0-9A-F]{2}))?", re.ASCII | re.IGNORECASE)
_MAKER_DIGITS = {"P": (1,), "C": (1, 2), "B": (1, 2), "U": (1, 2)}
_ALLOWED = (
    "P, C, B or U, a digit 0 to 3, three hexadecimal digits, and where shown the failure type "
    "such as C0051 or C0051-64"
)


@dataclass(frozen=True, slots=True)
class TroubleCode:
    """A trouble code with its failure type where the scan tool showed one.

    Parameters
    ----------
    value : int in 0 to 0xFFFF
        The two-byte number.
    failure_type : int in 0 to 0xFF, or None
        The third byte; None means that it was not shown, which is not the same as 00.

    Raises
    ------
    ParameterError
        If a number lies outside its range.

    Examples
    --------
    >>> TroubleCode(0x4051, 0x54)
    TroubleCode('C0051-54')
    """

    value: int
    failure_type: int | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.value <= 0xFFFF:
            raise ParameterError("a trouble code's number", self.value, allowed="0 to 65535")
        if self.failure_type is not None and not 0 <= self.failure_type <= 0xFF:
            raise ParameterError("a failure type", self.failure_type, allowed="0 to 255")

    @classmethod
    def parse(cls, text: str) -> TroubleCode:
        """Return the code written as C0051, C0051-64, C0051:64 or C005164, in either case.

        Raises
        ------
        CodeFormatError
            If `text` is anything else; the letter O is not taken for a zero.

        Examples
        --------
        >>> TroubleCode.parse("c0051:64")
        TroubleCode('C0051-64')
        """
        match = _CODE.fullmatch(text.strip())
        if match is None:
            raise CodeFormatError(
                f"no trouble code in {text[:40]!r}",
                where="the code",
                allowed=_ALLOWED,
                remedy="type it as the scan tool shows it",
            )
        return cls.from_parts(*match.groups())

    @classmethod
    def from_parts(cls, letter: str, digits: str, failure_type: str | None) -> TroubleCode:
        """Return the code of a letter, four digits and two digits of failure type or None.

        The parts are taken as checked: this is for readers that matched them already.
        """
        value = LETTERS.index(letter.upper()) << 14 | int(digits, 16)
        return cls(value, None if failure_type is None else int(failure_type, 16))

    @classmethod
    def from_int24(cls, number: int) -> TroubleCode:
        """Return the code of a three-byte number, 0 to 0xFFFFFF; the low byte is the failure type.

        Raises
        ------
        ParameterError
            If the number lies outside its range.
        """
        if not 0 <= number <= 0xFFFFFF:
            raise ParameterError("a three-byte trouble code", number, allowed="0 to 16777215")
        return cls(number >> 8, number & 0xFF)

    @classmethod
    def from_bytes(cls, data: bytes) -> TroubleCode:
        """Return the code of two bytes (no failure type) or three, most significant first.

        Raises
        ------
        CodeFormatError
            If there are not two or three bytes.

        Examples
        --------
        >>> TroubleCode.from_bytes(bytes.fromhex("C126"))
        TroubleCode('U0126')
        """
        if len(data) not in (2, 3):
            raise CodeFormatError(
                f"{len(data)} bytes",
                where="one trouble code",
                allowed="two bytes, or three with the failure type",
                remedy="give the bytes of one code",
            )
        return cls(int.from_bytes(data[:2], "big"), data[2] if len(data) == 3 else None)

    def to_int(self) -> int:
        """Return the three-byte number, or the two-byte number where no failure type is known."""
        if self.failure_type is None:
            return self.value
        return self.value << 8 | self.failure_type

    def to_bytes(self) -> bytes:
        """Return three bytes, or two where no failure type is known."""
        return self.to_int().to_bytes(2 if self.failure_type is None else 3, "big")

    def without_failure_type(self) -> TroubleCode:
        """Return the same code with its failure type left out."""
        return TroubleCode(self.value)

    @property
    def letter(self) -> str:
        """P, C, B or U."""
        return LETTERS[self.value >> 14]

    @property
    def notation(self) -> str:
        """The code without failure type, such as C0051."""
        return f"{self.letter}{self.value & 0x3FFF:04X}"

    @property
    def category(self) -> int | None:
        """The failure type's category, 0 to 15: its high nibble; None where it was not shown."""
        return None if self.failure_type is None else self.failure_type >> 4

    @property
    def control(self) -> Control:
        """Who fixes the meaning of this number."""
        digit = self.value >> 12 & 0b11
        if digit in _MAKER_DIGITS[self.letter]:
            return "maker"
        if digit == 3 and self.letter in "CB":
            return "reserved"
        if self.letter == "P" and digit == 3 and self.value & 0xFFF < 0x400:
            return "maker"
        return "standard"

    @property
    def fixed_meaning(self) -> bool:
        """Whether the standard fixes the meaning; if not, only the maker's own words count."""
        return self.control == "standard"

    def __str__(self) -> str:
        if self.failure_type is None:
            return self.notation
        return f"{self.notation}-{self.failure_type:02X}"

    def __repr__(self) -> str:
        return f"TroubleCode({str(self)!r})"
