"""Reading the whole source folder into one `Knowledge` value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from graph.terms import Code, Knowledge
from tests.importer.areas import unexplained
from tests.importer.checks import read_checks, read_confounders
from tests.importer.circumstances import read_contexts, read_curves, read_odds_rules
from tests.importer.codes import read_codes
from tests.importer.conditions import read_causes, read_findings, read_states
from tests.importer.facts import read_facts
from tests.importer.failure import (
    FAILURE_DEFAULT,
    read_cause_groups,
    read_code_families,
    read_failure_bytes,
    read_failure_shares,
    read_status_shares,
)
from tests.importer.gates import read_gates
from tests.importer.links import read_links
from tests.importer.repairs import read_repairs, read_setups
from tests.importer.tables import read_sections

__all__ = ["read_knowledge"]


def read_knowledge(folder: Path) -> Knowledge:
    """Return everything the sources in `folder` say, as values.

    Parameters
    ----------
    folder : Path
        Holds ``catalogue.md``, ``review.md``, ``safety.md`` and ``links.csv``.

    Raises
    ------
    FileNotFoundError
        If one of them is missing.
    KeyError
        If a table names something that another table does not define.
    """
    text = read_sections(folder / "catalogue.md")
    second = read_sections(folder / "review.md")
    codes = read_codes(text, second)
    links = read_links(folder, text, second)
    active = [link for link in links if not link.deprecated]
    causes = read_causes(text, second)
    codes = {
        key: replace(code, not_explained_because=unexplained(code, causes, active))
        for key, code in codes.items()
    }
    return Knowledge(
        codes=codes,
        findings=read_findings(text, second),
        states=read_states(text, second),
        causes=causes,
        checks=read_checks(text, second, active).checks,
        setups=read_setups(text),
        repairs=read_repairs(text, second),
        gates=read_gates(read_sections(folder / "safety.md")),
        contexts=read_contexts(second),
        facts=read_facts(second),
        links=links,
        curves=read_curves(second, causes),
        confounders=read_confounders(second),
        cause_groups=read_cause_groups(second),
        code_families=read_code_families(second, _corner_codes(codes)),
        failure_shares=read_failure_shares(second),
        failure_bytes=read_failure_bytes(second),
        status_shares=read_status_shares(second),
        failure_default=FAILURE_DEFAULT,
        odds_rules=read_odds_rules(second),
        version="1",
    )


def _corner_codes(codes: Mapping[str, Code]) -> dict[str, tuple[str, ...]]:
    """Return star family name -> its codes."""
    found: dict[str, tuple[str, ...]] = {}
    for code in codes.values():
        if code.family:
            name = f"{code.family}-*"
            found[name] = (*found.get(name, ()), code.id)
    return found
