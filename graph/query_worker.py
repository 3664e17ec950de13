"""The process that answers queries: it holds one store and nothing else of the project.

Started by `graph.query` as a plain script in an isolated interpreter. It speaks JSON, a
line a message, on standard input and output. First message: the Turtle text and the
limits. Each further one: a query; the answer is a table or a sentence that says why not.

Three locks, each enough by itself against reaching out: the algebra of a query is
searched for SERVICE and for a dataset clause before it runs; a store is only ever asked,
never updated; and once the store is loaded no file or socket can be opened any more,
because no further descriptor is allowed (where the system knows such limits).
"""

from __future__ import annotations

import json
import signal
import sys
from collections.abc import Iterator
from typing import Any

import pyoxigraph as ox
from rdflib.plugins.sparql import prepareQuery
from rdflib.plugins.sparql.parserutils import CompValue

try:
    import resource
except ImportError:  # Windows: the parent's clock is the only limit there
    resource = None  # type: ignore[assignment]

__all__ = ["main", "refusal"]

#: Characters of one cell, and of all cells of an answer together.
CELL_LIMIT, TEXT_LIMIT = 4_000, 2_000_000
_WARM_UP = (
    "PREFIX : <x:> SELECT ?a (COUNT(?b) AS ?n) { ?a :p+ ?b FILTER(REGEX(?b, 'x')) } GROUP BY ?a"
)


def main() -> None:
    """Answer queries until standard input ends."""
    setup = json.loads(sys.stdin.readline())
    store = ox.Store()
    for text in setup["files"]:
        store.bulk_load(text.encode("utf-8"), format=ox.RdfFormat.TURTLE)
    limits = setup["limits"]
    answer(store, _WARM_UP, setup["prefixes"], limits)
    _close_the_doors(limits["memory"])
    _say({"ready": len(store)})
    for line in sys.stdin:
        _set_alarm(limits["seconds"] + 1.0)
        _say(answer(store, json.loads(line), setup["prefixes"], limits))
        _set_alarm(0.0)


def answer(
    store: ox.Store, text: str, prefixes: dict[str, str], limits: dict[str, Any]
) -> dict[str, Any]:
    """Return the answer to a query: columns and rows, or what is wrong with it."""
    try:
        wrong = refusal(text, prefixes)
        if wrong:
            return {"wrong": wrong}
        return _table(store.query(text, prefixes=prefixes), limits["rows"])
    except MemoryError:
        return {"stopped": "memory"}
    except RecursionError:
        return {"wrong": "the query is nested too deeply"}
    except Exception as error:
        return {"wrong": " ".join(str(error).split()) or type(error).__name__}


def refusal(text: str, prefixes: dict[str, str]) -> str:
    """Return why a query must not run, "" when it may; parsing errors are raised.

    Examples
    --------
    >>> refusal("ASK { FILTER EXISTS { SERVICE SILENT <x:y> { ?a ?b ?c } } }", {})
    'SERVICE is not allowed: nothing outside the knowledge is asked'
    >>> refusal("ASK { ?a ?b ?c }", {})
    ''
    """
    query = prepareQuery(text, initNs=prefixes)
    for part in _parts(query.algebra):
        if part.name == "ServiceGraphPattern":
            return "SERVICE is not allowed: nothing outside the knowledge is asked"
        if dict.get(part, "datasetClause"):  # its own get() means something else
            return "FROM is not allowed: there is one graph, the knowledge"
    return ""


def _parts(value: Any) -> Iterator[CompValue]:
    """Yield every node of an algebra."""
    stack = [value]
    while stack:
        part = stack.pop()
        if isinstance(part, CompValue):
            yield part
        if isinstance(part, dict):
            stack.extend(part.values())
        elif isinstance(part, (list, tuple, set, frozenset)):
            stack.extend(part)


def _table(results: Any, row_limit: int) -> dict[str, Any]:
    """Return results as a table, cut where it grows too long."""
    if isinstance(results, ox.QueryBoolean):
        return {"boolean": bool(results)}
    if isinstance(results, ox.QueryTriples):
        columns = ["subject", "predicate", "object"]
        cells: Iterator[list[Any]] = ([t.subject, t.predicate, t.object] for t in results)
    else:
        columns = [variable.value for variable in results.variables]
        cells = (list(solution) for solution in results)
    rows: list[list[Any]] = []
    size, cut = 0, ""
    for row in cells:
        if len(rows) == row_limit:
            cut = "rows"
            break
        told = [_cell(value) for value in row]
        size += sum(len(cell["value"]) for cell in told if cell)
        if size > TEXT_LIMIT:
            cut = "text"
            break
        rows.append(told)
    return {"columns": columns, "rows": rows, "cut": cut}


def _cell(value: Any) -> dict[str, str] | None:
    """Return a term as the SPARQL 1.1 results format says it; a long one is cut."""
    if value is None:
        return None
    if isinstance(value, ox.NamedNode):
        return {"type": "uri", "value": _short(value.value)}
    if isinstance(value, ox.BlankNode):
        return {"type": "bnode", "value": _short(value.value)}
    if not isinstance(value, ox.Literal):
        return {"type": "literal", "value": _short(str(value))}
    cell = {"type": "literal", "value": _short(value.value)}
    if value.language:
        cell["xml:lang"] = value.language
    elif value.datatype.value != "http://www.w3.org/2001/XMLSchema#string":
        cell["datatype"] = value.datatype.value
    return cell


def _short(text: str) -> str:
    """Return a text that is not longer than a cell may be."""
    return text if len(text) <= CELL_LIMIT else f"{text[:CELL_LIMIT]}..."


def _close_the_doors(memory: int) -> None:
    """Allow no further memory beyond the limit and no further file or socket."""
    if resource is not None:
        for kind, limit in ((resource.RLIMIT_AS, memory), (resource.RLIMIT_NOFILE, 0)):
            try:
                resource.setrlimit(kind, (limit, limit))
            except (ValueError, OSError):  # a system that knows the limit but cannot set it
                continue


def _set_alarm(seconds: float) -> None:
    """Have the system end this process, should the parent not be there to do it."""
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, seconds)


def _say(message: dict[str, Any]) -> None:
    """Write one message."""
    sys.stdout.write(json.dumps(message) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
