"""Decode: words, bytes and both at once, with nothing guessed and nothing half-read."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.bare_bytes import begins_response, read_bare, read_bytes
from triage.codes import TroubleCode
from triage.decode import Decoded, decode
from triage.errors import CodeFormatError
from triage.hex_text import is_hex, read_hex
from triage.issues import Position
from triage.negative_response import NegativeResponse
from triage.responses import AmbiguousResponse, CodeResponse

SCANS = Path(__file__).parents[2] / "fixtures" / "scans"


def codes(decoded: Decoded) -> list[str]:
    """Return the codes in order."""
    return [str(seen.code) for seen in decoded.codes]


def levels(decoded: Decoded) -> list[str]:
    """Return the levels of the issues in order."""
    return [issue.level for issue in decoded.issues]


def test_the_worked_response_is_decoded_with_labels_and_places() -> None:
    """Six lines of bytes are one response; a code's place is that of its first byte."""
    decoded = decode((SCANS / "by_status_mask.txt").read_text("ascii"))

    assert [(str(each.code), each.label) for each in decoded.codes] == [
        ("C0031-1F", "active"),
        ("C0051-54", "active"),
        ("U0126-87", "history"),
        ("C0062-64", "not-tested"),
        ("U0428-64", "active"),
    ]
    assert decoded.codes[2].positions == (Position(4, 1),)
    assert decoded.issues == ()


def test_a_report_of_words_and_bytes_is_decoded_as_a_whole() -> None:
    """The demo report: five codes, one of them from bytes."""
    decoded = decode((SCANS / "report.txt").read_text("utf-8"))

    assert [(str(each.code), each.label, each.words) for each in decoded.codes] == [
        ("C0037-64", "active", ()),
        ("C0051-54", None, ("confirmed",)),
        ("U0415", "history", ("history",)),
        ("P0562", "pending", ("pending",)),
        ("C0063-28", "history", ()),
    ]
    assert decoded.issues == ()


@pytest.mark.parametrize(
    "text",
    [
        "5902FF40311F2F",
        "0x59 0x02 0xFF 0x40 0x31 0x1F 0x2F",
        "0x59,0x02,0xff,0x40,0x31,0x1f,0x2f",
        "[59, 02, FF, 40, 31, 1F, 2F]",
        "59 02 FF\r\n40 31\r\n1F 2F\r\n",
        "RX: 59 02 FF 40 31 1F 2F",
        "ABS module answered:\n59 02 FF 40 31 1F 2F\nlamp on",
    ],
)
def test_bytes_are_read_in_every_way_people_paste_them(text: str) -> None:
    """Blanks, commas, prefixes, line ends, a label, words around."""
    decoded = decode(text)

    assert [(str(each.code), str(each.status)) for each in decoded.codes] == [("C0031-1F", "2F")]
    assert decoded.issues == ()


@given(st.integers(0, 0xFFFF))
def test_two_bytes_are_a_code_or_asked_about(value: int) -> None:
    """Only what begins like a response or a request is not taken for the code."""
    decoded = decode(f"{value:04X}")

    expected = str(TroubleCode(value))
    if codes(decoded) != [expected]:
        assert value >> 8 in (0x19, 0x43, 0x47, 0x4A, 0x59, 0x7F)
        assert decoded.codes == ()
        assert decoded.issues


