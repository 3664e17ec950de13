"""Answers to a few small cases, made once for all tests that look at them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

from api.answering import answer_case
from api.documents import Answer, CaseShop, read_case
from graph.case import CaseInput, VerdictGiven
from graph.load import load_knowledge
from graph.terms import Knowledge

__all__ = ["SHOP", "answer_to", "demo", "knowledge"]

SHOP = CaseShop(labour_per_hour=120, currency="EUR")
#: Verdicts that prove the sensor of the demo case `sensor-really-bad`.
PROOF = (
    VerdictGiven("ck-wss-bias-current", "found", "rf", "rc-wss-sensor-failed", "rf"),
    VerdictGiven("ck-wss-swap-sides", "found", "front", "rc-wss-sensor-failed", "rf"),
)


@cache
def knowledge() -> Knowledge:
    """Return the shipped knowledge."""
    return load_knowledge()


def demo(name: str) -> CaseInput:
    """Return a demo case; `sensor-proven` is `sensor-really-bad` with the proof."""
    if name == "sensor-proven":
        case = demo("sensor-really-bad")
        return replace(case, verdicts=(*case.verdicts, *PROOF))
    return read_case(Path("fixtures/cases") / f"{name}.json").to_input()


@cache
def answer_to(name: str) -> Answer:
    """Return the answer to a demo case."""
    return answer_case(knowledge(), demo(name), case_id=name, shop=SHOP)
