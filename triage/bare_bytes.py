"""Code bytes without a response around them, such as 4031 or 40 31 1F.

Two bytes are a code, three a code with its failure type, four with its status as well. A longer
run can often be cut in more than one way; unless it was written in groups that show the width,
all whole readings come back, for a person to choose.

A short run that begins with the id of an emission-related response (43, 47, 4A) can be a code
(C03.., C07.., C0A..) or the beginning of a response, and 19 02 FF a maker's code or a request; they
are never taken for either.
"""

from __future__ import annotations

from triage.codes import TroubleCode
from triage.errors import CodeFormatError
from triage.negative_response import NEGATIVE_ID
from triage.responses import (
    EMISSION_IDS,
    RECORD_SUBFUNCTIONS,
    AmbiguousResponse,
    CodeRecord,
    CodeResponse,
    Response,
    read_response,
)
from triage.status import Status

__all__ = ["begins_response", "read_bare", "read_bytes"]

_WIDTHS = {2: "two-byte codes", 3: "three-byte codes", 4: "three-byte codes with status"}
_SHORT = (2, 3)  # lengths that are one code, or the beginning of something else
_READ_DTC_REQUEST = 0x19


def begins_response(data: bytes) -> bool:
    """Whether the first bytes are those of a response that `read_response` knows.

    59 and one or two bytes count only with a sub-function that carries code records: 59 01 alone
    can only be a maker's code.
    """
    if data[:1] == b"\x59":
        return len(data) not in _SHORT or data[1] in RECORD_SUBFUNCTIONS
    return len(data) > 0 and (data[0] == NEGATIVE_ID or data[0] in EMISSION_IDS)


def read_bare(data: bytes, *, width: int | None = None) -> CodeResponse | AmbiguousResponse:
    """Return the codes of bytes that hold codes and nothing else.

    Parameters
    ----------
    data : bytes
    width : int or None
        Bytes of one entry: 2, 3 or 4 (code, failure type, status); None = every width that fits.

    Raises
    ------
    CodeFormatError
        If no width fits.

    Examples
    --------
    >>> [str(record.code) for record in read_bare(bytes.fromhex("40311F")).records]
    ['C0031-1F']
    """
    widths = [width] if width is not None else list(_WIDTHS)
    readings = [_cut(data, each) for each in widths if data and len(data) % each == 0]
    if not readings:
        raise CodeFormatError(
            f"{len(data)} bytes",
            where="a run of code bytes",
            allowed="two, three or four bytes a code",
            remedy="paste whole codes, or a whole response beginning with 59, 43, 47 or 4A",
        )
    if len(readings) == 1:
        return readings[0]
    names = " or ".join(reading.lists for reading in readings)
    return AmbiguousResponse(
        tuple(readings), f"{len(data)} bytes without a response around them can be {names}"
    )


def read_bytes(data: bytes, *, width: int | None = None) -> Response:
    """Return what the bytes say, a response or bare codes.

    Parameters
    ----------
    data : bytes
        The plain payload.
    width : int or None
        Width of the groups in which bare codes were written, where they were.

    Raises
    ------
    CodeFormatError
        If they are neither.

    Examples
    --------
    >>> read_bytes(bytes.fromhex("4300")).why
    '43 00 can be the code C0300, or a response without codes'
    """
    if not begins_response(data):
        _refuse_frame(data, width)
        if len(data) in _SHORT and data[0] == _READ_DTC_REQUEST and data[1] in RECORD_SUBFUNCTIONS:
            return _code_or(data, "a request")
        return read_bare(data, width=width)
    if len(data) not in _SHORT or data[0] not in EMISSION_IDS:
        return read_response(data)
    try:
        response = read_response(data)
    except CodeFormatError:
        return _code_or(data, "a response that was cut off")
    return _code_or(data, "a response without codes", response)


def _code_or(data: bytes, other: str, *readings: Response) -> AmbiguousResponse:
    """Return bytes that can be one code, or something else with these readings."""
    bare = _cut(data, len(data))
    good = tuple(each for each in readings if isinstance(each, CodeResponse))
    written = data.hex(" ").upper()
    why = f"{written} can be the code {bare.records[0].code}, or {other}"
    return AmbiguousResponse((bare, *good), why)


def _refuse_frame(data: bytes, width: int | None) -> None:
    """Refuse bytes that look like a CAN frame with its length byte still in front."""
    if width is not None or len(data) < 4:
        return
    known = {0x59, NEGATIVE_ID, *EMISSION_IDS}
    single = data[0] < len(data) and data[1] in known
    first = data[0] >> 4 == 1 and data[2] in known
    if single or first:
        raise CodeFormatError(
            f"length byte {data[0]:02X} at offset 0, as in a CAN frame,",
            where=f"{len(data)} bytes",
            allowed="the payload of a response, or codes of two or three bytes",
            remedy="join the frames without length and sequence bytes; or type the codes",
        )


def _cut(data: bytes, width: int) -> CodeResponse:
    """Return the codes of entries of this many bytes."""
    records = tuple(
        CodeRecord(
            TroubleCode.from_bytes(data[at : at + min(width, 3)]),
            Status(data[at + 3]) if width == 4 else None,
            at,
        )
        for at in range(0, len(data), width)
    )
    return CodeResponse(_WIDTHS[width], "bare", records)
