"""What makes "nothing is wrong" likely: rules that move the odds of such causes.

A rule holds when everything it states holds: contexts set, findings seen or answered
as absent, codes there or proven absent. A rule that states nothing a case can say is
for a person and is left alone. A rule may replace a context or a finding that would
otherwise weigh on the same cause a second time: the context then has no factor on that
cause, the finding is left unscored.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from graph.case import CaseInput, CodeRead
from graph.terms import Knowledge, OddsRule
from triage.codes import TroubleCode
from triage.status import Status

__all__ = ["RuleEffects", "holds", "rule_effects"]


@dataclass(slots=True)
class RuleEffects:
    """What the rules that hold change."""

    odds: dict[str, float] = field(default_factory=dict)  # cause id -> factor
    replaced: set[tuple[str, str]] = field(default_factory=set)  # (context or finding, cause)
    because: list[str] = field(default_factory=list)


def rule_effects(knowledge: Knowledge, case: CaseInput) -> RuleEffects:
    """Return the factors of all rules that hold for a case."""
    effects = RuleEffects()
    for rule in knowledge.odds_rules:
        if holds(rule, case):
            effects.odds[rule.cause] = effects.odds.get(rule.cause, 1.0) * rule.factor
            effects.because.append(
                f"{rule.cause}: odds times {rule.factor:g}, because {rule.condition}"
            )
            if rule.replaces:
                effects.replaced.add((rule.replaces, rule.cause))
    return effects


def holds(rule: OddsRule, case: CaseInput) -> bool:
    """Return whether everything that a rule states holds; one that states nothing does not."""
    stated = (rule.contexts, rule.present, rule.present_any, rule.absent, rule.codes)
    if not any(stated):
        return False
    seen = {
        word: {finding.id for finding in case.findings if finding.state == word}
        for word in ("present", "absent")
    }
    return (
        set(rule.contexts) <= set(case.context)
        and set(rule.present) <= seen["present"]
        and (not rule.present_any or bool(set(rule.present_any) & seen["present"]))
        and set(rule.absent) <= seen["absent"]
        and (not rule.codes or _codes_hold(rule.codes, case.codes))
    )


def _codes_hold(word: str, codes: tuple[CodeRead, ...]) -> bool:
    """Return whether a condition on the codes holds."""
    labels = [Status.parse(read.status).label if read.status else "unsaid" for read in codes]
    if word == "none":
        return all(label in ("passed", "not-tested") for label in labels)
    if word == "none-tests-complete":
        return bool(labels) and all(label == "passed" for label in labels)
    return any(
        TroubleCode.parse(read.code).letter == "C"
        and (not read.status or bool(Status.parse(read.status).byte & 0x08))
        for read in codes
    )
