"""`drypark knowledge stats`: the knowledge in numbers, and the links that matter most."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import api
from api.commands.output import write_json
from api.commands.sources import case_from, know_terms, knowledge_folder
from api.terminal import Page, Progress, stoppable, unfinished
from api.terminal.table import show_table
from graph.case import CaseInput
from graph.load import load_knowledge
from graph.sensitivity import STEP, LinkWeight, Sensitivity, sensitivity
from graph.statistics import BASES, Coverage, Statistics, statistics
from graph.terms import Knowledge
from triage.errors import DocumentError

__all__ = ["SHOWN", "run"]

#: How many links are shown.
SHOWN = 20
#: The practice cases, where the project's own folder is at hand.
PRACTICE = Path(api.__file__).parents[1] / "fixtures" / "practice" / "cases"


def run(folder: str | None, cases: str | None, *, quick: bool, as_json: bool) -> None:
    """Write the statistics; the weight of links only where there are cases, and time.

    Parameters
    ----------
    folder : knowledge folder; None: the shipped one
    cases : folder of case documents; None: the practice cases
    quick : leave the weight of links out

    Raises
    ------
    KnowledgeError, DocumentError
        If knowledge or cases cannot be read.
    """
    knowledge = load_knowledge(knowledge_folder(folder))
    seen = statistics(knowledge)
    weights = None if quick else _weights(knowledge, cases)
    if as_json:
        write_json(_document(seen, weights))
        return
    page = Page()
    _show(seen, page)
    if weights is not None:
        _show_weights(weights, page)


def _weights(knowledge: Knowledge, name: str | None) -> Sensitivity | None:
    """Return the links by weight; None where there are no cases to weigh them on."""
    if name is None and not PRACTICE.is_dir():
        _tell("no practice cases are installed here, so no link is weighed; name some: --cases")
        return None
    found = _cases(PRACTICE if name is None else Path(name), knowledge)
    left = "the links were not weighed; nothing was changed (--quick leaves that out)"
    with unfinished(left), stoppable(left), Progress() as told:
        told("weighing links by cases", 0, len(found))
        return sensitivity(
            knowledge, found, progress=lambda k, of: told("weighing links by cases", k, of)
        )


def _cases(folder: Path, knowledge: Knowledge) -> Mapping[str, CaseInput]:
    """Return the cases of a folder by name."""
    paths = sorted(folder.glob("*.json")) if folder.is_dir() else []
    if not paths:
        raise DocumentError(
            "there is no case",
            where=str(folder),
            allowed="a folder of case documents named *.json",
            remedy="correct the name",
        )
    found = {}
    for path in paths:
        case = case_from(str(path))
        know_terms(str(path), case, knowledge)
        found[path.stem] = case.to_input()
    return found


def _tell(sentence: str) -> None:
    """Write a remark beside the results."""
    sys.stderr.write(f"drypark: {sentence}\n")


def _show(seen: Statistics, page: Page) -> None:
    """Write counts, coverage and strengths."""
    page.line(f"Knowledge {seen.version}, SHA-256 {seen.sha256[:16]}", style="bold")
    page.heading("How much, and what it rests on")
    show_table(page, ["", "terms", *BASES.values()], _basis_rows(seen), numbers=range(1, 6))
    page.line(
        f"{seen.counts['Link']} links in use, {seen.reviewed} of them reviewed; "
        f"{seen.deprecated} rejected ones stay on record and are counted above"
    )
    heads = ["", "codes", "findings", "causes", "checks", "repairs"]
    page.heading("Families of codes", "causes that lead there, and what bears on those")
    show_table(page, heads, (_coverage_row(row) for row in seen.by_code), numbers=range(1, 6))
    page.heading("Areas of causes", "what they lead to, and what bears on them")
    show_table(
        page,
        [*heads, "no check", "no repair"],
        (
            (*_coverage_row(row), str(len(row.no_check)), str(len(row.no_repair)))
            for row in seen.by_cause
        ),
        numbers=range(1, 8),
    )
    page.line("No check: causes that are only found by what they lead to. --json names them.")
    page.heading("Strengths of the links in use")
    show_table(page, ["strength", "links", ""], _histogram_rows(seen, page), numbers=[1])


def _basis_rows(seen: Statistics) -> list[list[str]]:
    """Return a row for each kind, and one for all."""
    rows = [
        [name, str(sum(row.values())), *(str(row.get(basis, 0)) for basis in BASES)]
        for name, row in seen.bases.items()
    ]
    total = sum(sum(row.values()) for row in seen.bases.values())
    shares = [f"{100 * seen.share(basis):.1f} %" for basis in BASES]
    return [*rows, ["all", str(total), *shares]]


def _coverage_row(row: Coverage) -> tuple[str, ...]:
    """Return one row of coverage."""
    numbers = (row.codes, row.findings, row.causes, row.checks, row.repairs)
    return (row.group, *map(str, numbers))


def _histogram_rows(seen: Statistics, page: Page) -> list[list[str]]:
    """Return a row for each tenth, with a bar."""
    most = max(*seen.strengths, 1)
    mark = page.block("█", "#")
    return [
        [f"{k / 10:.1f} to {(k + 1) / 10:.1f}", str(count), mark * round(40 * count / most)]
        for k, count in enumerate(seen.strengths)
    ]


def _show_weights(weights: Sensitivity, page: Page) -> None:
    """Write the links that matter most."""
    page.heading("The links that matter most")
    page.line(
        f"How far the log odds of the leading cause move, in decibans, when the strength goes up "
        f"one step of {STEP:g} in log odds; first order, mean size over {len(weights.cases)} cases"
    )
    if weights.left_out:
        page.line(f"Left out, too wide or without an answer: {', '.join(weights.left_out)}")
    show_table(
        page,
        ["link", "from", "to", "strength", "mean", "most", "in case", "cases"],
        (_weight_row(row) for row in weights.links[:SHOWN]),
        numbers=(3, 4, 5, 7),
    )


def _weight_row(row: LinkWeight) -> list[str]:
    """Return one link."""
    link = row.link
    figures = [f"{link.strength:g}", f"{row.mean:.3f}", f"{row.largest:+.2f}"]
    return [link.id, link.source, link.target, *figures, row.case, str(row.cases)]


def _document(seen: Statistics, weights: Sensitivity | None) -> dict[str, Any]:
    """Return everything as a plain document."""
    return {
        "knowledge": {"version": seen.version, "sha256": seen.sha256},
        "counts": dict(seen.counts),
        "deprecated_links": seen.deprecated,
        "reviewed_links": seen.reviewed,
        "bases": {name: dict(row) for name, row in seen.bases.items()},
        "shares": {basis: seen.share(basis) for basis in BASES},
        "sources": dict(seen.sources),
        "codes": [_coverage_document(row) for row in seen.by_code],
        "causes": [_coverage_document(row) for row in seen.by_cause],
        "strengths": list(seen.strengths),
        "links": None if weights is None else _weights_document(weights),
    }


def _coverage_document(row: Coverage) -> dict[str, Any]:
    """Return one area."""
    return {name: getattr(row, name) for name in Coverage.__slots__}


def _weights_document(weights: Sensitivity) -> dict[str, Any]:
    """Return the links by weight, all of them."""
    return {
        "step_log_odds": STEP,
        "cases": list(weights.cases),
        "left_out": list(weights.left_out),
        "by_weight": [
            {
                "id": row.link.id,
                "from": row.link.source,
                "to": row.link.target,
                "strength": row.link.strength,
                "mean_decibans": row.mean,
                "largest_decibans": row.largest,
                "case": row.case,
                "cause": row.cause,
                "cases": row.cases,
            }
            for row in weights.links
        ],
    }
