"""Negative responses: the module refuses, and says why in one byte.

Three bytes, ISO 14229-1: 7F, the service that was asked, the response code. The names are
those of the standard, spaced out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from triage.errors import CodeFormatError

__all__ = ["NEGATIVE_ID", "RESPONSE_CODES", "SERVICES", "NegativeResponse", "read_negative"]

#: First byte of a negative response.
NEGATIVE_ID = 0x7F

#: Services that matter when codes are read or cleared, by request id.
SERVICES: Mapping[int, str] = MappingProxyType(
    {
        0x03: "stored emission-related codes",
        0x04: "clear emission-related codes",
        0x07: "pending emission-related codes",
        0x0A: "permanent emission-related codes",
        0x10: "diagnostic session control",
        0x14: "clear diagnostic information",
        0x19: "read DTC information",
        0x22: "read data by identifier",
        0x27: "security access",
        0x31: "routine control",
        0x3E: "tester present",
        0x85: "control DTC setting",
    }
)

#: Names of the response codes, ISO 14229-1.
RESPONSE_CODES: Mapping[int, str] = MappingProxyType(
    {
        0x10: "general reject",
        0x11: "service not supported",
        0x12: "sub-function not supported",
        0x13: "incorrect message length or invalid format",
        0x14: "response too long",
        0x21: "busy, repeat request",
        0x22: "conditions not correct",
        0x24: "request sequence error",
        0x25: "no response from subnet component",
        0x26: "failure prevents execution of requested action",
        0x31: "request out of range",
        0x33: "security access denied",
        0x34: "authentication required",
        0x35: "invalid key",
        0x36: "exceed number of attempts",
        0x37: "required time delay not expired",
        0x70: "upload download not accepted",
        0x71: "transfer data suspended",
        0x72: "general programming failure",
        0x73: "wrong block sequence counter",
        0x78: "request correctly received, response pending",
        0x7E: "sub-function not supported in active session",
        0x7F: "service not supported in active session",
        0x81: "rpm too high",
        0x82: "rpm too low",
        0x83: "engine is running",
        0x84: "engine is not running",
        0x85: "engine run time too low",
        0x86: "temperature too high",
        0x87: "temperature too low",
        0x88: "vehicle speed too high",
        0x89: "vehicle speed too low",
        0x8A: "throttle or pedal too high",
        0x8B: "throttle or pedal too low",
        0x8C: "transmission range not in neutral",
        0x8D: "transmission range not in gear",
        0x8F: "brake switch or switches not closed",
        0x90: "shifter lever not in park",
        0x91: "torque converter clutch locked",
        0x92: "voltage too high",
        0x93: "voltage too low",
        0x94: "resource temporarily not available",
    }
)


@dataclass(frozen=True, slots=True)
class NegativeResponse:
    """A refusal: the service asked, and the reason's code."""

    service: int
    code: int

    @property
    def service_name(self) -> str:
        """The service in words, or its number where we have no name."""
        return SERVICES.get(self.service, f"service {self.service:02X}")

    @property
    def reason(self) -> str:
        """The name of the response code, or its number where we have no name."""
        return RESPONSE_CODES.get(self.code, f"response code {self.code:02X}, no name known here")

    @property
    def still_pending(self) -> bool:
        """Whether the module only asks for time: the real answer comes later."""
        return self.code == 0x78


def read_negative(data: bytes) -> NegativeResponse:
    """Return the refusal in the bytes `7F service code`; zero bytes after them are padding.

    Raises
    ------
    CodeFormatError
        If bytes are missing or something other than zeros follows.

    Examples
    --------
    >>> read_negative(bytes.fromhex("7F1931")).reason
    'request out of range'
    """
    if len(data) < 3 or any(data[3:]):
        raise CodeFormatError(
            f"{len(data)} bytes",
            where="a negative response (7F)",
            allowed="7F, the service and the response code: three bytes, then zeros at most",
            remedy="paste the whole response and nothing else",
        )
    return NegativeResponse(data[1], data[2])