@given(st.integers(0, 0xFFFFFF))
def test_three_bytes_are_a_code_or_asked_about(number: int) -> None:
    """The same with a failure type."""
    decoded = decode(f"{number:06X}")

    if codes(decoded) != [str(TroubleCode.from_int24(number))]:
        assert number >> 16 in (0x19, 0x43, 0x47, 0x4A, 0x59, 0x7F)
        assert decoded.codes == ()
        assert decoded.responses or decoded.issues


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("4031 C126", ["C0031", "U0126"]),
        ("40311F C12687", ["C0031-1F", "U0126-87"]),
        ("40311F2F C1268708", ["C0031-1F", "U0126-87"]),
        ("40 31\nC1 26", ["C0031", "U0126"]),
        ("40 31 1F\nC1 26 87", ["C0031-1F", "U0126-87"]),
    ],
)
def test_groups_and_lines_show_how_wide_a_code_is(text: str, expected: list[str]) -> None:
    """Written in equal groups, bare bytes have one reading."""
    assert codes(decode(text)) == expected


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("40 31 1F 2F", [["C0031", "P1F2F"], ["C0031-1F"]]),
        ("40 31 1F C1 26 87", [["C0031", "P1FC1", "P2687"], ["C0031-1F", "U0126-87"]]),
        ("43 00", [["C0300"], []]),
        ("4750", [["C0750"]]),
        ("43 01 40", [["C0301-40"]]),
        ("19 02 FF", [["P1902-FF"]]),
        ("43 01 40 31 00 00 00", [["C0031"], ["P0140", "P3100"]]),
    ],
)
def test_bytes_with_two_readings_give_both_and_no_code(
    text: str, readings: list[list[str]]
) -> None:
    """Nothing is guessed: the readings are there for a person to choose from."""
    decoded = decode(text)

    assert decoded.codes == ()
    assert levels(decoded) == ["question"]
    (response,) = decoded.responses
    assert isinstance(response, AmbiguousResponse)
    assert [[str(record.code) for record in each.records] for each in response.readings] == readings


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("59 02 FF 40 35", "a record of 2 of 4 bytes at offset 3"),
        ("59 02 FF 40 35 1F", "a record of 3 of 4 bytes at offset 3"),
        ("59 02", "no status availability mask"),
        ("590", "odd number of digits"),
        ("RX: 59 02 F", "odd number of digits"),
        ("7E8 10 13 59 02", "without CAN ids"),
        ("10 13 59 02 FF 40 31 1F", "as in a CAN frame"),
        ("06 43 02 40 31 40 51", "as in a CAN frame"),
        ("59 02 FF 40 31 1F 2F\n40 51\n59 02 FF", "put a blank line between responses"),
        ("40 31 1F 2F 40", "5 bytes in a run of code bytes"),
        ("", "there is no trouble code in it"),
        ("lamp on", "there is no trouble code in it"),
    ],
)
def test_what_cannot_be_read_gives_one_error_and_no_code(text: str, words: str) -> None:
    """The issue says what, where and what to do."""
    decoded = decode(text)

    assert (decoded.codes, decoded.responses) == ((), ())
    (issue,) = decoded.issues
    assert issue.level == "error"
    assert words in str(issue)


@pytest.mark.parametrize(
    "text", ["built in\n2010\nlamp on", "the added\ndead\nend", "Year: 2010", "km\n430000\nlamp"]
)
def test_numbers_and_words_among_words_are_no_bytes(text: str) -> None:
    """A year is not the code P2010."""
    assert decode(text).codes == ()
    assert decode(text).responses == ()


def test_several_responses_on_neighbouring_lines_are_told_apart() -> None:
    """Joined they would not fit, so they are several."""
    decoded = decode("59 02 FF 40 31 1F 2F\n59 02 FF C1 26 87 08\n7F 19 31")

    assert codes(decoded) == ["C0031-1F", "U0126-87"]
    assert isinstance(decoded.responses[2], NegativeResponse)
    assert "refused read DTC information: request out of range" in decoded.issues[0].message


def test_lines_that_fit_as_one_and_as_several_are_asked_about() -> None:
    """43 01 40 31 is a response, and also a record of the one before."""
    text = "59 02 FF 40 31 1F 2F\n43 01 40 31"

    assert decode(text).codes == ()
    assert "can be one response or 2" in decode(text).issues[0].message
    assert codes(decode(text.replace("\n", "\n\n"))) == ["C0031-1F"]


@pytest.mark.parametrize(
    ("text", "word", "label"),
    [
        ("43 01 40 31", "stored", None),
        ("47 01 40 31", "pending", "pending"),
        ("4A 01 40 31", "permanent", None),
    ],
)
def test_an_emission_response_says_what_its_codes_are(
    text: str, word: str, label: str | None
) -> None:
    """Stored tells that a code is kept, not whether it fails now; pending tells both."""
    (seen,) = decode(text).codes

    assert (seen.words, seen.label) == ((word,), label)


