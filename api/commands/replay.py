"""`drypark replay`: cases with a known truth, or cars simulated from the model itself."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from api.commands.output import whole_file, write_json
from api.replay.cases import CaseRank, replay_cases
from api.replay.picture import draw_calibration
from api.replay.report import report_document, show_report
from api.replay.run import Settings, simulate
from api.terminal import Page, Progress, stoppable, unfinished
from triage.errors import DocumentError, ParameterError

__all__ = ["Asked", "run"]

#: Budget of one evaluation for cases that a person named: some seconds.
CASE_WORK = 5e9


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command line says about simulated cars; 0 cars means none."""

    cars: int
    seed: int
    budget: float
    workers: int
    picture: str | None


def run(cases: Sequence[str], truth: str | None, asked: Asked, *, as_json: bool) -> None:
    """Replay named cases, or simulated cars.

    Raises
    ------
    DocumentError
        If both or neither are asked for.
    """
    if bool(cases) == bool(asked.cars):
        raise DocumentError(
            "cases and simulated cars at once" if cases else "nothing to replay",
            where="the arguments",
            allowed="CASES... or --simulate N",
            remedy="give one of the two",
        )
    if cases:
        run_cases(cases, truth=truth, as_json=as_json)
        return
    settings = Settings(asked.cars, asked.seed, asked.budget, asked.workers)
    run_simulated(settings, picture=asked.picture, as_json=as_json)


def run_simulated(settings: Settings, *, picture: str | None, as_json: bool) -> None:
    """Replay simulated cars; text or JSON on standard output, progress on standard error.

    Raises
    ------
    ParameterError
        If a number is out of range.
    DocumentError
        If the picture cannot be written where it should.
    """
    for what, value in (("number of cars", settings.cars), ("number of workers", settings.workers)):
        if value < 1:
            raise ParameterError(what, value, allowed="1 and more", remedy="state more")
    if settings.seed < 0:
        raise ParameterError(
            "start number", settings.seed, allowed="0 and more", remedy="change it"
        )
    if not (math.isfinite(settings.work) and settings.work > 0):
        raise ParameterError("budget", settings.work, allowed="above 0", remedy="state another")
    if picture is not None and not Path(picture).resolve().parent.is_dir():
        raise DocumentError(
            "a folder that is not there",
            where=picture,
            allowed="a file in a folder that exists",
            remedy="make the folder or name another",
        )
    with _counted("no car is counted; nothing was written") as told:
        document = report_document(simulate(settings, lambda k, of, _: told("cars", k, of)))
    if as_json:
        write_json(document)
    else:
        show_report(document, Page())
    if picture is not None and document["counted"]:
        with unfinished("no picture was written"), whole_file(Path(picture)) as part:
            draw_calibration(document, part)


@contextmanager
def _counted(left: str) -> Iterator[Progress]:
    """Yield what says how far it is; Ctrl-C ends it at once, and `left` says what was not done."""
    with unfinished(left), stoppable(left), Progress() as told:
        yield told


def run_cases(names: Sequence[str], *, truth: str | None, as_json: bool) -> None:
    """Rank the truth of named cases.

    Raises
    ------
    TriageError
        If a case or the truth file cannot be read.
    """
    with _counted("not all cases were ranked, so none is shown; nothing was written") as told:
        ranks = replay_cases(names, truth, CASE_WORK, lambda k, of: told("cases", k, of))
    if as_json:
        write_json(
            {
                "format": "drypark-replay-cases/1",
                "what": "cases by authors of links: no accuracy is claimed",
                "cases": [
                    {"case": r.case, "causes": list(r.causes), "rank": r.rank, "skipped": r.skipped}
                    for r in ranks
                ],
            }
        )
    else:
        _show(ranks, Page())


def _show(ranks: Sequence[CaseRank], page: Page) -> None:
    """Write the ranks of named cases."""
    done = [row.rank for row in ranks if row.rank is not None]
    page.heading("Replay", "cases with a stated truth")
    for row in ranks:
        text = row.skipped or f"rank {row.rank:g}: {', '.join(row.causes)}"
        page.item(row.case, f"skipped: {text}" if row.skipped else text, column=10)
    page.gap()
    page.line(
        f"{len(done)} of {len(ranks)} cases ranked, {len(ranks) - len(done)} skipped; a true cause "
        f"stands first in {sum(rank <= 1 for rank in done)}, in the first three in "
        f"{sum(rank <= 3 for rank in done)}."
    )
    page.line(
        "The cases are invented by people who also wrote links: this shows that the tool runs, "
        "no accuracy is claimed."
    )
