"""`drypark doctor`: whether everything is right that the service needs; as /readyz says it."""

from __future__ import annotations

from api.commands.output import write_json
from api.jobs.health import CheckLine, checks_of, knowledge_line
from api.settings import Settings
from api.store.engine import Store, open_database
from api.store.errors import StoreError
from api.terminal import Page
from graph.load import load_knowledge
from triage.errors import KnowledgeError

__all__ = ["run"]


def run(*, as_json: bool) -> bool:
    """Write a line for each thing; return whether all are right. Nothing is made or changed."""
    lines = _lines(Settings())
    if as_json:
        write_json([{"check": row.check, "ok": row.ok, "says": row.says} for row in lines])
    else:
        page = Page()
        for row in lines:
            page.line(f"{'right' if row.ok else 'WRONG'} {row.check}: {row.says}")
    return all(row.ok for row in lines)


def _lines(settings: Settings) -> list[CheckLine]:
    """Return the lines; what can't be opened at all is a line too."""
    try:
        knowledge = load_knowledge()
    except KnowledgeError as error:
        return [CheckLine("knowledge", False, str(error).splitlines()[0])]
    try:
        store = Store(open_database(settings.url, make=False))
    except StoreError as error:
        return [CheckLine("records", False, str(error)), knowledge_line(knowledge)]
    try:
        return checks_of(settings, store, knowledge)
    finally:
        store.close()
