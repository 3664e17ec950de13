"""Release notes: two small knowledge folders whose differences are known line by line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from graph.load import load_knowledge
from graph.release import compare, first_notes, notes
from graph.terms import Detects, Knowledge, Link, Provenance
from graph.write import write_knowledge
from triage.errors import KnowledgeError

ROOT = Path(__file__).parents[2]
MINIMAL = ROOT / "fixtures" / "minimal"
RELEASES = ROOT / "graph" / "RELEASES.md"

Written = Callable[[Knowledge], Path]


@pytest.fixture
def written(tmp_path: Path) -> Written:
    """Return what writes some knowledge into a folder of its own."""

    def write(knowledge: Knowledge) -> Path:
        folder = tmp_path / f"k{len(list(tmp_path.iterdir()))}"
        folder.mkdir()
        for name, text in write_knowledge(knowledge).items():
            (folder / name).write_text(text, encoding="utf-8", newline="\n")
        return folder

    return write


def _next(knowledge: Knowledge) -> Knowledge:
    """Return the minimal knowledge one release later, with a change of every sort."""
    first, second, third, fourth = knowledge.links
    shake = knowledge.checks["ck-shake"]
    shows = replace(shake.detects[0], sensitivity=0.7)
    also = Detects("rc-sensor-failed", 0.5, 0.99)
    measured = Provenance("measured", "src-memory", "ag-first-draft", "2026-11-25")
    return replace(
        knowledge,
        version="minimal-2",
        checks={**knowledge.checks, "ck-shake": replace(shake, detects=(shows, also))},
        states={
            **knowledge.states,
            "st-gap": replace(knowledge.states["st-hub-play"], id="st-gap", label="sensor gap"),
        },
        links=(
            replace(first, strength=0.85, provenance=measured),
            second,
            replace(third, deprecated="the hum is the tyre's", replaced_by="lk-0002"),
            fourth,
            Link("lk-0005", "st-hub-play", "global", "sy-hum", 0.3, "loose parts rattle"),
        ),
    )


def test_the_notes_say_every_difference_line_by_line(written: Written) -> None:
    """Counts first, then what was added, changed from what to what, and deprecated."""
    knowledge = load_knowledge(MINIMAL)
    after = written(_next(knowledge))

    text = notes(compare(MINIMAL, after))

    assert text.splitlines() == [
        "# Knowledge release minimal-2",
        "",
        f"Compared with release minimal-1. SHA-256 {load_knowledge(after).sha256}",
        "",
        "| kind | before | added | changed | deprecated | gone |",
        "|---|---|---|---|---|---|",
        "| code | 1 | 0 | 0 | 0 | 0 |",
        "| finding | 1 | 0 | 0 | 0 | 0 |",
        "| state | 1 | 1 | 0 | 0 | 0 |",
        "| cause | 2 | 0 | 0 | 0 | 0 |",
        "| link | 4 | 1 | 1 | 1 | 0 |",
        "| setup | 2 | 0 | 0 | 0 | 0 |",
        "| check | 3 | 0 | 1 | 0 | 0 |",
        "| repair | 2 | 0 | 0 | 0 | 0 |",
        "| gate | 1 | 0 | 0 | 0 | 0 |",
        "| context | 1 | 0 | 0 | 0 | 0 |",
        "| fact | 1 | 0 | 0 | 0 | 0 |",
        "| code family | 1 | 0 | 0 | 0 | 0 |",
        "",
        "## Added (2)",
        "",
        "* lk-0005 (st-hub-play -> sy-hum)",
        "* st-gap (sensor gap)",
        "",
        "## Changed (2)",
        "",
        "* ck-shake (rock the hanging wheel at 12 and 6 o'clock): rc-sensor-failed nothing -> "
        "target rc-sensor-failed, sensitivity 0.5, specificity 0.99; "
        "st-hub-play sensitivity 0.8 -> 0.7",
        "* lk-0001 (rc-bearing-play -> st-hub-play): strength 0.9 -> 0.85; "
        "basis estimate -> measured",
        "",
        "## Deprecated (1)",
        "",
        "* lk-0003 (rc-bearing-play -> sy-hum): the hum is the tyre's; use lk-0002",
    ]


def test_two_equal_folders_have_nothing_to_tell(written: Written) -> None:
    """Order of files and lines is no difference."""
    knowledge = load_knowledge(MINIMAL)
    turned = replace(knowledge, links=tuple(reversed(knowledge.links)))

    release = compare(MINIMAL, written(turned))

    assert (release.added, release.changed, release.gone) == ((), (), ())
    assert release.deprecated == {}
    assert "##" not in notes(release)


def test_a_term_that_is_gone_is_shown_as_what_must_not_be(written: Written) -> None:
    """Nothing is deleted; who reads the notes must see it when something was."""
    release = compare(written(_next(load_knowledge(MINIMAL))), MINIMAL)

    assert release.gone == ("lk-0005", "st-gap")
    assert notes(release).splitlines()[-4:] == [
        "## Gone, which must not be (deprecate instead) (2)",
        "",
        "* lk-0005 (st-hub-play -> sy-hum)",
        "* st-gap (sensor gap)",
    ]


def test_a_link_that_is_taken_back_into_use_is_a_change(written: Written) -> None:
    """The opposite of a deprecation must not pass unseen."""
    release = compare(written(_next(load_knowledge(MINIMAL))), MINIMAL)

    assert [str(change) for change in release.changed if change.term == "lk-0003"] == [
        "deprecatedBecause the hum is the tyre's -> nothing",
        "isReplacedBy lk-0002 -> nothing",
    ]


def test_a_number_of_the_whole_release_is_a_change(written: Written) -> None:
    """The exponent of failure types moves every answer."""
    release = compare(MINIMAL, written(replace(load_knowledge(MINIMAL), failure_exponent=0.75)))

    assert [str(change) for change in release.changed] == ["failureExponent nothing -> 0.75"]


def test_a_list_of_numbers_is_compared_as_a_whole(written: Written) -> None:
    """RDF lists hang on nodes without a name; only what they hold may count."""
    before = replace(load_knowledge(MINIMAL), failure_default=(0.5, 0.5))
    after = replace(before, failure_default=(0.25, 0.75))

    release = compare(written(before), written(after))

    assert [str(change) for change in release.changed] == [
        "failureDefault (0.5 0.5) -> (0.25 0.75)"
    ]


def test_broken_knowledge_has_no_notes(tmp_path: Path) -> None:
    """Notes on half a folder would call the other half gone."""
    with pytest.raises(KnowledgeError, match="knowledge refused"):
        compare(MINIMAL, tmp_path)


def test_the_page_of_releases_is_what_the_program_writes() -> None:
    """Knowledge changed: `knowledge release-notes > graph/RELEASES.md` before its release."""
    knowledge = load_knowledge()
    page = RELEASES.read_text(encoding="utf-8")

    assert page.startswith(f"# Knowledge release {knowledge.version}\n")
    assert knowledge.sha256 in page.split("\n# ")[0]
    if knowledge.version == "1":
        assert page == first_notes(knowledge)
