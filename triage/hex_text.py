"""Bytes written as text: hexadecimal digits in the ways people paste them.

Accepted are blanks, commas, semicolons, brackets and line ends between the bytes, a leading 0x,
and bytes run together ("590240311F"); every group must hold whole bytes, two digits each.
Nothing is guessed about transport: length and sequence bytes of frames are not taken out.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass

from triage.errors import CodeFormatError

__all__ = ["HexBytes", "is_hex", "read_hex"]

_GROUP = re.compile(r"[^\s,;\[\](){}]+")
_DIGITS = re.compile(r"(?:0[xX])?([0-9A-Fa-f]+)")
_TYPED_CODE = re.compile(r"[CBcb][0-3][0-9A-Fa-f]{3}(?:[0-9A-Fa-f]{2})?")
_CODE_WIDTHS = (2, 3, 4)


@dataclass(frozen=True, slots=True)
class HexBytes:
    """The bytes, and where each written group of them starts.

    Attributes
    ----------
    data : bytes
    first_byte, first_character : tuples of int
        For each group: the offset of its first byte, and of its first digit in the text.
    group : int or None
        2, 3 or 4 when several groups were written, all that many bytes wide, or one of 2 or 3.
    """

    data: bytes
    first_byte: tuple[int, ...]
    first_character: tuple[int, ...]
    group: int | None

    def character(self, offset: int) -> int:
        """Return where in the text the byte at this offset is written."""
        index = bisect_right(self.first_byte, offset) - 1
        return self.first_character[index] + 2 * (offset - self.first_byte[index])


def is_hex(text: str) -> bool:
    """Whether the text is nothing but hexadecimal digits, and no typed code such as C0051.

    Examples
    --------
    >>> is_hex("59 02 FF"), is_hex("C0051"), is_hex("")
    (True, False, False)
    """
    groups = _GROUP.findall(text)
    return bool(groups) and all(
        _DIGITS.fullmatch(group) and not _TYPED_CODE.fullmatch(group) for group in groups
    )


def read_hex(text: str, *, start: int = 0) -> HexBytes:
    """Return the bytes that the text writes out.

    Parameters
    ----------
    text : str
        Hexadecimal digits with separators.
    start : int
        Offset of `text` in a longer text; `HexBytes.character` counts from there.

    Raises
    ------
    CodeFormatError
        If there is anything but hexadecimal digits, or a group with an odd number of digits.

    Examples
    --------
    >>> read_hex("0x40, 0x31").data.hex(), read_hex("4031 C126").group
    ('4031', 2)
    """
    data = bytearray()
    first_byte: list[int] = []
    first_character: list[int] = []
    for group in _GROUP.finditer(text):
        digits = _DIGITS.fullmatch(group[0])
        if digits is None or len(digits[1]) % 2:
            raise _not_bytes(group[0], digits is not None)
        first_byte.append(len(data))
        first_character.append(start + group.start() + digits.start(1))
        data += bytes.fromhex(digits[1])
    widths = {b - a for a, b in zip(first_byte, [*first_byte[1:], len(data)], strict=True)}
    width = widths.pop() if len(widths) == 1 else 0
    known = width in _CODE_WIDTHS and (len(first_byte) > 1 or width < 4)
    return HexBytes(
        bytes(data), tuple(first_byte), tuple(first_character), width if known else None
    )


def _not_bytes(group: str, odd: bool) -> CodeFormatError:
    """Return the error for a group that is not whole bytes."""
    return CodeFormatError(
        f"{group[:40]!r}, {'an odd number of digits' if odd else 'not hexadecimal'}",
        where="the bytes",
        allowed="two hexadecimal digits a byte",
        remedy="paste the payload alone, without CAN ids or frame numbers",
    )
