"""The status byte of a trouble code: eight bits, and what they amount to at check-in.

ISO 14229-1 names the bits::

    0  testFailed                        4  testNotCompletedSinceLastClear
    1  testFailedThisOperationCycle      5  testFailedSinceLastClear
    2  pendingDTC                        6  testNotCompletedThisOperationCycle
    3  confirmedDTC                      7  warningIndicatorRequested

The label is the first line that holds; every byte gets exactly one::

    active        bit 0: the test fails now
    pending       bit 2 and not bit 3: failed this cycle or the last, not matured
    history       bit 3, and the test has run this cycle without failing
                  (bits 1, 4 and 6 clear and bit 6 supported)
    intermittent  bit 3 otherwise: matured, not failing now, not proven passed
    not-tested    bit 4 or bit 6, or the module supports neither of them
    passed        the rest: the test has run, nothing is stored

The first five are the check-in classes of the evidence tables. "Passed" is none of them: such
a code counts as absent. A clear bit says something only where the module supports the bit: the
status availability mask of a response tells; without one all eight are taken as supported.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal, get_args

from triage.errors import CodeFormatError, ParameterError

__all__ = ["BIT_NAMES", "CHECK_IN_CLASSES", "CheckIn", "Label", "Status"]

#: Names of the bits in ISO 14229-1, bit 0 first.
BIT_NAMES: Final = (
    "testFailed",
    "testFailedThisOperationCycle",
    "pendingDTC",
    "confirmedDTC",
    "testNotCompletedSinceLastClear",
    "testFailedSinceLastClear",
    "testNotCompletedThisOperationCycle",
    "warningIndicatorRequested",
)
#: What a code with a byte counts as when the car comes in.
CheckIn = Literal["active", "intermittent", "pending", "history", "not-tested"]
#: A check-in class, or "passed".
Label = Literal["active", "intermittent", "pending", "history", "not-tested", "passed"]
#: The check-in classes, as the evidence tables name them.
CHECK_IN_CLASSES: Final[tuple[CheckIn, ...]] = get_args(CheckIn)

_FAILED, _FAILED_CYCLE, _PENDING, _CONFIRMED = 0x01, 0x02, 0x04, 0x08
_NOT_SINCE_CLEAR, _FAILED_SINCE, _NOT_THIS_CYCLE, _LAMP = 0x10, 0x20, 0x40, 0x80
_NOT_RUN = _NOT_SINCE_CLEAR | _NOT_THIS_CYCLE
_BYTE = re.compile(r"(?:0x)?([0-9A-F]{2})", re.ASCII | re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Status:
    """A status byte and which of its bits the module supports.

    Parameters
    ----------
    byte : int in 0 to 0xFF
    supported : int in 0 to 0xFF
        The status availability mask; 0xFF where nobody gave one.

    Raises
    ------
    ParameterError
        If a number lies outside its range.

    Examples
    --------
    >>> Status(0x28).label, Status(0x2F).label, Status(0x50).label
    ('history', 'active', 'not-tested')
    """

    byte: int
    supported: int = 0xFF

    def __post_init__(self) -> None:
        if not 0 <= self.byte <= 0xFF:
            raise ParameterError("a status byte", self.byte, allowed="0 to 255")
        if not 0 <= self.supported <= 0xFF:
            raise ParameterError("a status availability mask", self.supported, allowed="0 to 255")

    @classmethod
    def parse(cls, text: str) -> Status:
        """Return the status written as two hexadecimal digits, such as 2F or 0x2F.

        Raises
        ------
        CodeFormatError
            If `text` is anything else.
        """
        match = _BYTE.fullmatch(text.strip())
        if match is None:
            raise CodeFormatError(
                f"no status byte in {text[:40]!r}",
                where="the status",
                allowed="two hexadecimal digits such as 2F",
                remedy="type the byte as the scan tool shows it, or leave it out",
            )
        return cls(int(match[1], 16))

    @property
    def bits(self) -> dict[str, bool]:
        """The eight bits by their name in ISO 14229-1, bit 0 first."""
        return {name: bool(self.byte >> bit & 1) for bit, name in enumerate(BIT_NAMES)}

    @property
    def label(self) -> Label:
        """What the byte amounts to: the first line of the module's table that holds."""
        if self.byte & _FAILED:
            return "active"
        if self.byte & _CONFIRMED:
            passed = not self.byte & (_FAILED_CYCLE | _NOT_RUN) and self.supported & _NOT_THIS_CYCLE
            return "history" if passed else "intermittent"
        if self.byte & _PENDING:
            return "pending"
        if self.byte & _NOT_RUN or not self.supported & _NOT_RUN:
            return "not-tested"
        return "passed"

    @property
    def check_in(self) -> CheckIn | None:
        """The class of the evidence tables; None when the test has run and nothing is stored."""
        label = self.label
        return None if label == "passed" else label

    @property
    def lamp_owner(self) -> bool:
        """Bit 7: this code is one of those that ask for the warning lamp."""
        return bool(self.byte & _LAMP)

    @property
    def unproven_clear(self) -> bool:
        """Bit 4: the test has not run since the clear, so "no fault" would mean nothing yet."""
        return bool(self.byte & _NOT_SINCE_CLEAR)

    @property
    def fresh(self) -> bool:
        """Bit 1: it has failed in this operation cycle."""
        return bool(self.byte & _FAILED_CYCLE)

    @property
    def maturing(self) -> bool:
        """Bit 2 without bit 3: failed, not yet confirmed."""
        return bool(self.byte & _PENDING) and not self.byte & _CONFIRMED

    @property
    def contradictions(self) -> tuple[str, ...]:
        """What the byte says that cannot hold together, in plain words; mostly empty."""
        found = []
        if self.byte & _FAILED_CYCLE and self.byte & _NOT_THIS_CYCLE:
            found.append("failed this cycle, yet the test has not completed this cycle")
        if self.byte & _FAILED_SINCE and self.byte & _NOT_SINCE_CLEAR:
            found.append("failed since the last clear, yet the test has not completed since")
        if self.byte & ~self.supported:
            found.append("sets a bit that the module's availability mask says it does not support")
        return tuple(found)

    def __str__(self) -> str:
        return f"{self.byte:02X}"
