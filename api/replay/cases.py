"""Practice cases with a known truth, and where the list puts it.

A case document stands beside a truth file, ``{"name": {"causes": ["rc-x@lf"]}}``, by the name of
its file. The cases were written by people who also wrote links, so that no accuracy is claimed:
the ranks show that the tool runs, and where a change of the knowledge moves something.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from api.commands.sources import case_from, know_terms
from api.replay.judge import OverBudgetError, judge
from graph.build import compile_case
from graph.load import load_knowledge
from graph.terms import Knowledge
from triage.errors import DocumentError
from triage.score import first_rank

__all__ = ["CaseRank", "replay_cases"]

TRUTH = "truth.json"


@dataclass(frozen=True, slots=True)
class CaseRank:
    """One case: the rank of its true causes, or why it was skipped."""

    case: str
    causes: tuple[str, ...]
    rank: float | None  # by responsibility; None when skipped
    skipped: str = ""


def replay_cases(
    names: Sequence[str],
    truth: str | None,
    work: float,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> list[CaseRank]:
    """Return the rank of the truth in each case.

    Parameters
    ----------
    names : case files, and folders of them (``*.json`` directly inside, or in ``cases/``)
    truth : truth file; None looks for ``truth.json`` beside or above each case
    work : predicted products of an evaluation above which a case is skipped
    progress : called with (cases done, cases in all) before each case

    Raises
    ------
    DocumentError
        If there is no case, or the truth file cannot be read.
    """
    files = [file for name in names for file in _files(Path(name))]
    if not files:
        raise DocumentError(
            "no case",
            where=", ".join(names),
            allowed="case documents (*.json) or folders that hold them",
            remedy="name at least one",
        )
    knowledge = load_knowledge()
    ranks = []
    for done, file in enumerate(files):
        progress(done, len(files))
        ranks.append(_rank(knowledge, file, truth, work))
    return ranks


def _files(path: Path) -> list[Path]:
    """Return the case files that a name stands for."""
    if not path.is_dir():
        return [path]
    inner = path / "cases" if (path / "cases").is_dir() else path
    return [file for file in sorted(inner.glob("*.json")) if file.name != TRUTH]


def _rank(knowledge: Knowledge, file: Path, truth: str | None, work: float) -> CaseRank:
    """Return the rank of one case."""
    case = case_from(str(file))
    know_terms(str(file), case, knowledge)
    wanted = _truth(file, truth)
    if wanted is None:
        return CaseRank(file.stem, (), None, "no truth is stated for it")
    compiled = compile_case(knowledge, case.to_input())
    unknown = [cause for cause in wanted if cause not in compiled.network.nodes]
    if len(unknown) == len(wanted):
        return CaseRank(file.stem, wanted, None, f"{unknown[0]} is no cause that this car can have")
    try:
        picture = judge(compiled.network, compiled.evidence, work)
    except OverBudgetError:
        return CaseRank(file.stem, wanted, None, f"over the budget of {work:.0e} products")
    scores = dict(zip(compiled.network.causes, picture.r.tolist(), strict=True))
    return CaseRank(file.stem, wanted, first_rank(scores, wanted))


def _truth(file: Path, stated: str | None) -> tuple[str, ...] | None:
    """Return the true causes of a case; None when none are stated."""
    places = [Path(stated)] if stated else [file.parent / TRUTH, file.parent.parent / TRUTH]
    for place in places:
        if place.is_file() or stated:
            entry = _read(place).get(file.stem)
            causes = entry.get("causes") if isinstance(entry, dict) else None
            return tuple(causes) if causes else None
    return None


def _read(path: Path) -> dict[str, Any]:
    """Return a truth file."""
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise DocumentError(
            f"an unreadable truth file ({error})",
            where=str(path),
            allowed='{"case name": {"causes": ["rc-...@lf"]}}',
            remedy="name a readable one with --truth",
        ) from None
    if not isinstance(document, dict):
        raise DocumentError(
            "a truth file that is no object",
            where=str(path),
            allowed='{"case name": {"causes": ["rc-...@lf"]}}',
            remedy="correct it",
        )
    return document
