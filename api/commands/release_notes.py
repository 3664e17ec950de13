"""`drypark knowledge release-notes`: what differs between two knowledge folders."""

from __future__ import annotations

import sys
from typing import Any

from api.commands.output import write_json
from api.commands.sources import knowledge_folder
from api.terminal.page import plain
from graph.load import load_knowledge, shipped_folder
from graph.release import Release, compare, first_notes, notes
from triage.errors import DocumentError

__all__ = ["run"]


def run(old: str | None, new: str | None, *, as_json: bool) -> None:
    """Write the notes from `old` to `new`; without `old`, those of a first release.

    Raises
    ------
    KnowledgeError
        If a folder cannot be read.
    DocumentError
        If JSON is wanted of a first release: `knowledge export` gives all of it.
    """
    before, after = knowledge_folder(old), knowledge_folder(new) or shipped_folder()
    if before is not None:
        release = compare(before, after)
        if as_json:
            write_json(_document(release))
        else:
            _write(notes(release))
    elif as_json:
        raise DocumentError(
            "a first release has nothing to compare with",
            where="--json",
            allowed="--json together with --from",
            remedy="name the older folder, or use knowledge stats --json",
        )
    else:
        _write(first_notes(load_knowledge(after)))


def _write(text: str) -> None:
    """Write Markdown as it is, but for characters that could steer a terminal."""
    for line in text.splitlines():
        sys.stdout.write(f"{plain(line)}\n")


def _document(release: Release) -> dict[str, Any]:
    """Return the notes as a plain document."""
    return {
        "from": release.old_version,
        "to": release.new_version,
        "sha256": release.sha256,
        "added": list(release.added),
        "changed": [
            {"id": change.term, "what": change.what, "old": change.old, "new": change.new}
            for change in release.changed
        ],
        "deprecated": [
            {"id": key, "because": reason, "replaced_by": other}
            for key, (reason, other) in release.deprecated.items()
        ],
        "gone": list(release.gone),
    }
