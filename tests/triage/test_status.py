"""The status byte: names by two public libraries, labels by their stated conditions."""

from __future__ import annotations

from collections import Counter

import pytest
import udsoncan
from uds.translator.data_record_definitions.dtc import DTC_STATUS_BITS

from triage.errors import CodeFormatError, ParameterError
from triage.status import BIT_NAMES, CHECK_IN_CLASSES, Status

#: udsoncan's attribute for each bit, bit 0 first.
UDSONCAN = (
    "test_failed",
    "test_failed_this_operation_cycle",
    "pending",
    "confirmed",
    "test_not_completed_since_last_clear",
    "test_failed_since_last_clear",
    "test_not_completed_this_operation_cycle",
    "warning_indicator_requested",
)


def test_the_bit_names_are_those_of_the_standard() -> None:
    """py-uds lists the names of ISO 14229-1, most significant bit first."""
    assert tuple(bit.name for bit in reversed(DTC_STATUS_BITS)) == BIT_NAMES


def test_every_status_byte_has_the_bits_that_udsoncan_gives_it() -> None:
    """All 256 bytes, bit by bit."""
    for byte in range(256):
        theirs = udsoncan.Dtc.Status.from_byte(byte)
        ours = list(Status(byte).bits.values())
        assert ours == [getattr(theirs, name) for name in UDSONCAN]
        assert theirs.get_byte_as_int() == Status(byte).byte


@pytest.mark.parametrize(
    ("byte", "label"),
    [
        (0x2F, "active"),
        (0x09, "active"),
        (0x08, "history"),
        (0x50, "not-tested"),
        (0xAB, "active"),
        (0x28, "history"),
        (0x2A, "intermittent"),
        (0x48, "intermittent"),
        (0x18, "intermittent"),
        (0x0C, "history"),
        (0x24, "pending"),
        (0x54, "pending"),
        (0x40, "not-tested"),
        (0x00, "passed"),
        (0x20, "passed"),
    ],
)
def test_a_byte_has_the_label_of_its_worked_example(byte: int, label: str) -> None:
    """The first five are the worked response; the others were done by hand from the bits."""
    assert Status(byte).label == label


def test_every_byte_has_one_label_whose_conditions_hold() -> None:
    """The six conditions, written out without any order, exclude each other and cover all."""
    tally: Counter[str] = Counter()
    for byte in range(256):
        bit = [bool(byte & 1 << number) for number in range(8)]
        kept = bit[3] and not bit[0]
        clean = not (bit[1] or bit[4] or bit[6])
        nothing = not (bit[0] or bit[2] or bit[3])
        conditions = {
            "active": bit[0],
            "pending": bit[2] and not bit[3] and not bit[0],
            "history": kept and clean,
            "intermittent": kept and not clean,
            "not-tested": nothing and (bit[4] or bit[6]),
            "passed": nothing and not (bit[4] or bit[6]),
        }
        assert [name for name, holds in conditions.items() if holds] == [Status(byte).label]
        tally[Status(byte).label] += 1

    assert tally == {
        "active": 128,
        "pending": 32,
        "history": 8,
        "intermittent": 56,
        "not-tested": 24,
        "passed": 8,
    }


def test_the_check_in_classes_are_the_labels_without_passed() -> None:
    """A test that ran and stored nothing is no class of a code that is there."""
    found = {Status(byte).check_in for byte in range(256)}

    assert found == {*CHECK_IN_CLASSES, None}
    assert Status(0x00).check_in is None


def test_a_module_that_cannot_say_whether_a_test_ran_proves_nothing() -> None:
    """Mask 0F, common on older modules: a clear bit 6 is silence, not a passed test."""
    assert Status(0x08).label == "history"
    assert Status(0x08, supported=0x0F).label == "intermittent"
    assert Status(0x00, supported=0x0F).label == "not-tested"
    assert Status(0x01, supported=0x0F).label == "active"


def test_the_flags_are_single_bits() -> None:
    """Lamp owner, unproven clear, fresh and maturing, each on and off."""
    assert Status(0x80).lamp_owner
    assert not Status(0x7F).lamp_owner
    assert Status(0x10).unproven_clear
    assert not Status(0xEF).unproven_clear
    assert Status(0x02).fresh
    assert not Status(0xFD).fresh
    assert Status(0x04).maturing
    assert not Status(0x0C).maturing


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (Status(0x42), "not completed this cycle"),
        (Status(0x30), "not completed since"),
        (Status(0x2F, supported=0x09), "does not support"),
    ],
    ids=str,
)
def test_a_byte_that_contradicts_itself_says_so(status: Status, words: str) -> None:
    """ISO 14229-1: a test that has not completed cannot have failed in the same span."""
    (contradiction,) = status.contradictions

    assert words in contradiction
    assert Status(0x2F).contradictions == ()


def test_a_status_is_read_from_two_digits() -> None:
    """Text and back, for all 256 bytes, with and without the prefix."""
    for byte in range(256):
        assert Status.parse(f"{byte:02x}") == Status.parse(f"0x{byte:02X}") == Status(byte)
        assert Status.parse(str(Status(byte))) == Status(byte)


@pytest.mark.parametrize("text", ["", "2", "2FF", "G0", "0x", "active"])
def test_what_is_no_status_byte_is_refused(text: str) -> None:
    """A word or a longer number is not cut down to a byte."""
    with pytest.raises(CodeFormatError, match=r"no status byte in .*allowed: two hexadecimal"):
        Status.parse(text)


@pytest.mark.parametrize(("byte", "mask", "what"), [(256, 0, "status byte"), (0, -1, "mask")])
def test_a_status_outside_a_byte_is_refused(byte: int, mask: int, what: str) -> None:
    """Both numbers are bytes."""
    with pytest.raises(ParameterError, match=f"{what} is -?[0-9]+, outside 0 to 255"):
        Status(byte, mask)
