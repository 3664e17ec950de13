"""Knowledge kept as decoded: the same, and never that of other files."""

from __future__ import annotations

from pathlib import Path

import pytest

from graph import load
from graph.kept import keep, kept, key_of
from graph.load import load_knowledge, shipped_folder
from graph.triples import Folder, turtle_files


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder for what is kept."""
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    return tmp_path


def test_what_is_kept_is_what_was_decoded(folder: Path) -> None:
    """Field by field, in the same order; a folder that is named is always read."""
    first = load_knowledge()
    read = load_knowledge(shipped_folder())
    assert (folder / "knowledge.kept").is_file()
    again = load_knowledge()
    assert again is not first
    assert first == again == read
    assert list(again.causes) == list(read.causes)


def test_what_is_kept_is_not_decoded_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """That is what it is for."""
    first = load_knowledge()
    monkeypatch.setattr(load, "examine", None)
    assert load_knowledge() == first
    assert [path.name for path in folder.iterdir()] == ["knowledge.kept"]


def test_other_files_are_not_answered_with_what_is_kept(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One byte more in one file, and all is decoded anew."""
    old = load_knowledge().sha256

    def changed(where: Folder) -> dict[str, bytes]:
        content = dict(turtle_files(where))
        return {**content, "release.ttl": content["release.ttl"] + b"# one more line\n"}

    monkeypatch.setattr(load, "turtle_files", changed)
    assert load_knowledge().sha256 != old


def test_the_key_is_that_of_contents_and_sources() -> None:
    """Neither may change under it."""
    keys = {key_of("a", b"x"), key_of("b", b"x"), key_of("a", b"y")}
    assert len(keys) == 3


@pytest.mark.parametrize("data", [b"", b"short", b"k" * 32, b"k" * 32 + b"no pickle", b"o" * 99])
def test_what_cannot_be_read_is_not_there(folder: Path, data: bytes) -> None:
    """A file cut off, or of another program, costs the time of reading once more."""
    (folder / "knowledge.kept").write_bytes(data)
    assert kept(b"k" * 32) is None


def test_where_nothing_can_be_written_nothing_is_kept(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The knowledge is read from its files then, as ever."""
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "nowhere"))
    keep(b"k" * 32, load_knowledge())
    assert kept(b"k" * 32) is None
    monkeypatch.delenv("NUMBA_CACHE_DIR")
    keep(b"k" * 32, load_knowledge())
    assert kept(b"k" * 32) is None
    assert not list(tmp_path.iterdir())
