"""Words for the ids that an answer names.

The one idea: an answer stands by itself, so it carries the words of everything in it.
"""

from __future__ import annotations

from api.answering.prices import kind_of
from api.documents import Answer
from graph.compiled import CompiledCase
from graph.terms import Knowledge

__all__ = ["labels_of", "term_label"]


def labels_of(knowledge: Knowledge, answer: Answer, compiled: CompiledCase) -> dict[str, str]:
    """Return words for every id in the answer."""
    ids = {kind_of(row.id) for row in answer.causes}
    ids |= {kind_of(row.part) for row in answer.sensor_first}
    ids |= {row.id for row in answer.checks} | {row.id for row in answer.while_there}
    ids |= {row.setup for row in answer.checks} | {row.setup for row in answer.while_there}
    ids |= {kind_of(f) for row in answer.checks for f in row.finds}
    ids |= {kind_of(f) for row in answer.while_there for f in row.finds}
    ids |= {row.id for row in answer.gates} | set(answer.intake)
    ids |= {check for row in answer.gates for check in row.closes_on}
    ids |= {kind_of(w.finding) for row in answer.causes for w in row.evidence}
    if answer.why:
        ids |= {kind_of(row.id) for row in answer.why.would_change} | {kind_of(answer.why.cause)}
        ids |= {kind_of(w.finding) for w in answer.why.incremental}
        ids |= {kind_of(row.looks_for) for row in answer.why.would_change if row.looks_for}
        ids |= {kind_of(n) for p in answer.why.paths for x in p.links for n in (x.source, x.target)}
    labels = {}
    for term in sorted(ids):
        label = term_label(knowledge, term)
        if label:
            labels[term] = label
    for item in compiled.items:
        if item.kind == "code":
            for node, _ in item.contributions:
                if node in knowledge.codes:
                    labels[item.key] = f"{item.key} ({knowledge.codes[node].watched})"
                    break
    return labels


def term_label(knowledge: Knowledge, term: str) -> str:
    """Return the words of any term of the knowledge, or nothing."""
    tables = (
        knowledge.causes,
        knowledge.states,
        knowledge.findings,
        knowledge.checks,
        knowledge.setups,
        knowledge.gates,
        knowledge.repairs,
    )
    for table in tables:
        if term in table:
            return str(table[term].label)
    return ""
