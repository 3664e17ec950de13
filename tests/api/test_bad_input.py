"""What a person can get wrong, and the sentence that tells.

Each kind of wrong input stands here once: for case documents, then for knowledge files.
"""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from api.documents import MAX_BYTES, DocumentRefusedError, check_terms, read_case
from graph.load import load_knowledge
from graph.validate import validate
from triage.errors import DocumentError, KnowledgeError

BASE: dict[str, Any] = {"format": "drypark-case/1", "case": "bad"}
SHIPPED = Path("graph/knowledge")

#: name -> (bytes, what the sentence must say)
UNREADABLE = {
    "not JSON": (b'{"format": }', r"not JSON: expecting value at line 1, column 12"),
    "nothing at all": (b"", r"not JSON: nothing stands in it"),
    "not UTF-8": (b'{"case": "caf\xe9"}', r"not UTF-8 \(0xE9\) at byte 14; .* save the file as"),
    "another encoding": ("{}".encode("utf-16"), "save the file as UTF-8"),
    "NaN": (b'{"vehicle": {"age_years": NaN}}', "NaN is no number in JSON"),
    "Infinity": (b'{"vehicle": {"age_years": -Infinity}}', "-Infinity is no number in JSON"),
    "a field twice": (b'{"case": "a", "case": "b"}', "field 'case' stands twice"),
    "too deep": (b"[" * 100_000, "nested too deeply"),
    "a number without end": (b'{"case": ' + b"9" * 5000 + b"}", "a number that is too long"),
    "too large": (b" " * (MAX_BYTES + 1), "allowed: at most 2000000 bytes"),
}

#: name -> (fields beside the base, what the sentence must say)
WRONG_SHAPE: dict[str, tuple[dict[str, Any], str]] = {
    "an unknown field": (
        {"finding": []},
        r"unknown field 'finding' at the top; did you mean 'find",
    ),
    "an unknown field inside": (
        {"codes": [{"code": "C0051"}, {"code": "C0052", "failure_typ": "64"}]},
        r"unknown field 'failure_typ' at codes\[1\]; did you mean 'failure_type'",
    ),
    "an unknown field near nothing": ({"zzz": 1}, "unknown field 'zzz' .* allowed: format, case"),
    "another format": (
        {"format": "drypark-case/2"},
        "'drypark-case/2' at format; allowed: drypark-c",
    ),
    "a failure type of one digit": (
        {"codes": [{"code": "C0051", "failure_type": "6"}]},
        r"'6' at codes\[0\]\.failure_type; allowed: failure type: two hexadecimal digits",
    ),
    "a status that is no hex": (
        {"codes": [{"code": "C0051", "status": "G1"}]},
        r"'G1' at codes\[0\]\.status; allowed: status byte: two hexadecimal digits",
    ),
    "no trouble code": (
        {"codes": [{"code": "CO051"}]},
        r"'CO051' at codes\[0\]\.code; allowed: a trou",
    ),
    "10,000 codes": (
        {"codes": [{"code": "C0051"}] * 10_000},
        "10000 entries at codes; .* at most 200",
    ),
    "201 codes": (
        {"codes": [{"code": "C0051"}] * 201},
        "201 entries at codes; .* at most 200 codes",
    ),
    "a negative odometer": ({"vehicle": {"odometer_km": -5}}, r"-5 at vehicle\.odometer_km"),
    "an age in words": (
        {"vehicle": {"age_years": "old"}},
        r"'old' at vehicle\.age_years; .* 0 to 150",
    ),
    "an infinite number": ({"vehicle": {"odometer_km": 10**400}}, r"at vehicle\.odometer_km"),
    "a wrong word": (
        {"vehicle": {"drivetrain": "front"}},
        "'front' at .* allowed: fwd, rwd, awd, 4wd",
    ),
    "a place of no car": (
        {"findings": [{"id": "sy-lean", "place": "fl", "state": "present"}]},
        r"'fl' at findings\[0\]\.place; allowed: lf, rf, lr, rr",
    ),
    "a finding without state": (
        {"findings": [{"id": "sy-lean"}]},
        r"'state' is missing at findings\[0\]; allowed: present, absent, unknown; add it",
    ),
    "a list for an object": (
        {"vehicle": []},
        "a list at vehicle; allowed: an object about the car",
    ),
    "null for a list": ({"codes": None}, "null at codes; allowed: a list of at most 200 codes"),
    "a steering character": ({"case": "a\x1b[2J"}, "at case; allowed: a name"),
    "a limit without source": (
        {
            "verdicts": [
                {
                    "check": "ck-dry-park",
                    "verdict": "found",
                    "reading": {"value": 1, "unit": "mm", "limit": 1, "uncertainty": 0},
                }
            ]
        },
        r"'limit_source' is missing at verdicts\[0\]\.reading",
    ),
}

