"""Typed codes: found wherever they stand, with what is said beside them, and nothing guessed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.codes import TroubleCode
from triage.errors import CodeFormatError
from triage.issues import Position
from triage.seen_codes import CodeSeen, merge_mentions
from triage.status_words import read_beside, words_before
from triage.typed_codes import find_mentions


def read(text: str) -> list[tuple[str, str | None, list[str]]]:
    """Return code, status and words of each mention."""
    return [
        (str(each.code), str(each.status) if each.status else None, sorted(each.words))
        for each in find_mentions(text)[0]
    ]


def asked(text: str) -> list[str]:
    """Return what was remarked."""
    return [str(issue) for issue in find_mentions(text)[1]]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("C0051", "C0051"),
        ("c0051-64", "C0051-64"),
        ("C0051:64", "C0051-64"),
        ("C005164", "C0051-64"),
        ("C0051\u201364", "C0051-64"),
        ("found (u0126-87)!", "U0126-87"),
        ("code=P0A9B-17;", "P0A9B-17"),
        ("C0051 64 status 2F", "C0051-64"),
        ("C0051 64 pending", "C0051-64"),
        ("C0051 failure type 64", "C0051-64"),
        ("C0051, FTB: 0x1F", "C0051-1F"),
        ("C0051-ABS", "C0051"),
        ("C0051 64 mph", "C0051"),
    ],
)
def test_a_typed_code_is_read_in_every_accepted_form(text: str, code: str) -> None:
    """Either case, three separators, any words around."""
    assert [each[0] for each in read(text)] == [code]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("C0051 status 2F", ("2F", [])),
        ("C0051 Status: 0x2f", ("2F", [])),
        ("C0051 0x2F", ("2F", [])),
        ("C0051-54-2F", ("2F", [])),
        ("C0051-54\n  Status = 2F", ("2F", [])),
        ("C0051 steering angle sensor, status byte 28", ("28", [])),
        ("C0051 pending", (None, ["pending"])),
        ("Pending codes: C0051", (None, ["pending"])),
        ("C0051 | steering | Current", (None, ["active"])),
        ("C0051 (confirmed, history)", (None, ["confirmed", "history"])),
        ("C0051 is active after a pothole", (None, ["active"])),
        ("C0051 test not complete", (None, ["not-tested"])),
        ("C0051 sporadic", (None, ["intermittent"])),
        ("C0051 circuit current low", (None, [])),
        ("C0051 active wheel sensor", (None, [])),
        ("C0051 is not active", (None, [])),
        ("not active C0051", (None, [])),
        ("C0051\nActive suspension fitted", (None, [])),
        ("C0051 status be careful", (None, [])),
    ],
)
def test_a_status_beside_a_code_is_read_only_where_it_can_mean_nothing_else(
    text: str, expected: tuple[str | None, list[str]]
) -> None:
    """A word of a description is not a status."""
    ((_, status, words),) = read(text)

    assert (status, words) == expected


def test_every_status_byte_can_stand_beside_a_code() -> None:
    """All 256, in two notations."""
    for byte in range(256):
        assert read(f"C0051 status {byte:02X}") == [("C0051", f"{byte:02X}", [])]
        assert read(f"C0051-54-{byte:02x}") == [("C0051-54", f"{byte:02X}", [])]


def test_words_behind_their_codes_belong_to_each() -> None:
    """Two codes on a line, each with its own word."""
    assert read("C0051-64 pending and U0126 history") == [
        ("C0051-64", None, ["pending"]),
        ("U0126", None, ["history"]),
    ]


def test_words_before_the_first_code_lead() -> None:
    """A leading word holds until the next one."""
    assert [each[2] for each in read("active C0051, C0062, pending C0063")] == [
        ["active"],
        ["active"],
        ["pending"],
    ]


def test_words_on_both_ends_of_a_line_are_asked_about() -> None:
    """Whose they are can't be told, so nobody gets them."""
    text = "active C0051, pending C0062, history"

    assert [each[2] for each in read(text)] == [[], []]
    assert "before the first code and after the last" in asked(text)[0]


def test_two_digits_after_a_code_are_asked_about() -> None:
    """They can be a failure type or a status byte: the code is kept, the digits are not read."""
    assert read("C0051 64") == [("C0051", None, [])]
    assert "64 after C0051 can be a failure type or a status byte" in asked("C0051 64")[0]
    assert "2F after C0051-54 can be a status byte or a count" in asked("C0051-54 (2F)")[0]
    assert asked("C0051 (12 times)") == []


@pytest.mark.parametrize("token", ["CO051", "COO51", "C4051", "PI234", "C051", "C00511", "U0I26"])
def test_what_only_looks_like_a_code_is_named_and_not_corrected(token: str) -> None:
    """The letter O is never taken for a zero."""
    assert read(f"lamp, {token} stored") == []
    (issue,) = asked(f"lamp, {token} stored")
    assert f"'{token}' looks like a trouble code but is none (line 1, column 7)" in issue


@pytest.mark.parametrize(
    "text", ["P225/60R17", "cocoa polio colic", "WBA000C0051XY", "part 8C0051", "ticket 4711", ""]
)
def test_ordinary_words_and_numbers_are_no_codes_and_no_near_misses(text: str) -> None:
    """A tyre size or a word must not raise a question."""
    assert find_mentions(text) == ((), ())


def test_a_tail_that_is_no_byte_is_named() -> None:
    """The code stands, the failure type is not invented."""
    assert read("C0051-640") == [("C0051", None, [])]
    assert "'640' after C0051 is not a byte" in asked("C0051-640")[0]


def test_an_unassigned_failure_type_is_remarked() -> None:
    """AC after a hyphen may be a word."""
    assert "no assigned category" in asked("P0530-AC relay")[0]


