"""From knowledge files to `Knowledge`, or a full account of why not.

Everything wrong in every file is collected before anything is raised, each with
file, line and what to do. What a human must judge (is a link plausible, is a cause
reachable) is not asked here: that is `graph.validate`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import replace
from importlib.resources import files

from graph.decode import Decoded, decode
from graph.kept import keep, kept, key_of
from graph.report import ERROR, Row
from graph.terms import Knowledge
from graph.triples import Folder, read_statements, turtle_files
from triage.errors import KnowledgeError

__all__ = ["examine", "fingerprint", "load_knowledge", "shipped_folder"]


def shipped_folder() -> Folder:
    """Return the folder of the knowledge that is installed with the program."""
    return files("graph").joinpath("knowledge")


def load_knowledge(folder: Folder | None = None) -> Knowledge:
    """Return the knowledge that a folder of Turtle files states.

    Parameters
    ----------
    folder : path, optional
        Default: the shipped knowledge. Every ``*.ttl`` file directly in it is read.

    Returns
    -------
    Knowledge
        Mappings and tuples sorted by id; `sha256` over the file contents.

    Raises
    ------
    KnowledgeError
        A file cannot be read or says something impossible; `issues` lists it all.

    Notes
    -----
    About 0.15 s for 1,400 links. The triples are read once, in file order. The shipped knowledge
    is kept as decoded (`graph.kept`): then it takes a quarter of that.
    """
    where = shipped_folder() if folder is None else folder
    if not where.is_dir():
        row = Row(
            ERROR, "missing-folder", "", "there is no such folder", str(where), "name another"
        )
        raise _refusal([row])
    content = turtle_files(where)
    return _shipped(content) if folder is None else _decoded(content)


def _shipped(content: Mapping[str, bytes]) -> Knowledge:
    """Return the shipped knowledge, decoded unless that was kept."""
    key = key_of(fingerprint(content), _sources())
    knowledge = kept(key)
    if knowledge is None:
        knowledge = _decoded(content)
        keep(key, knowledge)
    return knowledge


def _decoded(content: Mapping[str, bytes]) -> Knowledge:
    """Return what the files say, or refuse all that is wrong in them."""
    decoded = examine(content)
    if decoded.rows:
        raise _refusal(decoded.rows)
    return replace(decoded.knowledge(), sha256=fingerprint(content))


def _sources() -> bytes:
    return files("graph").joinpath("sources.ttl").read_bytes()


def examine(content: Mapping[str, bytes]) -> Decoded:
    """Return what the files say together with every row about what is wrong in them."""
    statements = read_statements({"../sources.ttl": _sources(), **content})
    if "release.ttl" not in content:
        statements.rows.append(
            Row(
                ERROR,
                "missing-file",
                "",
                "the file that states the version is missing",
                "release.ttl",
                'add it, with ":release a :Release ; owl:versionInfo ..."',
            )
        )
    return decode(statements)


def fingerprint(content: Mapping[str, bytes]) -> str:
    """Return the SHA-256 of the file contents, each behind its name, in sorted order."""
    digest = hashlib.sha256()
    for name in sorted(content):
        digest.update(f"{name}\0{len(content[name])}\0".encode())
        digest.update(content[name])
    return digest.hexdigest()


def _refusal(rows: Iterable[Row]) -> KnowledgeError:
    """Return the error that carries these rows."""
    issues = [row.issue() for row in rows]
    more = f" (and {len(issues) - 1} more)" if len(issues) > 1 else ""
    return KnowledgeError(f"knowledge refused: {issues[0]}{more}", issues)
