"""The shipped knowledge with decision 0011 undone: what the sources stated.

The tests that read the sources compare with this. Only what `differences` lists is
taken back, so an addition that is not listed there shows as a difference.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from graph.terms import Finding, Knowledge, Link, Provenance
from tests.knowledge import differences

__all__ = ["at_first", "number_of"]

_WAS = re.compile(r"was ([\d.]+) \((src-[a-z]+), (.*?)\): ")
_AUTHOR = {"src-catalogue": "ag-first-draft", "src-review": "ag-second-review"}


def number_of(link: Link) -> int:
    """Return the number of a link."""
    return int(link.id.removeprefix("lk-"))


def at_first(knowledge: Knowledge) -> Knowledge:
    """Return the knowledge without what the reading as physics changed."""
    added = differences.FINDINGS_ADDED
    new = differences.CAUSE_ADDED
    return replace(
        knowledge,
        links=tuple(_link(link) for link in knowledge.links if _is_first(link)),
        findings={k: _finding(f) for k, f in knowledge.findings.items() if k not in added},
        causes={key: cause for key, cause in knowledge.causes.items() if key != new},
        checks=_each(knowledge.checks, "detects", differences.CHECKS_EXTENDED),
        repairs=_each(knowledge.repairs, "fixes", differences.REPAIRS_EXTENDED),
        gates=_each(knowledge.gates, "triggers", differences.TRIGGERS_ADDED),
        contexts={key: _context(key, value) for key, value in knowledge.contexts.items()},
        odds_rules=tuple(
            _plain(replace(rule, present=(), replaces=""))
            if rule.id in differences.RULES_READABLE
            else rule
            for rule in knowledge.odds_rules
        ),
        curves=tuple(
            _plain(replace(curve, causes=tuple(c for c in curve.causes if c != new)))
            if new in curve.causes
            else curve
            for curve in knowledge.curves
        ),
    )


def _is_first(link: Link) -> bool:
    return number_of(link) < differences.FIRST_ADDED_LINK


def _link(link: Link) -> Link:
    """Return a link of the sources with their strength, and in use again."""
    if link.id in differences.LINKS_REJECTED:
        return replace(link, deprecated="", replaced_by="")
    if link.id in differences.STRENGTHS_AT_FIRST:
        was = _WAS.match(link.provenance.note)
        assert was, link.id
        source = Provenance("estimate", was[2], _AUTHOR[was[2]], link.provenance.date, was[3])
        strength = differences.STRENGTHS_AT_FIRST[link.id]
        return replace(link, strength=strength, provenance=source)
    return link


def _finding(finding: Finding) -> Finding:
    """Return a finding with the words of the sources."""
    if len(finding.customer_words) == 0:
        return finding
    words = finding.customer_words[: differences.WORDS_AT_FIRST.get(finding.id, 1)]
    return _plain(replace(finding, customer_words=words))  # type: ignore[no-any-return]


def _each(terms: Mapping[str, Any], field: str, which: Any) -> dict[str, Any]:
    """Return terms, those named without the added value of a field."""
    return {
        key: _plain(replace(term, **{field: _without_added(getattr(term, field))}))
        if key in which
        else term
        for key, term in terms.items()
    }


def _without_added(values: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return the values that do not speak of the added cause or of an added finding."""
    return tuple(
        value
        for value in values
        if value != differences.CAUSE_ADDED
        and getattr(value, "target", "") != differences.CAUSE_ADDED
        and not set(getattr(value, "findings", ())) & differences.FINDINGS_ADDED
    )


def _context(key: str, context: Any) -> Any:
    """Return a context with the factors of the sources."""
    added = differences.FACTORS_ADDED.get(key)
    if added is None:
        return context
    return _plain(replace(context, odds={c: v for c, v in context.odds.items() if c not in added}))


def _plain(term: Any) -> Any:
    """Return a term without the remark that the reading left in its note."""
    note = re.sub(r"; [^;]*ag-physics-review.*$", "", term.provenance.note)
    return replace(term, provenance=replace(term.provenance, note=note))
