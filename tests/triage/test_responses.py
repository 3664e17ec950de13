"""Responses: udsoncan and py-uds decode the same bytes; nothing is half-read."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uds.addressing import AddressingType
from uds.message import NRC, UdsMessage
from uds.translator import BASE_TRANSLATOR
from udsoncan.exceptions import InvalidResponseException
from udsoncan.Response import Response
from udsoncan.services.ClearDiagnosticInformation import ClearDiagnosticInformation
from udsoncan.services.ReadDTCInformation import ReadDTCInformation
from udsoncan.services.SecurityAccess import SecurityAccess
from udsoncan.services.TesterPresent import TesterPresent

from triage.codes import TroubleCode
from triage.errors import CodeFormatError
from triage.negative_response import RESPONSE_CODES, SERVICES, NegativeResponse, read_negative
from triage.responses import (
    EMISSION_IDS,
    RECORD_SUBFUNCTIONS,
    AmbiguousResponse,
    CodeResponse,
    read_response,
)

SCANS = Path(__file__).parents[2] / "fixtures" / "scans"
#: The worked response: codes and statuses as both libraries decode them.
WORKED = [
    ("C0031-1F", 0x2F),
    ("C0051-54", 0x09),
    ("U0126-87", 0x08),
    ("C0062-64", 0x50),
    ("U0428-64", 0xAB),
]
RECORDS = st.lists(st.binary(min_size=4, max_size=4), max_size=12)
SUBFUNCTIONS = st.sampled_from(sorted(RECORD_SUBFUNCTIONS))


def scan(name: str) -> bytes:
    """Return the bytes of a fixture."""
    return bytes.fromhex((SCANS / name).read_text("ascii"))


def by_udsoncan(data: bytes) -> list[tuple[str, int]]:
    """Return what udsoncan reads; the 2020 edition dropped two of the sub-functions."""
    response = Response.from_payload(data)
    read = ReadDTCInformation.interpret_response(
        response, subfunction=data[1], standard_version=2013 if data[1] in (0x0F, 0x13) else 2020
    )
    return [(dtc.id_iso(), dtc.status.get_byte_as_int()) for dtc in read.service_data.dtcs]


def by_py_uds(data: bytes) -> list[tuple[str, int]]:
    """Return what py-uds reads."""
    message = UdsMessage(payload=data, addressing_type=AddressingType.PHYSICAL)
    (field,) = (
        each for each in BASE_TRANSLATOR.decode(message) if each["name"] == "DTC and DTCStatus"
    )
    return [(dtc["physical_value"], status["raw_value"]) for dtc, status in field["children"]]


def read_codes(data: bytes) -> list[tuple[str, int]]:
    """Return what we read, as code and status."""
    response = read_response(data)
    assert isinstance(response, CodeResponse)
    return [(str(each.code), each.status.byte) for each in response.records if each.status]


def test_the_worked_response_reads_as_both_libraries_read_it() -> None:
    """Five records: all agree, code by code and bit by bit."""
    data = scan("by_status_mask.txt")

    assert read_codes(data) == WORKED
    assert by_udsoncan(data) == WORKED
    assert by_py_uds(data) == WORKED


def test_the_most_recent_confirmed_code_has_the_same_layout() -> None:
    """Sub-function 0E, ISO 14229-1: mask and one record."""
    data = scan("most_recent_confirmed.txt")

    assert read_codes(data) == by_udsoncan(data) == [("C0051-54", 0x09)]


@given(SUBFUNCTIONS, st.integers(0, 255), RECORDS, st.integers(0, 9))
def test_any_response_with_padding_reads_as_udsoncan_reads_it(
    subfunction: int, mask: int, records: list[bytes], padding: int
) -> None:
    """All sub-functions, any records, zeros after them."""
    data = bytes([0x59, subfunction, mask, *b"".join(records), *bytes(padding)])

    assert read_codes(data) == by_udsoncan(data)


@given(SUBFUNCTIONS, RECORDS, st.binary(min_size=1, max_size=3))
def test_a_cut_off_record_is_refused_when_udsoncan_refuses_it(
    subfunction: int, records: list[bytes], rest: bytes
) -> None:
    """One to three bytes too many: refused as a whole unless they are zeros."""
    data = bytes([0x59, subfunction, 0xFF, *b"".join(records), *rest])

    if any(rest):
        with pytest.raises(InvalidResponseException, match=r"(?i)incomplete|invalid"):
            by_udsoncan(data)
        with pytest.raises(
            CodeFormatError, match=rf"offset {len(data) - len(rest)} of {len(data)}"
        ):
            read_response(data)
    else:
        assert read_codes(data) == by_udsoncan(data)


@pytest.mark.parametrize("text", ["59 02 FF 40 35", "59 02 FF 40 35 1F", "59 02", "59"])
def test_the_bad_inputs_of_the_worked_example_are_refused(text: str) -> None:
    """The first three are refused by udsoncan too; the sentence says what to do."""
    with pytest.raises(CodeFormatError, match=r"allowed: .*nothing was read: paste the whole"):
        read_response(bytes.fromhex(text))


def test_trailing_zeros_are_counted_as_padding_and_said() -> None:
    """Four zeros yield only the first record; the result tells how many were taken."""
    response = read_response(bytes.fromhex("59 02 FF 40 35 1F 2F 00 00 00 00"))

    assert isinstance(response, CodeResponse)
    assert [str(record.code) for record in response.records] == ["C0035-1F"]
    assert (response.padding, response.mask, response.form) == (4, 0xFF, "records")


def test_a_record_knows_its_offset_and_the_mask() -> None:
    """Messages point at bytes; a status counts only what the module supports."""
    response = read_response(bytes.fromhex("59 02 0F 40 31 1F 08 40 51 54 01"))

    assert isinstance(response, CodeResponse)
    assert [record.offset for record in response.records] == [3, 7]
    assert [each.status.label for each in response.records if each.status] == [
        "intermittent",
        "active",
    ]


def test_no_records_is_a_good_answer() -> None:
    """A module without codes says so in three bytes."""
    response = read_response(bytes.fromhex("59 02 FF"))

    assert isinstance(response, CodeResponse)
    assert response.records == ()


@pytest.mark.parametrize("subfunction", [0x01, 0x03, 0x04, 0x06, 0x42])
def test_a_sub_function_with_another_layout_is_refused_by_name(subfunction: int) -> None:
    """Its bytes would be read as codes that aren't there."""
    with pytest.raises(CodeFormatError, match=f"sub-function {subfunction:02X} at offset 1"):
        read_response(bytes([0x59, subfunction, 0xFF, 0x40, 0x31, 0x1F, 0x2F]))


