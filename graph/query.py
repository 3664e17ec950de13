"""SPARQL over the knowledge, read-only and fenced in.

A query is a program that a stranger wrote. So: at most 4 kB of it; nothing that writes,
reaches out or names another data set; no escapes that could hide such a word; and it runs
in a process of its own (`graph.query_worker`) that has two seconds, a bounded memory and
no way to open a file or a socket. What takes longer is ended from outside. An answer
has at most 1,000 rows, and says so when it was cut.
"""

from __future__ import annotations

import json
import queue
import re
import subprocess
import sys
import threading
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from importlib.resources import as_file, files
from types import TracebackType
from typing import IO, Any

from graph.load import shipped_folder
from graph.namespaces import PREFIXES, compact, term_of
from graph.triples import Folder, turtle_files
from triage.errors import DocumentError

__all__ = ["TEXT_LIMIT", "Limits", "Queries", "QueryStoppedError", "Table", "check_text"]

#: Largest query, in bytes of UTF-8.
TEXT_LIMIT = 4096
_MEGABYTE = 1_048_576
#: What a word may stand in without meaning anything to the query language (SPARQL 1.1, 19.8).
_TOKEN = re.compile(
    r"""(?P<skip>
      <[^<>"{}|^`\\\x00-\x20]*>                        # an IRI
    | '''(?:(?:'|'')?(?:[^'\\]|\\.))*'''
    | \"\"\"(?:(?:\"|\"\")?(?:[^\"\\]|\\.))*\"\"\"
    | '(?:[^'\\\n\r]|\\.)*' | \"(?:[^\"\\\n\r]|\\.)*\"
    | \#[^\n\r]*                                       # a comment
    | [?$@]\w[\w-]*                                    # a variable, a language
    | [\w.-]*:(?:[\w.:%-]|\\.)*                        # a prefixed name, a blank node
    )|(?P<word>\w+)|(?P<other>.)""",
    re.VERBOSE | re.DOTALL,
)
_FORBIDDEN: Mapping[str, str] = {
    "SERVICE": "nothing outside the knowledge is asked",
    "FROM": "there is one graph, the knowledge",
    **dict.fromkeys(
        ("LOAD", "INSERT", "DELETE", "CLEAR", "DROP", "CREATE", "ADD", "MOVE", "COPY"),
        "the knowledge is changed by a proposal, never by a query",
    ),
}
_ALLOWED = "SELECT, ASK, CONSTRUCT, DESCRIBE"


@dataclass(frozen=True, slots=True)
class Limits:
    """What one query may cost."""

    text: int = TEXT_LIMIT  # bytes of UTF-8
    rows: int = 1000
    seconds: float = 2.0
    memory: int = 1024 * _MEGABYTE  # bytes of address space, where the system can limit it
    start_seconds: float = 60.0  # until the process has loaded the knowledge


