"""The invented shop: people and jobs at several stages, in a store that is thrown away.

The one idea: the demo is written through the same door as any job, only with a clock that was
set back; so what it shows is what the program does, and nothing is painted on.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from api.documents import Case, read_case
from api.jobs.desk import Desk
from api.jobs.writing import open_job, write
from api.store.engine import Store
from api.store.events import NewEvent, body_from
from api.store.people import Person
from triage.errors import DocumentError

__all__ = ["SHOP", "DemoClock", "bodies_of_case", "fill", "shop_folder"]

SHOP: Final = "invented-shop"
_TOP = Path(__file__).resolve().parent.parent.parent


@dataclass(slots=True)
class DemoClock:
    """A clock that can be set back while the demo is written; later it goes right."""

    ago: timedelta = field(default_factory=timedelta)

    def __call__(self) -> datetime:
        """Return the time it shows."""
        return datetime.now(UTC) - self.ago


def shop_folder() -> Path:
    """Return the folder of the invented shop.

    Raises
    ------
    DocumentError
        If this is an installation without it.
    """
    folder = _TOP / "fixtures" / "shop"
    if not (folder / "shop.json").exists():
        raise DocumentError(
            "the invented shop is not here",
            where="fixtures/shop",
            allowed="Drypark started from its own folder",
            remedy="start it with python3 drypark.py serve --demo there",
        )
    return folder


def fill(store: Store, desk: Desk, clock: DemoClock, folder: Path | None = None) -> list[str]:
    """Write the invented shop into a store; return the ids of its jobs.

    Parameters
    ----------
    store : new, and opened with `clock`
    folder : that holds shop.json; None = the one of this project
    """
    home = folder or shop_folder()
    told = json.loads((home / "shop.json").read_text(encoding="utf-8"))
    people = {
        row["role"]: store.people.add(SHOP, row["name"], row["role"]) for row in told["people"]
    }
    made = []
    for number, job in enumerate(told["jobs"]):
        steps = list(_steps(job, home.parent / "cases"))
        made.append(_write_job(store, desk, clock, people[job["by"]], (f"demo-{number}", steps)))
    clock.ago = timedelta()
    return made


def _write_job(
    store: Store, desk: Desk, clock: DemoClock, person: Person, told: tuple[str, list[Any]]
) -> str:
    """Write one job; return its id."""
    name, steps = told
    job = ""
    for number, (ago, body) in enumerate(steps):
        clock.ago = timedelta(minutes=ago)
        event = NewEvent(
            id=f"{name}-event-{number:06d}", device_time=clock(), body=body_from(json.dumps(body))
        )
        if job:
            write(store, desk, person, job, (event,))
        else:
            job = open_job(store, desk, person, event).job
    return job


def _steps(job: dict[str, Any], cases: Path) -> Iterator[tuple[float, dict[str, Any]]]:
    """Yield minutes ago and body of each event of a job, in order."""
    if "case" in job:
        case = read_case(cases / f"{job['case']}.json")
        bodies = list(bodies_of_case(case, job["ticket"]))
        for number, body in enumerate(bodies):
            yield job["began"] - min(number, 20) * 0.5, body
    for row in job["events"]:
        yield row["ago"], row["body"]


def bodies_of_case(case: Case, ticket: str) -> Iterator[dict[str, Any]]:
    """Yield the bodies of the events that a case document stands for."""
    plain = case.model_dump(mode="json", by_alias=True)
    yield {
        "kind": "written-up",
        "ticket": ticket,
        "vehicle": plain["vehicle"],
        "context": plain["context"],
        "complaint": plain["complaint"],
    }
    if plain["codes"]:
        yield {"kind": "code-read", "codes": plain["codes"]}
    for finding in plain["findings"]:
        yield {"kind": "finding", "finding": finding}
    for verdict in plain["verdicts"]:
        yield {"kind": "verdict", "verdict": verdict}