def test_a_failure_type_said_twice_and_differently_is_asked_about() -> None:
    """The one in the code is used."""
    assert read("C0051-64 failure type 28") == [("C0051-64", None, [])]
    assert "also said to have failure type 28" in asked("C0051-64 failure type 28")[0]


def test_positions_count_lines_and_columns_from_one() -> None:
    """A message can point at the code in the paste."""
    text = "first\n  C0051, U0126\r\n\nP0562"
    places = [each.position for each in find_mentions(text)[0]]

    assert places == [Position(2, 3), Position(2, 10), Position(4, 1)]


@given(st.permutations(["C0051-64", "U0126", "P0562-00", "B0001", "C0031-1F"]))
def test_the_order_of_codes_is_kept(order: list[str]) -> None:
    """Any order in, the same order out."""
    assert [each[0] for each in read(" and ".join(order))] == order


@given(
    st.lists(
        st.builds(TroubleCode, st.integers(0, 0xFFFF), st.none() | st.integers(0, 0xFF)),
        max_size=30,
    ),
    st.sampled_from([", ", "\n", " | ", " und ", "; "]),
)
def test_any_list_of_codes_is_found_again(codes: list[TroubleCode], between: str) -> None:
    """Whatever the separator, no code is lost and none is added."""
    mentions, _ = find_mentions(between.join(map(str, codes)))

    assert [each.code for each in mentions] == codes


@given(st.text(max_size=300))
def test_any_text_at_all_is_read_without_an_error(text: str) -> None:
    """Pasted rubbish is no reason to stop; what is found stands where it says."""
    rows = text.split("\n")
    for mention in find_mentions(text)[0]:
        found = rows[mention.position.line - 1][mention.position.column - 1 :]
        assert found.upper().startswith(mention.code.notation)


def test_ten_thousand_codes_in_a_megabyte_are_all_found() -> None:
    """A long report with every line different."""
    lines = [f"{i}: C{i % 4096:04X}-{i % 160:02X} words and more words " * 2 for i in range(10_000)]
    mentions, _ = find_mentions("\n".join(lines))

    assert len(mentions) == 20_000
    assert mentions[-1].position.line == 10_000


@pytest.mark.parametrize(
    "text",
    [
        "status" + " " * 400_000 + "C0051 status" + " " * 400_000,
        "test " * 100_000 + "not " * 100_000 + "C0051",
        "P0" * 300_000,
        "C0051" + "\n" * 400_000 + "status",
        "C0051-" * 20_000,
    ],
    ids=["blanks", "phrases", "one-word", "line-ends", "hyphens"],
)
def test_texts_made_to_be_slow_are_read(text: str) -> None:
    """A pattern that tries every split of these would not come back."""
    assert len(merge_mentions(find_mentions(text)[0])[0]) == (0 if "P0" in text else 1)


def test_a_text_over_the_limit_is_refused_with_both_sizes() -> None:
    """The limit is a parameter, and the sentence says what to do."""
    with pytest.raises(CodeFormatError, match=r"1,001 characters in .*up to 1,000 .*in pieces"):
        find_mentions("x" * 1_001, limit=1_000)
    assert find_mentions("x" * 1_000, limit=1_000) == ((), ())


def merged(text: str) -> tuple[tuple[CodeSeen, ...], list[str]]:
    """Return the codes of a text, each once, and the remarks on merging."""
    seen, issues = merge_mentions(find_mentions(text)[0])
    return seen, [str(issue) for issue in issues]


def test_a_code_seen_twice_is_kept_once_with_all_that_was_said() -> None:
    """The bare mention joins the only failure type seen; both places are kept."""
    (seen,), issues = merged("C0051 confirmed\nC0051-64 status 28")

    assert str(seen.code) == "C0051-64"
    assert (seen.words, seen.label) == (("confirmed",), "history")
    assert seen.positions == (Position(1, 1), Position(2, 1))
    assert issues == []


def test_a_bare_mention_beside_two_failure_types_stays_by_itself() -> None:
    """Nothing tells to which it belongs."""
    seen, issues = merged("C0051\nC0051-64\nC0051-54")

    assert [str(each.code) for each in seen] == ["C0051", "C0051-64", "C0051-54"]
    assert "C0051 stands alone and also as C0051-64, C0051-54" in issues[0]


def test_status_bytes_that_differ_are_both_kept_and_neither_used() -> None:
    """Before and after a clear, perhaps: a person must say which."""
    (seen,), issues = merged("C0051 status 2F\nC0051 status 50")

    assert [str(each) for each in seen.statuses] == ["2F", "50"]
    assert seen.status is None
    assert seen.label is None
    assert "2 status bytes: 2F, 50" in issues[0]


@pytest.mark.parametrize(
    ("text", "label", "remark"),
    [
        ("C0051 active", "active", ""),
        ("C0051 confirmed", None, ""),
        ("C0051 stored, history", "history", ""),
        ("C0051 pending, confirmed", None, ""),
        ("C0051 active, history", None, "called active and history"),
        ("C0051 status 2F, history", "active", "its status byte 2F means active"),
        ("C0051 status 42", "not-tested", "failed this cycle, yet"),
    ],
)
def test_words_give_a_label_only_where_they_tell_one(
    text: str, label: str | None, remark: str
) -> None:
    """Confirmed says that the code is kept, not whether it fails now; a byte beats a word."""
    (seen,), issues = merged(text)

    assert seen.label == label
    assert bool(issues) == bool(remark)
    assert all(remark in issue for issue in issues)


def test_the_stretch_after_a_code_is_read_by_itself() -> None:
    """The smallest pieces, without a code around."""
    assert read_beside("").words == frozenset()
    assert read_beside(" 64, status 2F").failure_type == 0x64
    assert words_before("There is no pending ") == frozenset()
