"""Trouble codes: the two public libraries and the published vectors are the reference."""

from __future__ import annotations

import pytest
import udsoncan
from hypothesis import given
from hypothesis import strategies as st
from uds.utilities.conversions import int_to_obd_dtc, obd_dtc_to_int

from triage.codes import TroubleCode
from triage.errors import CodeFormatError, ParameterError

#: py-uds documentation (DTC format table) and test-suite; ISO 14229-1 examples as the two
#: libraries decode them.
PUBLISHED = {
    0x000000: "P0000-00",
    0x56789A: "C1678-9A",
    0xA5B6C7: "B25B6-C7",
    0xFFFFFF: "U3FFF-FF",
    0x012345: "P0123-45",
    0x634567: "C2345-67",
    0x0A9B17: "P0A9B-17",
    0x080511: "P0805-11",
    0x40311F: "C0031-1F",
    0x405154: "C0051-54",
    0x406264: "C0062-64",
    0xC12687: "U0126-87",
    0xC42864: "U0428-64",
    0xC41500: "U0415-00",
    0x500000: "C1000-00",
    0xD40064: "U1400-64",
}
#: Every 211th three-byte number: a prime step, so that each byte takes all its values.
THREE_BYTE = range(0, 1 << 24, 211)
CODES = st.builds(
    TroubleCode,
    st.integers(0, 0xFFFF),
    st.one_of(st.none(), st.integers(0, 0xFF)),
)


@pytest.mark.parametrize(("number", "text"), PUBLISHED.items(), ids=PUBLISHED.values())
def test_a_published_vector_reads_and_writes_alike(number: int, text: str) -> None:
    """Numbers and texts that others printed hold both ways."""
    code = TroubleCode.from_int24(number)

    assert str(code) == text
    assert TroubleCode.parse(text).to_int() == number


def test_every_two_byte_number_reads_as_udsoncan_and_py_uds_read_it() -> None:
    """All 65,536 numbers, text and back, against two libraries that don't know each other."""
    count = 0
    for value in range(1 << 16):
        code = TroubleCode.from_bytes(value.to_bytes(2, "big"))
        text = str(code)
        assert udsoncan.Dtc(value << 8).id_iso() == f"{text}-00"
        assert int_to_obd_dtc(value << 8) == f"{text}-00"
        assert obd_dtc_to_int(f"{text}-00") >> 8 == TroubleCode.parse(text).to_int() == value
        count += 1

    assert count == 65_536


def test_a_sweep_of_three_byte_numbers_reads_as_both_libraries_read_it() -> None:
    """Three-byte numbers over the whole range, text and back."""
    for number in THREE_BYTE:
        code = TroubleCode.from_int24(number)
        text = str(code)
        assert udsoncan.Dtc(number).id_iso() == int_to_obd_dtc(number) == text
        assert TroubleCode.parse(text) == TroubleCode.from_bytes(number.to_bytes(3, "big")) == code
        assert obd_dtc_to_int(text) == code.to_int() == number


def test_the_three_byte_sweep_covers_every_value_of_every_byte() -> None:
    """A sweep that misses letters or failure types would prove little."""
    assert len(THREE_BYTE) == 79_513
    for shift in (0, 8, 16):
        assert len({number >> shift & 0xFF for number in THREE_BYTE}) == 256


@given(CODES)
def test_a_code_survives_text_bytes_and_case(code: TroubleCode) -> None:
    """Nothing is lost on the way out and back."""
    assert TroubleCode.parse(str(code)) == code
    assert TroubleCode.parse(str(code).lower().replace("-", ":")) == code
    assert TroubleCode.parse(str(code).replace("-", "")) == code
    assert TroubleCode.from_bytes(code.to_bytes()) == code


@pytest.mark.parametrize(
    "text",
    ["", "C005", "C00511", "C4051", "CO051", "X0051", "C0051-", "C0051-6", "C0051-640", "C0 51"],
)
def test_what_is_no_code_is_refused_and_told_what_is_allowed(text: str) -> None:
    """A typing mistake must not become another code."""
    with pytest.raises(CodeFormatError, match=r"no trouble code in .*allowed: P, C, B or U"):
        TroubleCode.parse(text)


@pytest.mark.parametrize("size", [0, 1, 4])
def test_a_code_of_another_number_of_bytes_is_refused(size: int) -> None:
    """Four bytes are a code and a status: the caller must cut them."""
    with pytest.raises(CodeFormatError, match=f"{size} bytes in one trouble code; allowed: two"):
        TroubleCode.from_bytes(bytes(size))


@pytest.mark.parametrize(
    ("value", "failure_type"), [(-1, None), (0x10000, None), (0, 256), (0, -1)]
)
def test_a_number_outside_its_range_is_refused(value: int, failure_type: int | None) -> None:
    """The value object can't hold what no code can be."""
    with pytest.raises(ParameterError, match="outside 0 to"):
        TroubleCode(value, failure_type)


def test_a_three_byte_number_that_is_too_large_is_refused() -> None:
    """The number is named."""
    with pytest.raises(ParameterError, match="three-byte trouble code is 16777216"):
        TroubleCode.from_int24(1 << 24)


@pytest.mark.parametrize(
    ("text", "control"),
    [
        ("P0500", "standard"),
        ("P1500", "maker"),
        ("P2500", "standard"),
        ("P3000", "maker"),
        ("P33FF", "maker"),
        ("P3400", "standard"),
        ("C0051", "standard"),
        ("C1051", "maker"),
        ("C2051", "maker"),
        ("C3051", "reserved"),
        ("B0001", "standard"),
        ("B1001", "maker"),
        ("B2001", "maker"),
        ("B3001", "reserved"),
        ("U0121", "standard"),
        ("U1121", "maker"),
        ("U2121", "maker"),
        ("U3003", "standard"),
    ],
)
def test_who_fixes_the_meaning_follows_the_first_digit(text: str, control: str) -> None:
    """SAE J2012, from memory: a maker's code must never be given a meaning of ours."""
    code = TroubleCode.parse(text)

    assert code.control == control
    assert code.fixed_meaning == (control == "standard")


def test_the_parts_of_a_code_are_named() -> None:
    """Letter, notation, failure type and its category; 00 is not the same as not shown."""
    code = TroubleCode.parse("C0051-64")

    assert (code.letter, code.notation, code.failure_type, code.category) == ("C", "C0051", 0x64, 6)
    assert code.without_failure_type().category is None
    assert TroubleCode.parse("C0051-00") != TroubleCode.parse("C0051")
