"""What must be right for the service to do its work.

The one idea: each look gives one line, and a look that fails is a line too, never an exception.
Nothing here says where a file lies: the lines can be read by anybody on the shop's network.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from api.settings import Settings
from api.store.engine import Store
from graph.terms import Knowledge

__all__ = ["CheckLine", "backup_line", "checks_of", "knowledge_line"]

_DAY: Final = 86400.0


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One thing that must be right.

    Attributes
    ----------
    check : its name
    ok : whether it is
    says : one sentence
    """

    check: str
    ok: bool
    says: str


def checks_of(settings: Settings, store: Store, knowledge: Knowledge) -> list[CheckLine]:
    """Return a line for each thing that must be right."""
    return [
        *(CheckLine(*row) for row in store.ready()),
        knowledge_line(knowledge),
        *backup_line(settings),
    ]


def knowledge_line(knowledge: Knowledge) -> CheckLine:
    """Say which knowledge is in force; it was checked when it was loaded."""
    return CheckLine(
        "knowledge",
        bool(knowledge.checks and knowledge.links),
        f"version {knowledge.version}, {len(knowledge.checks)} checks and {len(knowledge.links)} "
        f"links, valid when it was loaded, sha256 {knowledge.sha256[:12]}",
    )


def backup_line(settings: Settings) -> Iterator[CheckLine]:
    """Say how old the last backup is; nothing where none is asked for."""
    if settings.demo or not settings.backup_days or settings.database_url:
        return
    made = [path.stat().st_mtime for path in (settings.data / "backups").glob("*")]
    if not made:
        yield CheckLine("backup", False, "there is no backup yet; make one with drypark backup")
        return
    days = (time.time() - max(made)) / _DAY
    says = f"the last backup is {days:.1f} days old"
    late = days > settings.backup_days
    if late:
        says += f", more than {settings.backup_days}; make one with drypark backup"
    yield CheckLine("backup", not late, says)