#: name -> (fields beside the base, what the sentence must say)
UNKNOWN_TERM: dict[str, tuple[dict[str, Any], str]] = {
    "a finding": (
        {"findings": [{"id": "sy-hum-sped", "state": "present"}]},
        r"unknown finding 'sy-hum-sped' at findings\[0\]\.id; did you mean 'sy-hum-speed'",
    ),
    "a context": ({"context": ["cx-strik"]}, r"unknown context 'cx-strik' .* mean 'cx-strike'"),
    "a vehicle fact": ({"vehicle": {"facts": ["vf-epbb"]}}, "unknown vehicle fact .* 'vf-epb'"),
    "a check": (
        {"verdicts": [{"check": "ck-dry-pork", "verdict": "found"}]},
        r"unknown check 'ck-dry-pork' at verdicts\[0\]\.check; did you mean 'ck-dry-park'",
    ),
    "a cause": (
        {"verdicts": [{"check": "ck-dry-park", "verdict": "found", "cause": "rc-outer-tie-rod"}]},
        r"unknown cause 'rc-outer-tie-rod' .* 'rc-outer-tie-rod-worn'",
    ),
    "a cause that the check cannot show": (
        {"verdicts": [{"check": "ck-dry-park", "verdict": "found", "cause": "rc-battery-weak"}]},
        "unknown thing to see by ck-dry-park 'rc-battery-weak'",
    ),
    "a meaning": (
        {"codes": [{"code": "C0040", "meaning": "dtc-wss-fr"}]},
        r"unknown meaning 'dtc-wss-fr' at codes\[0\]\.meaning; did you mean",
    ),
    "a place that the finding cannot have": (
        {"findings": [{"id": "sy-pop-steer-parking", "place": "rear", "state": "present"}]},
        r"'sy-pop-steer-parking' cannot be at place 'rear' at findings\[0\]\.place; allowed: front",
    ),
    "a place where the check is not done": (
        {"verdicts": [{"check": "ck-dry-park", "place": "rear", "verdict": "found"}]},
        "'ck-dry-park' cannot be at place 'rear' .* allowed: front",
    ),
    "a place that the cause cannot have": (
        {
            "verdicts": [
                {
                    "check": "ck-dry-park",
                    "verdict": "found",
                    "cause": "rc-outer-tie-rod-worn",
                    "at": "lr",
                }
            ]
        },
        "'rc-outer-tie-rod-worn' cannot be at place 'lr' .* allowed: lf, rf",
    ),
    "a place without its cause": (
        {"verdicts": [{"check": "ck-dry-park", "verdict": "found", "at": "lf"}]},
        "a place of a cause without the cause",
    ),
    "findings that contradict": (
        {
            "findings": [
                {"id": "sy-lamp-abs", "state": "present"},
                {"id": "sy-lamp-abs", "state": "absent"},
            ]
        },
        "'sy-lamp-abs' is stated as present and as absent",
    ),
    "two failure types of one code": (
        {"codes": [{"code": "C0051-64", "failure_type": "62"}]},
        "the failure type of C0051' is stated as 64 and as 62",
    ),
}


def _read(fields: dict[str, Any]) -> Any:
    return read_case(json.dumps({**BASE, **fields}).encode())


@pytest.mark.parametrize("name", UNREADABLE)
def test_what_cannot_be_read_is_told_in_one_sentence(name: str) -> None:
    """The sentence must lead to the place, or the person gives up."""
    data, sentence = UNREADABLE[name]

    with pytest.raises(DocumentError, match=sentence) as caught:
        read_case(data)

    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", WRONG_SHAPE)
def test_a_wrong_shape_is_told_with_its_path(name: str) -> None:
    """Where, what is allowed, what to do: all three in one line."""
    fields, sentence = WRONG_SHAPE[name]

    with pytest.raises(DocumentRefusedError, match=sentence) as caught:
        _read(fields)

    assert len(caught.value.problems) == 1


@pytest.mark.parametrize("name", UNKNOWN_TERM)
def test_an_unknown_term_is_told_with_the_nearest(name: str) -> None:
    """Most unknown ids are slips of the hand."""
    fields, sentence = UNKNOWN_TERM[name]
    case = _read(fields)

    with pytest.raises(DocumentRefusedError, match=sentence) as caught:
        check_terms(case, load_knowledge())

    assert len(caught.value.problems) == 1


