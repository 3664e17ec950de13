"""Knowledge made for the tests of the format: a sample of every field, and arbitrary ones.

All of it is invented; it need not make sense, it only has to come back unchanged.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from hypothesis import strategies as st

from graph.kinds import KINDS, PROVENANCE
from graph.schema import Field, Kind, Part
from graph.terms import (
    Cause,
    CauseGroup,
    Check,
    Code,
    CodeFamily,
    Confounder,
    Context,
    Curve,
    Detects,
    Fact,
    FactEffect,
    FailureByte,
    FailureShare,
    Finding,
    Gate,
    GateTrigger,
    Knowledge,
    Link,
    OddsRule,
    Provenance,
    Repair,
    Setup,
    State,
    StatusShare,
)

__all__ = ["any_knowledge", "sample"]

_ORIGIN = Provenance("published", "src-review", "ag-second-review", "2026-01-31", 'p. "3"\n\\ é')


def sample() -> Knowledge:
    """Return knowledge in which every field says something other than its default."""
    trigger = GateTrigger(
        ("sy-hum", "st-x"),
        ("cx-a",),
        ("dtc-wss-*", "dtc-wss-lf"),
        ("rc-a",),
        "st-x",
        0.2,
        ("vf-a",),
        8.0,
        True,
        "none",
        "why",
    )
    effect = FactEffect("dtc-wss-*", "front", 0.5, "rc-a", 0.0)
    link = Link("lk-0001", "rc-a", "front>same-corner", "dtc-wss-*", 0.95, "m", 7.5, "reviewed")
    tenths = (0.1,) * 10
    return Knowledge(
        codes={
            "dtc-wss-lf": Code(
                "dtc-wss-lf",
                "C0031",
                ("C0035", "C0036"),
                "H",
                "wheel-speed",
                "signal",
                "loose",
                "open",
                "lf",
                "dtc-wss",
                "wss",
                "rc-a",
                0.002,
                _ORIGIN,
                "nobody knows",
            )
        },
        findings={
            "sy-hum": Finding(
                "sy-hum", "hum", "vehicle", ("growl", "drone"), "d", "noise", 0.02, 0.03, "choice"
            ),
            "sy-hum-left": Finding(
                "sy-hum-left", "left", "axle", specific_of="sy-hum", provenance=_ORIGIN
            ),
        },
        states={"st-x": State("st-x", "x", "d", "corner", "dial", 0.1, "sg-a", _ORIGIN, "hub")},
        causes={
            "rc-a": Cause(
                "rc-a",
                "a",
                "d",
                "corner",
                "S2",
                "major",
                "5.1.3 a",
                0.02,
                1e-5,
                0.3,
                True,
                True,
                _ORIGIN,
                "hub",
                "mechanical",
            )
        },
        checks={
            "ck-a": Check(
                "ck-a",
                "a",
                "su-a",
                4.0,
                "located",
                "corner",
                "how",
                "tools",
                "outcome",
                "limit",
                "fooled",
                "caution",
                (Detects("st-x", 0.7, 0.9), Detects("rc-a", 0.6, 0.8, "n")),
                0.1,
                _ORIGIN,
            )
        },
        setups={"su-a": Setup("su-a", "a", 1, True, {"su-a": 2.5}, _ORIGIN)},
        repairs={
            "rp-a": Repair(
                "rp-a", "a", ("rc-a", "st-x"), ("AL", "RT"), 0.1, 0.2, 10, "note", _ORIGIN
            )
        },
        gates={
            "sg-a": Gate(
                "sg-a",
                "a",
                "none",
                "work",
                (trigger, GateTrigger(codes=("dtc-wss-lf",))),
                ("ck-a",),
                "how",
                "law",
                True,
                ("rp-a", "ck-a"),
                _ORIGIN,
            )
        },
        contexts={"cx-a": Context("cx-a", "a", {"rc-a": 3.0}, _ORIGIN)},
        facts={
            "vf-a": Fact(
                "vf-a",
                "a",
                "q",
                (effect, FactEffect("rc-a", factor=1.5)),
                ("rc-a", "dtc-wss-*"),
                {("fwd", 0, 8): 0.95, ("fwd", 9, 15): 0.5},
                ("vf-b",),
                _ORIGIN,
            )
        },
        links=(
            dataclasses.replace(link, provenance=_ORIGIN),
            Link(
                "lk-0002",
                "st-x",
                "global",
                "sy-hum",
                0.5,
                "m",
                deprecated="was wrong",
                replaced_by="lk-0001",
            ),
        ),
        curves=(
            Curve(
                "cv-a",
                "age",
                ("rc-a",),
                (3.0, float("inf")),
                (1.0, 2.0),
                (0.5, 1.0),
                True,
                _ORIGIN,
            ),
        ),
        confounders=(Confounder("cf-a", "r", ("ck-a",), 10.0, _ORIGIN),),
        cause_groups={"fg-a": CauseGroup("fg-a", ("rc-a",))},
        code_families={"wss": CodeFamily("wss", ("dtc-wss-lf",))},
        failure_shares=(FailureShare("fg-a", "wss", tenths, _ORIGIN),),
        failure_bytes=(
            FailureByte("07", "any", {"rc-a": 4.0}, 0.5, "note", _ORIGIN),
            FailureByte("1F", "wss", {"rc-a": 4.0}),
        ),
        status_shares=(StatusShare("ss-a", ("rc-a",), {"pending": 0.5}, _ORIGIN),),
        failure_default=tenths,
        failure_exponent=0.75,
        odds_rules=(
            OddsRule(
                "or-01",
                "rc-a",
                2.0,
                "c",
                ("cx-a",),
                ("sy-hum",),
                ("st-x",),
                ("sy-hum-left",),
                "none",
                "cx-a",
                _ORIGIN,
            ),
        ),
        version="sample-1",
    )


def any_knowledge() -> st.SearchStrategy[Knowledge]:
    """Return arbitrary knowledge: two terms of every kind, every field anything legal."""
    held: dict[str, st.SearchStrategy[Any]] = {}
    for kind in KINDS:
        values = st.tuples(*(_value(kind, term) for term in _ids(kind)))
        is_tuple = kind.attribute not in _MAPPINGS
        held[kind.attribute] = values if is_tuple else values.map(_by_id)
    return st.builds(Knowledge, **held, version=st.text(max_size=8))


_MAPPINGS = {
    field.name for field in dataclasses.fields(Knowledge) if str(field.type).startswith("Mapping")
}


def _by_id(values: tuple[Any, ...]) -> Mapping[str, Any]:
    """Return values by their id."""
    return {value.id: value for value in values}


def _ids(kind: Kind) -> tuple[str, ...]:
    """Return the ids that terms of a kind have; one where the id is made from the value."""
    return (f"{kind.prefix}a",) if kind.id_of else (f"{kind.prefix}a", f"{kind.prefix}b")


def _value(kind: Kind, term: str) -> st.SearchStrategy[Any]:
    """Return arbitrary values of a kind with one id."""
    fields = {field.name: _field(field) for field in kind.fields}
    if not kind.id_of:
        fields["id"] = st.just(term)
    if kind.provenance:
        origin = {field.name: _field(field) for field in PROVENANCE}
        fields["provenance"] = st.builds(Provenance, **origin)
    made: st.SearchStrategy[Any] = st.builds(kind.type, **fields)
    return made


def _field(field: Field) -> st.SearchStrategy[Any]:
    """Return arbitrary values of a field."""
    if field.part is not None:
        return _parts(field.part, int(field.required))
    if field.many:
        values = st.lists(_one(field), max_size=3, unique=True, min_size=int(field.required))
        return values.map(tuple)
    if field.name == "front_share" or field.name == "link_strength":
        return st.none() | _one(field)
    may_be_empty = field.form in ("text", "word", "ref", "reason") and not field.required
    return st.just("") | _one(field) if may_be_empty else _one(field)


def _one(field: Field) -> st.SearchStrategy[Any]:
    """Return one arbitrary object of a field."""
    if field.words and field.form == "word":
        return st.sampled_from(field.words)
    forms: dict[str, st.SearchStrategy[Any]] = {
        "text": st.text(max_size=12),
        "reason": st.text(max_size=12),
        "word": st.from_regex(r"\A[A-Za-z0-9]{1,6}\Z"),
        "ref": st.sampled_from(_targets(field)),
        "number": _number(field),
        "integer": st.integers(0, 99),
        "flag": st.booleans(),
        "date": st.dates().map(str),
        "column": st.lists(_number(field), max_size=4).map(tuple),
    }
    return forms[field.form]


def _targets(field: Field) -> list[str]:
    """Return ids that a ref may point to."""
    records = {"Source": ["src-memory"], "Agent": ["ag-first-draft"], "Star": []}
    known = {kind.name: list(_ids(kind)) for kind in KINDS} | records
    return [term for name in field.refers for term in known[name]] or ["dtc-family"]


def _number(field: Field) -> st.SearchStrategy[float]:
    """Return numbers in the field's interval."""
    legal = field.interval
    if legal is None:
        return st.floats(allow_nan=False, allow_infinity=False)
    return st.floats(
        legal.low,
        legal.high,
        exclude_min=legal.open_low,
        exclude_max=legal.open_high,
    )


def _parts(part: Part, least: int) -> st.SearchStrategy[Any]:
    """Return arbitrary parts of a term: a tuple, or a mapping where they are rows."""
    fields = {field.name: _field(field) for field in part.fields}
    if part.type is not None:
        made: st.SearchStrategy[Any] = st.builds(part.type, **fields)
        return st.lists(made, min_size=least, max_size=3).map(tuple)
    *keys, value = fields.values()
    key = keys[0] if len(keys) == 1 else st.tuples(*keys)
    return st.dictionaries(key, value, min_size=least, max_size=3)