@pytest.mark.parametrize("text", ["", "19 02 FF", "62 F1 90", "06 43 02"])
def test_bytes_that_begin_like_no_response_are_refused(text: str) -> None:
    """The message lists what a response can begin with."""
    with pytest.raises(CodeFormatError, match=r"allowed: as the first byte, 59 with.*4A; 7F"):
        read_response(bytes.fromhex(text))


@pytest.mark.parametrize("first", sorted(EMISSION_IDS), ids=lambda each: f"{each:02X}")
@given(data=st.data())
def test_a_counted_response_gives_its_codes_back(first: int, data: st.DataObject) -> None:
    """ISO 15765-4: count, then that many codes; zeros after them are padding."""
    values = data.draw(st.lists(st.integers(1, 0xFFFF), max_size=40))
    padding = data.draw(st.integers(0, 3)) * 2  # an even length is never slotted
    body = b"".join(value.to_bytes(2, "big") for value in values)

    response = read_response(bytes([first, len(values)]) + body + bytes(padding))

    assert isinstance(response, CodeResponse)
    assert [record.code.value for record in response.records] == values
    assert (response.form, response.padding) == ("counted", padding)
    assert EMISSION_IDS[first] in response.lists


@given(
    st.sampled_from(sorted(EMISSION_IDS)), st.lists(st.integers(0, 0xFFFF), min_size=3, max_size=3)
)
def test_three_slots_are_read_or_asked_about_but_never_lost(first: int, slots: list[int]) -> None:
    """The slotted reading is always among the readings of seven bytes."""
    data = bytes([first]) + b"".join(value.to_bytes(2, "big") for value in slots)

    response = read_response(data)
    readings = response.readings if isinstance(response, AmbiguousResponse) else (response,)

    expected = [value for value in slots if value]
    assert expected in [
        [record.code.value for record in reading.records]
        for reading in readings
        if isinstance(reading, CodeResponse)
    ]


def test_the_slotted_fixture_leaves_the_empty_slot_out() -> None:
    """Two codes and 00 00: a count of 40 (hexadecimal) can't fit."""
    response = read_response(scan("stored_slotted.txt"))

    assert isinstance(response, CodeResponse)
    assert response.form == "slotted"
    assert [str(record.code) for record in response.records] == ["C0031", "U0126"]


def test_the_counted_fixture_has_the_same_codes() -> None:
    """The same two codes in the CAN form."""
    response = read_response(scan("stored_counted.txt"))

    assert isinstance(response, CodeResponse)
    assert response.form == "counted"
    assert [str(record.code) for record in response.records] == ["C0031", "U0126"]


