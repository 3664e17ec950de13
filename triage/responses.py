"""Complete responses: the trouble codes in the bytes that a module sent.

**Read DTC information (59)**, ISO 14229-1: sub-function, availability mask, then records of
four bytes (three-byte code, status). Sub-functions 02, 0A to 0F, 13 and 15 are built so.

**Stored 43, pending 47, permanent 4A**, emission-related. Two forms are in use::

    counted (CAN, ISO 15765-4)   43 n   then n codes of two bytes
    slotted (older, ISO 15031-5) 43     then three slots of two bytes, 00 00 = empty

A slotted response has exactly 7 bytes; a counted one without padding has 2 + 2n, an even
number, so without padding the two cannot be mixed up. A counted response with n = 1 or 2 that
was padded with zeros to 7 bytes is also a good slotted one with other codes. Nothing in the
bytes tells which it is: both readings come back as an `AmbiguousResponse`, for a person to
choose.

Trailing zeros count as padding in 59 and in the counted form, as the usual libraries have it;
`CodeResponse.padding` says how many. A record that is cut off makes the whole response
unreadable: nothing is half-read.

What is expected is the plain payload, without CAN id, length or sequence bytes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from triage.codes import TroubleCode
from triage.errors import CodeFormatError
from triage.negative_response import NEGATIVE_ID, NegativeResponse, read_negative
from triage.status import Status

__all__ = [
    "EMISSION_IDS",
    "RECORD_SUBFUNCTIONS",
    "AmbiguousResponse",
    "CodeRecord",
    "CodeResponse",
    "Form",
    "Response",
    "read_response",
]

#: How the codes lie in a response; "bare" are code bytes without any response around them.
Form = Literal["records", "counted", "slotted", "bare"]

_READ_DTC_ID = 0x59
_SLOTTED_LENGTH = 7
#: What the emission-related responses list, by response id.
EMISSION_IDS: Mapping[int, str] = MappingProxyType(
    {0x43: "stored", 0x47: "pending", 0x4A: "permanent"}
)
#: Sub-functions of 59 that carry a mask and code-and-status records, ISO 14229-1.
RECORD_SUBFUNCTIONS: Mapping[int, str] = MappingProxyType(
    {
        0x02: "codes by status mask",
        0x0A: "supported codes",
        0x0B: "first code whose test failed",
        0x0C: "first confirmed code",
        0x0D: "most recent code whose test failed",
        0x0E: "most recent confirmed code",
        0x0F: "mirror memory codes by status mask",
        0x13: "emission-related codes by status mask",
        0x15: "codes with permanent status",
    }
)
_ALLOWED = (
    "59 with sub-function "
    + ", ".join(f"{number:02X}" for number in RECORD_SUBFUNCTIONS)
    + "; 43, 47 or 4A; 7F"
)


@dataclass(frozen=True, slots=True)
class CodeRecord:
    """One code of a response; `offset` counts the bytes before it."""

    code: TroubleCode
    status: Status | None
    offset: int


@dataclass(frozen=True, slots=True)
class CodeResponse:
    """The codes of one response, in the order sent.

    Attributes
    ----------
    lists : str
        What was asked for, in words, such as "codes by status mask".
    form : Form
        How the bytes were read.
    records : tuple of CodeRecord
        Empty slots and all-zero records are left out.
    mask : int or None
        Status availability mask (59 only): the status bits that the module supports.
    padding : int
        Number of trailing zero bytes taken as padding.
    word : str
        Status word that holds for every code: "stored", "pending", "permanent", or "".
    """

    lists: str
    form: Form
    records: tuple[CodeRecord, ...]
    mask: int | None = None
    padding: int = 0
    word: str = ""


@dataclass(frozen=True, slots=True)
class AmbiguousResponse:
    """Bytes with more than one good reading; `why` says what cannot be told."""

    readings: tuple[CodeResponse, ...]
    why: str


#: What a complete response can be.
Response = CodeResponse | AmbiguousResponse | NegativeResponse


def read_response(data: bytes) -> Response:
    """Return what one complete response says.

    Parameters
    ----------
    data : bytes
        The plain payload, beginning with 59, 43, 47, 4A or 7F.

    Returns
    -------
    CodeResponse, AmbiguousResponse or NegativeResponse

    Raises
    ------
    CodeFormatError
        If the bytes are no such response, or one that is cut off or has bytes left over.

    Examples
    --------
    >>> reading = read_response(bytes.fromhex("5902FF 4031 1F 2F"))
    >>> [(str(record.code), str(record.status)) for record in reading.records]
    [('C0031-1F', '2F')]
    >>> len(read_response(bytes.fromhex("43 01 4031 000000")).readings)
    2
    """
    first = data[0] if data else None
    if first == NEGATIVE_ID:
        return read_negative(data)
    if first == _READ_DTC_ID:
        return _read_records(data)
    if first in EMISSION_IDS:
        return _read_emission(data)
    raise CodeFormatError(
        "no bytes" if first is None else f"byte {first:02X} at offset 0",
        where="a response",
        allowed=f"as the first byte, {_ALLOWED}",
        remedy="paste the payload of one response alone, without CAN id, length or sequence bytes",
    )


def _cut_off(data: bytes, offset: int, what: str, allowed: str) -> CodeFormatError:
    """Return the error for a record that lacks bytes."""
    return CodeFormatError(
        f"{what} at offset {offset} of {len(data)} bytes",
        where=f"the response {data[:2].hex(' ').upper()}",
        allowed=allowed,
        remedy="nothing was read: paste the whole response again",
    )


def _read_records(data: bytes) -> CodeResponse:
    """Return the records of a response to read DTC information."""
    if len(data) > 1 and data[1] not in RECORD_SUBFUNCTIONS:
        raise CodeFormatError(
            f"sub-function {data[1]:02X} at offset 1",
            where="a response 59",
            allowed=", ".join(f"{number:02X}" for number in RECORD_SUBFUNCTIONS),
            remedy="ask the module for its codes by status mask (19 02 FF)",
        )
    allowed = "sub-function, mask, then records of four bytes (code, failure type, status)"
    if len(data) < 3:
        raise _cut_off(data, len(data), "no status availability mask", allowed)
    mask, end = data[2], len(data)
    whole = 3 + (end - 3) // 4 * 4
    if any(data[whole:]):
        raise _cut_off(data, whole, f"a record of {end - whole} of 4 bytes", allowed)
    records = tuple(
        CodeRecord(TroubleCode.from_bytes(data[at : at + 3]), Status(data[at + 3], mask), at)
        for at in range(3, whole, 4)
        if any(data[at : at + 4])
    )
    last = records[-1].offset + 4 if records else 3
    return CodeResponse(RECORD_SUBFUNCTIONS[data[1]], "records", records, mask, end - last)


def _read_emission(data: bytes) -> CodeResponse | AmbiguousResponse:
    """Return the one good reading of an emission-related response, or both."""
    readings = [reading for reading in (_counted(data), _slotted(data)) if reading is not None]
    if not readings:
        count = data[1] if len(data) > 1 else 0
        raise _cut_off(
            data,
            len(data),
            f"the end, where a count of {count} asks for {2 + 2 * count} bytes,",
            "the count and that many codes of two bytes; or three slots of two bytes",
        )
    codes = {tuple(record.code for record in reading.records) for reading in readings}
    if len(codes) == 1:
        return readings[0]
    return AmbiguousResponse(
        tuple(readings),
        f"byte {data[1]:02X} at offset 1 can be the count of codes (CAN) or the first half of a "
        "code (older form), and both fit",
    )


def _counted(data: bytes) -> CodeResponse | None:
    """Return the reading with a count byte, or None where it does not fit."""
    end = 2 + 2 * data[1] if len(data) > 1 else 0
    if not 2 <= end <= len(data) or any(data[end:]):
        return None
    records = tuple(
        CodeRecord(TroubleCode.from_bytes(data[at : at + 2]), None, at) for at in range(2, end, 2)
    )
    if any(record.code.value == 0 for record in records):
        return None  # a counted code is a code, never an empty slot
    word = EMISSION_IDS[data[0]]
    return CodeResponse(_lists(word), "counted", records, padding=len(data) - end, word=word)


def _slotted(data: bytes) -> CodeResponse | None:
    """Return the reading as three slots, or None where it does not fit."""
    if len(data) != _SLOTTED_LENGTH:
        return None
    records = tuple(
        CodeRecord(TroubleCode.from_bytes(data[at : at + 2]), None, at)
        for at in range(1, _SLOTTED_LENGTH, 2)
        if any(data[at : at + 2])
    )
    word = EMISSION_IDS[data[0]]
    return CodeResponse(_lists(word), "slotted", records, word=word)


def _lists(word: str) -> str:
    """Return what an emission-related response lists."""
    return f"{word} emission-related codes"
