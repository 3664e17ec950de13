"""The reader: what it refuses, how it says so, and that it is quick to start."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from graph.load import fingerprint, load_knowledge
from graph.triples import turtle_files
from triage.errors import KnowledgeError
from triage.issues import Issue

ROOT = Path(__file__).parents[2]
MINIMAL = ROOT / "fixtures" / "minimal"
BROKEN = sorted((ROOT / "fixtures" / "broken").glob("*.ttl"))
#: Fixtures that the reader itself must refuse, with a word of the sentence.
REFUSED = {
    "unreadable-file": "not Turtle",
    "duplicate-id": "described twice",
    "unknown-kind": "unknown kind :Symptom",
    "unknown-predicate": ":precedense",
    "unknown-term": "rc-bearing-plya",
    "unknown-word": "same-cornr",
    "wrong-datatype": "half an hour",
    "wrong-prefix": "does not begin with 'rp-'",
    "missing-statement": "does not state :hoursLow",
    "repeated-statement": "2 times",
    "out-of-range": "outside [0, 1)",
    "stray-part": "no term owns",
    "link-strength": "is 1.3, outside (0, 1)",
    "link-to-unknown-term": "names 'sy-humm'",
    "link-source": "does not state dcterms:source",
    "link-basis": "does not state :basis",
    "link-person": "does not state prov:wasAttributedTo",
    "link-date": "does not state dcterms:date",
    "link-mechanism": "does not state :mechanism",
    "check-target-unknown": "rc-bearing-plya",
    "repair-target-unknown": "rc-bearing-plya",
    "gate-closes-on-unknown-check": "ck-shak",
    "deprecated-without-reason": "does not state :deprecatedBecause",
}


def overlay(folder: Path, *files: Path) -> Path:
    """Copy the minimal knowledge and some files over it into a folder."""
    for path in (*MINIMAL.glob("*.ttl"), *files):
        (folder / path.name).write_bytes(path.read_bytes())
    return folder


def refused(folder: Path) -> list[Issue]:
    """Return the issues with which a folder is refused."""
    with pytest.raises(KnowledgeError, match="knowledge refused") as caught:
        load_knowledge(folder)
    return [issue for issue in caught.value.issues if isinstance(issue, Issue)]


def test_the_shipped_knowledge_is_what_the_sources_counted() -> None:
    """The numbers stand in the design: 69 codes, 163 findings, 59 states, 134 causes; then 0011."""
    knowledge = load_knowledge()
    active = [link for link in knowledge.links if not link.deprecated]

    assert len(knowledge.codes) == 69
    assert len(knowledge.findings) == 163 + 14
    assert len(knowledge.states) == 59
    assert len(knowledge.causes) == 134 + 1
    assert len(knowledge.checks) == 144
    assert len(knowledge.repairs) == 107
    assert len(active) == 1340 - 10 + 111


def test_the_version_and_the_hash_name_the_files() -> None:
    """Every answer names the knowledge that gave it."""
    knowledge = load_knowledge(MINIMAL)

    assert knowledge.version == "minimal-1"
    assert knowledge.sha256 == fingerprint(turtle_files(MINIMAL))
    assert len(knowledge.sha256) == 64


def test_one_changed_character_changes_the_hash() -> None:
    """Two different sets of files must never carry one name."""
    content = turtle_files(MINIMAL)
    changed = {**content, "release.ttl": content["release.ttl"] + b" "}
    moved = {**content, "relaese.ttl": content["release.ttl"]}
    del moved["release.ttl"]

    assert len({fingerprint(content), fingerprint(changed), fingerprint(moved)}) == 3


@pytest.mark.parametrize("name", REFUSED)
def test_a_broken_file_is_refused_with_file_and_line(name: str, tmp_path: Path) -> None:
    """The person who made the mistake is led to it."""
    issues = refused(overlay(tmp_path, ROOT / "fixtures" / "broken" / f"{name}.ttl"))
    said = [str(issue) for issue in issues]

    assert any(REFUSED[name] in one for one in said), said
    assert all(f"{name}.ttl:" in one for one in said)


def test_every_refused_fixture_is_there() -> None:
    """A renamed fixture must not fall out of the sweep."""
    assert set(REFUSED) <= {path.stem for path in BROKEN}


def test_the_line_is_that_of_the_subject(tmp_path: Path) -> None:
    """A line number that points elsewhere is worse than none."""
    issue = refused(overlay(tmp_path, ROOT / "fixtures" / "broken" / "link-strength.ttl"))[0]
    line = int(issue.where.rpartition(":")[2])

    assert (tmp_path / "link-strength.ttl").read_text().splitlines()[line - 1] == ":lk-0009"


def test_a_misspelt_id_is_answered_with_the_nearest_ones(tmp_path: Path) -> None:
    """Most wrong ids are typing slips."""
    path = ROOT / "fixtures" / "broken" / "link-to-unknown-term.ttl"

    assert [issue.remedy for issue in refused(overlay(tmp_path, path))] == ["did you mean 'sy-hum'"]


def test_everything_wrong_is_told_at_once(tmp_path: Path) -> None:
    """Nobody wants to mend ten files in ten runs."""
    names = ("unknown-word", "wrong-datatype", "out-of-range")
    files = [ROOT / "fixtures" / "broken" / f"{name}.ttl" for name in names]
    overlay(tmp_path, *files)
    # The ids of two fixtures are the same; each gets its own here.
    for name in names:
        path = tmp_path / f"{name}.ttl"
        path.write_text(path.read_text().replace(":lk-0009", f":lk-{name}"))

    assert {issue.where.partition(":")[0] for issue in refused(tmp_path)} == {
        f"{name}.ttl" for name in names
    }


def test_a_file_that_is_not_utf_8_is_refused_at_its_line(tmp_path: Path) -> None:
    """An editor that saves another encoding must be found out before the words are wrong."""
    overlay(tmp_path)
    (tmp_path / "extra.ttl").write_bytes(b"# ok\n# caf\xe9\n")

    assert [(issue.message, issue.where) for issue in refused(tmp_path)] == [
        ("byte 10 is not UTF-8", "extra.ttl:2")
    ]


def test_an_unread_file_does_not_make_its_ids_unknown(tmp_path: Path) -> None:
    """One missing quote must not bring a hundred complaints about ids."""
    overlay(tmp_path)
    (tmp_path / "causes-hub.ttl").write_text(":broken")

    assert [issue.where for issue in refused(tmp_path)] == ["causes-hub.ttl:1"]


def test_a_folder_without_a_release_is_refused(tmp_path: Path) -> None:
    """Without a version no answer could say which knowledge gave it."""
    overlay(tmp_path)
    (tmp_path / "release.ttl").unlink()

    assert [issue.where for issue in refused(tmp_path)] == ["release.ttl"]


def test_a_release_without_a_version_is_refused(tmp_path: Path) -> None:
    """An empty release file names nothing."""
    overlay(tmp_path)
    (tmp_path / "release.ttl").write_text("# nothing\n")

    assert [issue.message for issue in refused(tmp_path)] == ["the version is not stated"]


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    """A mistyped path must not read as empty knowledge."""
    assert [issue.message for issue in refused(tmp_path / "nowhere")] == ["there is no such folder"]


def test_a_list_that_bites_its_tail_is_read_to_an_end(tmp_path: Path) -> None:
    """A hand-made list must not hang the reader."""
    overlay(tmp_path)
    terms = "@prefix : <https://drypark.example/terms#> .\n"
    rdf = "@prefix rdf: <http://www.w3.org/1999/02/22-rdf-syntax-ns#> .\n"
    (tmp_path / "extra.ttl").write_text(
        f"{terms}{rdf}:cv-loop :saltedFactors _:a . _:a rdf:first 1.0 ; rdf:rest _:a .\n"
    )

    assert [issue.message for issue in refused(tmp_path)] == ["'cv-loop' has no kind"]


def test_reading_needs_no_rdflib() -> None:
    """A first answer from a cold process must not wait for libraries that it does not use."""
    program = (
        "import sys; from graph.load import load_knowledge; load_knowledge();"
        "print(sorted({'rdflib', 'pyshacl'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, check=True
    )

    assert done.stdout.strip() == "[]"