def test_seven_bytes_that_fit_both_forms_come_back_with_both_readings() -> None:
    """One counted code, or two slotted ones: a person must say."""
    response = read_response(scan("stored_either.txt"))

    assert isinstance(response, AmbiguousResponse)
    assert [[str(record.code) for record in each.records] for each in response.readings] == [
        ["C0031"],
        ["P0140", "P3100"],
    ]
    assert "byte 01 at offset 1" in response.why


def test_seven_bytes_are_ambiguous_only_for_small_counts() -> None:
    """Sweep of the second byte: counts 1 and 2 with zeros behind can be either form."""
    ambiguous = set()
    for second in range(256):
        response = read_response(bytes([0x43, second, 0x40, 0x31, 0x40, 0x51, 0x00]))
        if isinstance(response, AmbiguousResponse):
            ambiguous.add(second)

    assert ambiguous == {2}


def test_no_codes_is_no_codes_in_either_form() -> None:
    """Count 0 with padding and three empty slots say the same: nothing to ask."""
    for text in ("43 00", "43 00 00 00 00 00 00"):
        response = read_response(bytes.fromhex(text))
        assert isinstance(response, CodeResponse)
        assert response.records == ()


@pytest.mark.parametrize(
    "text",
    [
        "43",
        "43 01",
        "43 02 40 31",
        "43 01 40 31 40",
        "43 01 40 31 40 51",
        "43 01 00 00",
        "47 03 40 31 00",
    ],
)
def test_an_emission_response_that_fits_no_form_is_refused(text: str) -> None:
    """Cut off, too long, or an empty slot counted as a code: nothing is half-read."""
    with pytest.raises(CodeFormatError, match=r"the end, where a count of \d+ asks for \d+ bytes"):
        read_response(bytes.fromhex(text))


def test_every_known_refusal_has_the_name_of_the_standard() -> None:
    """py-uds and udsoncan name the response codes of ISO 14229-1; ours are the same words."""

    def words(name: str) -> str:
        return "".join(char for char in name.lower() if char.isalpha())

    theirs = {code.value: words(code.name) for code in NRC}
    checked = 0
    for code, name in RESPONSE_CODES.items():
        ours = words(name)
        if code not in (0x8A, 0x8F, 0x91):  # spelt differently by the libraries themselves
            assert ours == theirs[code]
            checked += 1
    assert checked == len(RESPONSE_CODES) - 3 == 39


def test_the_services_have_the_numbers_of_the_library() -> None:
    """ISO 14229-1 request ids, by udsoncan."""
    for service in (
        ReadDTCInformation,
        ClearDiagnosticInformation,
        SecurityAccess,
        TesterPresent,
    ):
        assert service.request_id() in SERVICES


def test_a_refusal_is_read_and_named() -> None:
    """7F, service, reason; a pending answer is told apart."""
    refusal = read_response(scan("refused.txt"))

    assert refusal == NegativeResponse(0x19, 0x31)
    assert (refusal.service_name, refusal.reason) == (
        "read DTC information",
        "request out of range",
    )
    assert not refusal.still_pending
    assert read_negative(bytes.fromhex("7F1978")).still_pending
    assert NegativeResponse(0xBB, 0xEE).service_name == "service BB"
    assert "EE" in NegativeResponse(0xBB, 0xEE).reason


@pytest.mark.parametrize("text", ["7F", "7F 19", "7F 19 31 01"])
def test_a_refusal_of_the_wrong_length_is_refused(text: str) -> None:
    """Zeros after it are padding, anything else is not understood."""
    with pytest.raises(CodeFormatError, match="bytes in a negative response"):
        read_response(bytes.fromhex(text))


def test_every_fixture_is_listed_with_the_origin_of_its_numbers() -> None:
    """A scan without a line in the README has no source."""
    readme = (SCANS / "README.md").read_text("utf-8")
    names = [path.name for path in SCANS.glob("*.txt")]

    assert len(names) == 8
    assert all(f"`{name}`" in readme for name in names)


def test_the_cut_off_fixture_gives_nothing() -> None:
    """Four good records before the cut are not handed out either."""
    with pytest.raises(CodeFormatError, match="a record of 2 of 4 bytes at offset 19 of 21"):
        read_response(scan("cut_off.txt"))


def test_a_response_names_codes_of_makers_without_a_meaning() -> None:
    """Kept as sent; the value says that no meaning is fixed."""
    response = read_response(bytes.fromhex("59 02 FF 50 00 00 09"))

    assert isinstance(response, CodeResponse)
    assert response.records[0].code == TroubleCode.parse("C1000-00")
    assert not response.records[0].code.fixed_meaning