@dataclass(frozen=True, slots=True)
class Table:
    """The answer to a query.

    `rows` holds cells as the SPARQL 1.1 results format says them (``type``, ``value``,
    ``datatype``, ``xml:lang``), None where a variable is not bound. For ASK there are no
    rows and `boolean` is set. `cut` is "", "rows" or "text": what it was cut at.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[Mapping[str, str] | None, ...], ...]
    boolean: bool | None = None
    cut: str = ""

    def texts(self) -> tuple[tuple[str, ...], ...]:
        """Return the rows as people read them: own ids bare, other IRIs with their prefix."""
        return tuple(tuple(_text(cell) for cell in row) for row in self.rows)

    def document(self) -> dict[str, Any]:
        """Return the answer in the form of the SPARQL 1.1 query results JSON format."""
        if self.boolean is not None:
            return {"head": {}, "boolean": self.boolean}
        bindings = [
            {name: cell for name, cell in zip(self.columns, row, strict=True) if cell}
            for row in self.rows
        ]
        return {"head": {"vars": list(self.columns)}, "results": {"bindings": bindings}}


class QueryStoppedError(DocumentError):
    """A query needed more time or memory than it may have, and was ended."""


def check_text(text: str, limit: int = TEXT_LIMIT) -> None:
    """Refuse a query that is too long, or that holds a word or escape that is not allowed.

    Raises
    ------
    DocumentError
        It says which word, and what to do.

    Examples
    --------
    >>> check_text("SELECT ?service { ?service :from 'FROM here' } # no LOAD")
    """
    size = len(text.encode("utf-8", "surrogatepass"))
    if size > limit:
        raise _refused(f"{size} bytes of text", f"{limit} bytes", "ask a shorter question")
    if re.search(r"\\[uU]", text):
        raise _refused(
            "an escaped character (\\u)", "characters as they are", "write the character itself"
        )
    for token in _TOKEN.finditer(text):
        word = (token["word"] or "").upper()
        if word in _FORBIDDEN:
            raise _refused(f"the word {word} ({_FORBIDDEN[word]})", _ALLOWED, "leave it out")


class Queries:
    """A process that answers queries, one at a time; ended and started anew when one runs away.

    Parameters
    ----------
    folder : path, optional
        Knowledge folder; default: the shipped one. Its files are read once, at the start.
    limits : Limits

    Examples
    --------
    >>> with Queries() as queries:
    ...     queries.ask("SELECT ?part { :dtc-sas-signal :namesPart ?part }").columns
    ('part',)
    """

    def __init__(self, folder: Folder | None = None, limits: Limits | None = None) -> None:
        content = turtle_files(shipped_folder() if folder is None else folder)
        sources = files("graph").joinpath("sources.ttl").read_bytes()
        self.limits = limits or Limits()
        self._setup = {
            "files": [text.decode("utf-8") for text in (sources, *content.values())],
            "prefixes": dict(PREFIXES),
            "limits": asdict(self.limits),
        }
        self._process: subprocess.Popen[str] | None = None
        self._answers: queue.Queue[str] = queue.Queue()
        self._turn = threading.Lock()

    def __enter__(self) -> Queries:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def ask(self, text: str) -> Table:
        """Return the answer to a query; the prefixes of the knowledge files are known.

        Raises
        ------
        DocumentError
            If it is no query, or one that is not allowed.
        QueryStoppedError
            If it took too long or needed too much memory.
        """
        check_text(text, self.limits.text)
        with self._turn:
            if self._process is None or self._process.poll() is not None:
                self._start()
            answer = self._exchange(text, self.limits.seconds)
        if "wrong" in answer:
            raise _refused(answer["wrong"], _ALLOWED, "correct the query")
        if "stopped" in answer:
            raise self._stopped(answer["stopped"])
        return Table(
            tuple(answer.get("columns", ())),
            tuple(tuple(row) for row in answer.get("rows", ())),
            answer.get("boolean"),
            answer.get("cut", ""),
        )

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            for pipe in (self._process.stdin, self._process.stdout):
                if pipe is not None:
                    _close_quietly(pipe)
            self._process = None

    def _start(self) -> None:
        """Start the process and wait until it has loaded the knowledge."""
        self.close()
        self._answers = queue.Queue()
        with as_file(files("graph").joinpath("query_worker.py")) as script:
            self._process = subprocess.Popen(  # noqa: S603 - our own script, no shell
                [sys.executable, "-I", str(script)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                encoding="utf-8",
            )
            assert self._process.stdout is not None
            reader = threading.Thread(
                target=_read_lines, args=(self._process.stdout, self._answers), daemon=True
            )
            reader.start()
            answer = self._exchange(self._setup, self.limits.start_seconds)
        if "ready" not in answer:
            raise QueryStoppedError(
                "the process that answers queries did not start",
                where="graph/query_worker.py",
                allowed=f"{self.limits.start_seconds:g} seconds",
                remedy="try again; if it stays so, look at the installation",
            )

    def _exchange(self, message: object, seconds: float) -> dict[str, Any]:
        """Send a message and return the answer; end the process when there is none in time."""
        assert self._process is not None
        assert self._process.stdin is not None
        try:
            self._process.stdin.write(json.dumps(message) + "\n")
            self._process.stdin.flush()
            line = self._answers.get(timeout=seconds)
        except queue.Empty:
            self.close()
            return {"stopped": "time"}
        except OSError:
            line = ""
        if not line:  # it died: nothing but its limits can have done that
            self.close()
            return {"stopped": "memory"}
        told: dict[str, Any] = json.loads(line)
        return told

    def _stopped(self, why: str) -> QueryStoppedError:
        """Return the error about a query that was ended."""
        limit = (
            f"{self.limits.seconds:g} seconds"
            if why == "time"
            else f"{self.limits.memory // _MEGABYTE} MB of memory"
        )
        return QueryStoppedError(
            f"the query needed more {why} than it may have and was ended",
            where="the query",
            allowed=limit,
            remedy="join fewer patterns, or narrow them",
        )


def _read_lines(pipe: IO[str], answers: queue.Queue[str]) -> None:
    """Hand on what the process says; an empty line when it says nothing any more."""
    try:
        for line in pipe:
            answers.put(line)
    except (OSError, ValueError):  # the pipe was closed under our hands: the process was ended
        pass
    answers.put("")


def _close_quietly(pipe: IO[str]) -> None:
    """Close a pipe whose other end may be gone with something still unsent."""
    try:
        pipe.close()
    except OSError:
        return


def _refused(what: str, allowed: str, remedy: str) -> DocumentError:
    """Return the error about a query that is not allowed."""
    return DocumentError(what, where="the query", allowed=allowed, remedy=remedy)


def _text(cell: Mapping[str, str] | None) -> str:
    """Return a cell as people read it."""
    if cell is None:
        return ""
    if cell["type"] == "uri":
        return term_of(cell["value"]) or compact(cell["value"])
    return cell["value"]