def test_the_lists_of_wrong_input_are_as_long_as_they_were() -> None:
    """A sweep over an emptied list would pass in silence."""
    assert (len(UNREADABLE), len(WRONG_SHAPE), len(UNKNOWN_TERM)) == (10, 19, 13)


def test_everything_wrong_is_told_at_once() -> None:
    """A file is corrected once, not once for each mistake."""
    fields = {
        "vehicle": {"odometer_km": -1, "age_years": "old"},
        "codes": [{"code": "C0051", "status": "zz"}],
        "odd": 1,
    }

    with pytest.raises(DocumentRefusedError, match="odometer_km") as caught:
        _read(fields)

    assert len(caught.value.problems) == len(str(caught.value).splitlines()) == 4


def test_after_twenty_problems_the_rest_are_counted() -> None:
    """Two hundred lines help nobody."""
    with pytest.raises(DocumentRefusedError, match="and 10 more like these") as caught:
        _read({"codes": [{"code": "wrong"}] * 30})

    assert len(str(caught.value).splitlines()) == 21


def test_a_file_of_50_megabytes_is_refused_without_being_read(tmp_path: Path) -> None:
    """The size is asked first: a sparse file of that size holds no byte that could be read."""
    path = tmp_path / "log.json"
    with path.open("wb") as file:
        file.truncate(50_000_000)

    with pytest.raises(DocumentError, match="50000000 bytes at the document; allowed: at most"):
        read_case(path)


@pytest.mark.parametrize("name", ["missing.json", "."])
def test_a_file_that_cannot_be_opened_is_told_by_name(tmp_path: Path, name: str) -> None:
    """A folder, or a name mistyped."""
    with pytest.raises(DocumentError, match="the file cannot be read"):
        read_case(tmp_path / name)


def test_a_maker_code_is_kept_and_not_refused() -> None:
    """A code without an entry is evidence nobody has words for, not a mistake."""
    check_terms(_read({"codes": [{"code": "C1234"}, {"code": "C0FFF"}]}), load_knowledge())


# Knowledge files: a copy of the shipped ones with one mistake each.

_FILE = "links-hub.ttl"


def _broken(folder: Path, name: str, old: str, new: str) -> Path:
    """Return a copy of the shipped files in which `old` has become `new`, once."""
    shutil.copytree(SHIPPED, folder, ignore=shutil.ignore_patterns("README*"))
    text = (folder / name).read_text(encoding="utf-8")
    assert old in text, "the file no longer holds what this test changes"
    (folder / name).write_text(text.replace(old, new, 1), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def link() -> str:
    """Return the first link of the hub file, as it stands there."""
    text = (SHIPPED / _FILE).read_text(encoding="utf-8")
    start = text.index(":lk-")
    return text[start : text.index(" .\n", start) + 3]


def test_a_strength_of_1_3_is_refused_by_name(tmp_path: Path, link: str) -> None:
    """No probability is above 1."""
    wrong = re.sub(r":strength [0-9.]+", ":strength 1.3", link)

    with pytest.raises(KnowledgeError, match=r"1\.3.*links-hub\.ttl"):
        load_knowledge(_broken(tmp_path / "k", _FILE, link, wrong))


def test_a_link_without_source_is_refused_by_name(tmp_path: Path, link: str) -> None:
    """Every link says where it comes from."""
    wrong = re.sub(r"dcterms:source [^;]+; ", "", link)

    with pytest.raises(KnowledgeError, match=r"source.*links-hub\.ttl"):
        load_knowledge(_broken(tmp_path / "k", _FILE, link, wrong))


def test_a_loop_of_links_is_found(tmp_path: Path, link: str) -> None:
    """A network with a loop has no probability at all."""
    back = re.sub(r"^:lk-\d+", ":lk-9998", link)
    back = re.sub(r":from (\S+) ;(.*?):to (\S+) ;", r":from \3 ;\2:to \1 ;", back, flags=re.DOTALL)
    folder = _broken(tmp_path / "k", _FILE, link, f"{link}\n{back}")

    report = validate(folder)

    assert not report.passed
    assert [row for row in report.rows if "loop" in row.rule or "loop" in row.sentence]


def test_a_file_that_is_no_turtle_is_told_with_its_line(tmp_path: Path) -> None:
    """The line is where the pen goes."""
    folder = _broken(tmp_path / "k", "setups.ttl", "a :Setup ;", "a :Setup ;;( ")

    with pytest.raises(KnowledgeError, match=r"setups\.ttl:\d+"):
        load_knowledge(folder)
