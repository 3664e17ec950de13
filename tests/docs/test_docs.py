"""The pages for people: what they show is run, what exists is named in them."""

from __future__ import annotations

import contextlib
import doctest
import io
import re
import shlex
import shutil
from pathlib import Path

import pytest
import typer

import triage
from api import documents
from api.command import app, run
from graph.load import load_knowledge
from graph.validate import validate
from triage import errors

README = Path("README.md").read_text(encoding="utf-8")
DEVELOPERS = Path("DEVELOPERS.md").read_text(encoding="utf-8")
_START = "$ python3 drypark.py "

#: (command line, what the page shows) of every console block.
EXAMPLES = [
    tuple(block.split("\n", 1))
    for page in (README, DEVELOPERS)
    for block in re.findall(r"^```console\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
]
#: (file, text) of every Turtle block.
ADDITIONS = re.findall(r"^```turtle (\S+)\n(.*?)^```$", DEVELOPERS, re.MULTILINE | re.DOTALL)


def _commands(group: typer.Typer, before: str = "drypark") -> list[str]:
    """Return every command of a group in full."""
    own = [
        f"{before} {command.name or getattr(command.callback, '__name__', '')}"
        for command in group.registered_commands
    ]
    for inner in group.registered_groups:
        assert inner.typer_instance is not None
        own += _commands(inner.typer_instance, f"{before} {inner.name}")
    return own


@pytest.mark.parametrize(("line", "shown"), EXAMPLES, ids=[line for line, _shown in EXAMPLES])
def test_an_example_does_what_the_page_shows(line: str, shown: str) -> None:
    """An example that no longer runs is the first thing that a newcomer meets."""
    assert line.startswith(_START)
    out = io.StringIO()

    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        run(shlex.split(line.removeprefix(_START)))

    checker = doctest.OutputChecker()
    flags = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
    assert checker.check_output(shown, out.getvalue(), flags), out.getvalue()


def test_all_examples_were_collected() -> None:
    """Partner of the sweep above."""
    assert len(EXAMPLES) == README.count("```console") + DEVELOPERS.count("```console") == 8


def test_every_command_is_in_the_pages() -> None:
    """A command that nobody can find does not exist."""
    commands = _commands(app)
    short = [command.removeprefix("drypark ") for command in commands]

    assert len(commands) >= 7
    assert not [command for command in commands if f"`{command}`" not in DEVELOPERS]
    assert not [command for command in short if command not in README]


def test_every_error_class_is_in_the_developers_page() -> None:
    """Whoever catches errors needs the list."""
    names = [*errors.__all__, "DocumentRefusedError"]

    assert len(names) >= 11
    assert not [name for name in names if f"`{name}`" not in DEVELOPERS]


def test_every_rule_is_in_the_developers_page() -> None:
    """Files and table of rules, and nothing that is no rule any more."""
    table = Path("graph/rules/severity.tsv").read_text(encoding="utf-8").splitlines()[1:]
    names = {line.split("\t")[0] for line in table}
    names |= {path.stem for path in Path("graph/rules").glob("*.rq")}
    section = DEVELOPERS.split("**A rule.**")[1].split("## ")[0].split("What the rules ask")[1]

    assert len(names) >= 50
    assert set(re.findall(r"`([a-z-]+)`", section)) == names


@pytest.mark.parametrize("package", [triage, documents], ids=["triage", "api.documents"])
def test_every_public_name_is_in_the_developers_page(package: object) -> None:
    """Public means listed, and listed means explained."""
    names = package.__all__  # type: ignore[attr-defined]

    assert len(names) >= 8
    assert not [name for name in names if f"`{name}`" not in DEVELOPERS]


def test_what_the_page_adds_to_the_knowledge_passes_the_check(tmp_path: Path) -> None:
    """Copying from the page must give a knowledge that holds."""
    folder = tmp_path / "knowledge"
    shutil.copytree("graph/knowledge", folder)
    for name, text in ADDITIONS:
        path = folder / name
        path.write_text(f"{path.read_text(encoding='utf-8')}\n{text}", encoding="utf-8")

    report = validate(folder)
    grown = load_knowledge(folder)

    assert [name for name, _text in ADDITIONS] == [
        "codes-inertial.ttl",
        "causes-sensor.ttl",
        "links-sensor.ttl",
        "checks-elec.ttl",
    ]
    assert not [str(row) for row in report.rows if "example" in str(row) or row.level == "ERROR"]
    assert grown.checks["ck-example"].detects[0].target == "rc-example"


def test_the_readme_begins_with_the_job_and_goes_on_with_what_it_does_not_do() -> None:
    """A technician reads ten lines, if that."""
    headings = re.findall(r"^#+ (.*)$", README, re.MULTILINE)

    assert headings[:3] == ["Drypark", "What it does not do", "Two commands"]
    assert "what to check before replacing the part that the code names" in " ".join(README.split())


@pytest.mark.parametrize("path", ["README.md", "DEVELOPERS.md", "fixtures/README.md"])
def test_a_page_promises_nothing_about_driving(path: str) -> None:
    """Drypark says what was checked and by whom, never more."""
    assert "safe to drive" not in Path(path).read_text(encoding="utf-8").lower()


def test_files_named_in_the_pages_are_there() -> None:
    """A path in the text that leads nowhere costs a newcomer an hour."""
    named = set(
        re.findall(r"`((?:api|graph|fixtures|decisions|lock)/[\w./-]*)`", README + DEVELOPERS)
    )

    assert len(named) >= 10
    assert not [path for path in sorted(named) if "NAME" not in path and not Path(path).exists()]