def test_a_code_in_words_and_in_bytes_is_one_code() -> None:
    """The words and the bytes add up; the label comes from the byte."""
    (seen,) = decode("C0031 confirmed\n59 02 FF 40 31 1F 28").codes

    assert str(seen.code) == "C0031-1F"
    assert (seen.words, seen.label) == (("confirmed",), "history")
    assert seen.positions == (Position(1, 1), Position(2, 10))


def test_padding_is_said() -> None:
    """The person sees what was left out."""
    decoded = decode("59 02 FF 40 35 1F 2F 00 00 00 00")

    assert codes(decoded) == ["C0035-1F"]
    assert "4 zero bytes at the end were taken as padding" in decoded.issues[0].message


def test_a_text_over_the_limit_is_refused() -> None:
    """Before anything is read."""
    with pytest.raises(CodeFormatError, match="11 characters in the pasted text"):
        decode("59 02 FF 40", limit=10)


def test_ten_thousand_records_are_read() -> None:
    """A response of forty thousand bytes, on one line and on ten thousand."""
    records = [f"40 {i >> 8:02X} {i & 0xFF:02X} 09" for i in range(10_000)]

    assert len(decode("59 02 FF " + " ".join(records)).codes) == 10_000
    assert len(decode("59 02 FF\n" + "\n".join(records)).codes) == 10_000


@given(st.text(alphabet="0123456789ABCDEFabcdefx ,:\n-CPUB", max_size=120))
def test_any_paste_gives_an_answer(text: str) -> None:
    """Whatever is pasted, something is read or something is said; never an error."""
    decoded = decode(text)

    assert decoded.codes or decoded.responses or decoded.issues


@given(st.binary(min_size=1, max_size=40))
def test_bytes_survive_their_text(data: bytes) -> None:
    """Spaced, run together, prefixed: the same bytes, each where it is written."""
    for text in (data.hex(" "), data.hex().upper(), ", ".join(f"0x{b:02X}" for b in data)):
        read = read_hex(text)
        assert read.data == data
        assert [int(text[at : at + 2], 16) for at in map(read.character, range(len(data)))] == list(
            data
        )


@pytest.mark.parametrize("text", ["59 2", "4G", "59 0x"])
def test_half_bytes_are_refused(text: str) -> None:
    """Two digits a byte, always."""
    with pytest.raises(CodeFormatError, match="in the bytes; allowed: two hexadecimal digits"):
        read_hex(text)


def test_a_typed_code_is_no_hex_and_hex_is_no_typed_code() -> None:
    """C0051 is five hexadecimal digits, and a code."""
    assert not is_hex("C0051")
    assert not is_hex("B0001 C005164")
    assert is_hex("C12687")
    assert not is_hex(" \n")


def test_bare_bytes_of_a_stated_width_have_one_reading() -> None:
    """The caller who knows the width is not asked."""
    data = bytes.fromhex("40311F2F")

    two, four = read_bare(data, width=2), read_bare(data, width=4)
    assert isinstance(two, CodeResponse)
    assert isinstance(four, CodeResponse)
    assert [str(record.code) for record in two.records] == ["C0031", "P1F2F"]
    assert [(str(r.code), str(r.status)) for r in four.records] == [("C0031-1F", "2F")]
    with pytest.raises(CodeFormatError, match="4 bytes in a run of code bytes"):
        read_bare(data, width=3)


def test_what_begins_like_a_response_is_only_read_as_one() -> None:
    """A cut-off response must not turn into codes."""
    assert begins_response(bytes.fromhex("5902"))
    assert not begins_response(bytes.fromhex("5913")[:1] + b"\x01")
    assert not begins_response(b"")
    with pytest.raises(CodeFormatError, match="the end, where a count of 2 asks for 6 bytes"):
        read_bytes(bytes.fromhex("43024031"))
