"""A knowledge small enough to work out by hand, for tests of the compiler."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, TypeVar

from graph.terms import (
    Cause,
    Check,
    Code,
    Detects,
    Finding,
    Knowledge,
    Link,
    State,
)

__all__ = ["by_id", "cause", "check", "code", "finding", "link", "small", "state"]

Term = TypeVar("Term")


def by_id(terms: Iterable[Term]) -> dict[str, Term]:
    """Return terms by their id."""
    return {term.id: term for term in terms}  # type: ignore[attr-defined]


def cause(key: str, scope: str = "vehicle", base: float = 0.1, **more: Any) -> Cause:
    """Return a cause with one base rate for all roads unless told otherwise."""
    rates = {"base_salted": base, "base_dry": base, **more}
    return Cause(key, key, "", scope, "S1", **rates)


def state(key: str, scope: str = "vehicle", leak: float = 0.0) -> State:
    """Return a state."""
    return State(key, key, "", scope, leak=leak)


def finding(key: str, scope: str = "vehicle", **more: Any) -> Finding:
    """Return a finding."""
    return Finding(key, key, scope, **more)


def code(key: str, notation: str, **more: Any) -> Code:
    """Return a code of the whole vehicle, current layout only, unless told otherwise."""
    rest = {"earlier": (), "place": "vehicle", "family": "", "failure_family": "", **more}
    return Code(
        key, notation, confidence="H", group="", watched="", mechanical="", electrical="", **rest
    )


def link(source: str, reach: str, target: str, strength: float = 0.5, key: str = "") -> Link:
    """Return a link."""
    return Link(key or f"lk-{source}-{target}-{reach}", source, reach, target, strength, "why")


def check(key: str, per: str = "vehicle", kind: str = "located", *shows: Detects) -> Check:
    """Return a check of five minutes."""
    return Check(key, key, "su-walk", 5.0, kind, per, "how", detects=shows)


def small(links: Iterable[Link], *terms: object, **more: Any) -> Knowledge:
    """Return the knowledge of some terms and links."""
    kinds: dict[type, list[Any]] = {Cause: [], State: [], Finding: [], Code: [], Check: []}
    for term in terms:
        kinds[type(term)].append(term)
    empty: dict[str, Any] = {"setups": {}, "repairs": {}, "gates": {}, "contexts": {}, "facts": {}}
    made = Knowledge(
        codes=by_id(kinds[Code]),
        findings=by_id(kinds[Finding]),
        states=by_id(kinds[State]),
        causes=by_id(kinds[Cause]),
        checks=by_id(kinds[Check]),
        links=tuple(links),
        **empty,
    )
    return replace(made, **more)
