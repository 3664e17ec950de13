"""Vehicle facts: review 6.1 as rules, review 6.2 as shares by drive and age."""

from __future__ import annotations

import re

from graph.terms import Fact, FactEffect
from tests.importer.fact_table import ALIASES, FACT_RULES, QUESTIONS, UNSTRUCTURED
from tests.importer.origins import review
from tests.importer.tables import Row, plain, section

__all__ = ["read_facts", "rule_terms"]

#: First words of the rows of review 6.2 -> the drivetrain word of a case.
_DRIVES = {"FWD": "fwd", "RWD car": "rwd", "Pickup / body-on-frame": "4wd", "AWD crossover": "awd"}
_OLDEST = 200  # "16+" years: no car is older


def read_facts(text: dict[str, list[list[Row]]]) -> dict[str, Fact]:
    """Return the facts of review 6.1, with the default shares of 6.2."""
    rules, shares = _rules(), _shares(section(text, "6.2"))
    facts: dict[str, Fact] = {}
    for row in section(text, "6.1"):
        key = row["fact"]
        question, only, effects = rules[key]
        facts[key] = Fact(
            key,
            _sentence(plain(row["meaning"])),
            QUESTIONS[question],
            effects,
            only,
            shares.get(key, {}),
            ALIASES.get(key, ()),
            review("6.1", UNSTRUCTURED.get(key, "")),
        )
    return facts


def rule_terms(fact: Fact) -> set[str]:
    """Return every term that a fact's rules name."""
    effects = {name for effect in fact.effects for name in (effect.term, effect.link_to) if name}
    return effects | set(fact.enables)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _rules() -> dict[str, tuple[str, tuple[str, ...], tuple[FactEffect, ...]]]:
    """Return fact -> (question, terms only such cars have, effects)."""
    rules: dict[str, tuple[str, tuple[str, ...], tuple[FactEffect, ...]]] = {}
    key, question = "", ""
    only: list[str] = []
    effects: list[FactEffect] = []
    for line in [*FACT_RULES.strip().splitlines(), "; ; only:"]:
        if line.startswith("    only:"):
            only += line.split()[1:]
            continue
        if line.startswith(" "):
            effects += _effects(line.strip())
            continue
        if key:
            rules[key] = (question, tuple(only), tuple(effects))
        key, question, terms = (part.strip() for part in line.split(";"))
        only, effects = terms.removeprefix("only:").split(), []
    return rules


def _effects(text: str) -> list[FactEffect]:
    """Return the effects of one rule line."""
    if ">" in text:
        source, _, target, word, value = text.split()
        if word == "x":
            return [FactEffect(source, factor=float(value), link_to=target)]
        return [FactEffect(source, link_to=target, link_strength=float(value))]
    *terms, value = text.split()
    everywhere = next((term[1:] for term in terms if term.startswith("@")), "")
    found = []
    for term in terms:
        if not term.startswith("@"):
            name, _, where = term.partition("@")
            found.append(FactEffect(name, where or everywhere, float(value)))
    return found


def _shares(rows: list[Row]) -> dict[str, dict[tuple[str, int, int], float]]:
    """Return fact -> (drive, from age, to age) -> share of such cars."""
    shares: dict[str, dict[tuple[str, int, int], float]] = {}
    for row in rows:
        known = re.match(r"(.+), (\d+)(?:-(\d+)|\+) years", row["known"])
        if known is None:
            continue  # "nothing known" points to another row; the compiler does that
        drive, low, high = known.groups()
        span = (_DRIVES[drive], int(low), int(high) if high else _OLDEST)
        for fact, share in re.findall(r"(vf-[a-z-]+) ([\d.]+)", row["defaults"]):
            shares.setdefault(fact, {})[span] = float(share.rstrip("."))
    return shares
