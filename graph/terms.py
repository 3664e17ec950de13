"""The knowledge as plain values: what the Turtle files say, and nothing more.

Every value here is written once per *kind*, never per corner. `graph.build`
places the kinds on a car. Numbers are probabilities, odds factors, minutes or
hours as their names say; every one is a starting estimate until a record in
`Provenance` says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from graph.places import FIRST_DRAFT, PLACES, SCOPES, Place, Provenance

__all__ = [
    "PLACES",
    "SCOPES",
    "Cause",
    "CauseGroup",
    "Check",
    "Code",
    "CodeFamily",
    "Confounder",
    "Context",
    "Curve",
    "Detects",
    "Fact",
    "FactEffect",
    "FailureByte",
    "FailureShare",
    "Finding",
    "Gate",
    "GateTrigger",
    "Knowledge",
    "Link",
    "OddsRule",
    "Place",
    "Provenance",
    "Repair",
    "Setup",
    "State",
    "StatusShare",
]


@dataclass(frozen=True, slots=True)
class Cause:
    """A root cause: binary, present or not at each of its places."""

    id: str
    label: str
    definition: str
    scope: str  # key of SCOPES
    safety: str  # S0 | S1 | S2 | S3
    deficiency: str = ""  # minor | major | dangerous | "" (no deficiency)
    directive_item: str = ""  # item of Directive 2014/45/EU, e.g. "5.1.3 a"
    base_salted: float = 0.0  # P(somewhere on a car that arrives), salted roads
    base_dry: float = 0.0
    front_share: float | None = None  # share of cases at the front; None = even
    kerb_side: bool = False  # the kerb side is hit 1.2 times as often
    is_part: bool = False  # it is the failed sensor or unit that a code names
    provenance: Provenance = FIRST_DRAFT
    group: str = ""  # subject area: hub | steering | suspension | ... (also names the file)
    nature: str = ""  # mechanical | electrical | calibration | none | "" (nobody has said)


@dataclass(frozen=True, slots=True)
class State:
    """An intermediate mechanical or electrical condition."""

    id: str
    label: str
    definition: str
    scope: str
    measurable_by: str = ""
    leak: float = 0.0
    gate: str = ""  # id of the gate this state opens, if it is one
    provenance: Provenance = FIRST_DRAFT
    group: str = ""  # subject area, as of a cause


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a person can observe: symptom, walk-round sight, freeze frame."""

    id: str
    label: str
    scope: str
    customer_words: tuple[str, ...] = ()
    discriminates: str = ""
    group: str = ""  # noise | vibration | direction | wear | lamp | brake | seen | ...
    leak_salted: float = 0.01
    leak_dry: float = 0.01
    choice: str = ""  # id shared by exclusive answers to one question
    specific_of: str = ""  # the broader finding this one is a special case of
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class Code:
    """A trouble code entry with a meaning fixed by the standard."""

    id: str
    notation: str  # the code in the current layout ("" = earlier layout only)
    earlier: tuple[str, ...]  # codes with this meaning in the earlier layout
    confidence: str  # H | M | L
    group: str
    watched: str  # the quantity the module watches, own words
    mechanical: str
    electrical: str
    place: Place  # the corner it belongs to, or "vehicle"
    family: str  # star family in links, e.g. "dtc-wss" ("" = none)
    failure_family: str  # id of a CodeFamily ("" = none)
    part: str = ""  # cause id of the part the code names ("" = none)
    leak: float = 0.001
    provenance: Provenance = FIRST_DRAFT
    not_explained_because: str = ""  # why a mechanical or an electrical cause is missing


@dataclass(frozen=True, slots=True)
class Link:
    """Cause-and-effect: `source` makes `target` happen, with `strength`."""

    id: str  # lk-NNNN, never reused
    source: str  # rc- st- sy-
    reach: str  # same-corner, same-axle, opp-side, global, any-corner, to-front,
    #             to-rear; with an optional prefix front> rear> left> right>
    target: str  # st- sy- rc- dtc- or a star family such as dtc-wss-*
    strength: float  # net, in (0, 1)
    mechanism: str
    sample_size: float = 4.0  # equivalent sample size of the strength
    review: str = "draft"  # draft | reviewed
    deprecated: str = ""  # reason, when it is no longer used
    replaced_by: str = ""
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class Detects:
    """One thing that a check can show."""

    target: str  # rc- or st-
    sensitivity: float  # P(found | it is there)
    specificity: float  # P(not found | it is not there and nothing else is wrong)
    note: str = ""


@dataclass(frozen=True, slots=True)
class Setup:
    """A position of the car in the shop."""

    id: str
    label: str
    order: int  # reading order
    helper: bool = False
    #: minutes to change over from this set-up to the other
    change_minutes: Mapping[str, float] = field(default_factory=dict)
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class Check:
    """Something a technician does that yields verdicts."""

    id: str
    label: str
    setup: str
    minutes: float  # for one unit of `per`
    kind: str  # located | one-verdict | intake
    per: str  # scope one doing of the check covers: corner | axle | front-axle | vehicle...
    how: str
    tools: str = ""
    outcome: str = ""
    limit_source: str = ""
    fooled_by: str = ""
    caution: str = ""
    detects: tuple[Detects, ...] = ()  # of an intake check: what it looks for, without weight
    salted_specificity_loss: float = 0.0  # taken off every specificity on salted roads
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class Confounder:
    """A shared reason why several checks are fooled together."""

    id: str
    reason: str
    checks: tuple[str, ...]
    cap: float  # largest combined likelihood ratio of the group
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class Repair:
    """A repair action."""

    id: str
    label: str
    fixes: tuple[str, ...]
    follow_ups: tuple[str, ...]  # AL CAL ICAL OTF RT FT BB BED RL CONF ADAS SRS
    hours_low: float
    hours_high: float
    precedence: int  # lower first
    note: str = ""
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class GateTrigger:
    """One way to open a gate: every listed condition holds."""

    findings: tuple[str, ...] = ()  # any place
    contexts: tuple[str, ...] = ()
    codes: tuple[str, ...] = ()
    verdicts: tuple[str, ...] = ()  # cause or state ids found by a check
    chance_of: str = ""  # cause or state whose posterior, at any place, ...
    chance_above: float = 1.0  # ... exceeds this
    facts: tuple[str, ...] = ()  # vf- ids, all known of the car
    min_age_years: float = 0.0
    salted_only: bool = False
    level: str = ""  # overrides the gate's level when this trigger opened it
    because: str = ""  # the sentence shown


@dataclass(frozen=True, slots=True)
class Gate:
    """A safety gate: evaluated before any ranking."""

    id: str
    label: str
    level: str  # do-not-drive | no-road-test-until-lift-check | road-test-lot-only
    #             | lot-or-spare-limit | none
    stage: str  # road-test | work | repair | paperwork: where it stands in the way
    triggers: tuple[GateTrigger, ...]
    closes_on: tuple[str, ...]  # check ids
    closes_how: str
    basis: str  # law, standard, or "common practice, no source"
    always: bool = False  # stands before its stage on every job
    before: tuple[str, ...] = ()  # ck- rp- su- that must not start while it is open
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class Context:
    """A circumstance that changes the odds of causes."""

    id: str
    label: str
    odds: Mapping[str, float]  # cause id -> odds factor
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class FactEffect:
    """What a vehicle fact does to one term."""

    term: str  # rc- st- sy- dtc- ck- id, or a star family
    where: str = ""  # "" | front | rear
    factor: float = 0.0  # odds factor for a cause; 0 = this car can't have it
    #: when set, the effect is on the link term -> link_to: its strength becomes
    #: `link_strength`, or is multiplied by `factor` where that is None
    link_to: str = ""
    link_strength: float | None = None  # new strength of that link; 0 = no such link


@dataclass(frozen=True, slots=True)
class Fact:
    """A vehicle fact."""

    id: str
    label: str
    question: str  # facts that answer the same question exclude each other
    effects: tuple[FactEffect, ...] = ()
    enables: tuple[str, ...] = ()  # terms that only such cars have
    #: (drive, from age, to age) -> share of such cars, e.g. ("fwd", 0, 8): 0.95
    default_shares: Mapping[tuple[str, int, int], float] = field(default_factory=dict)
    aliases: tuple[str, ...] = ()  # other vf- ids that mean the same fact
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class OddsRule:
    """What makes a cause without a fault ("nothing wrong") likely or unlikely.

    Everything stated must hold. With no field but `condition` set, only a
    person can answer it: a tool asks, or leaves the rule alone.
    """

    id: str  # or-NN
    cause: str
    factor: float  # odds factor while the condition holds
    condition: str  # the sentence a person answers
    contexts: tuple[str, ...] = ()
    present: tuple[str, ...] = ()  # findings or states, all seen
    present_any: tuple[str, ...] = ()  # at least one of these seen
    absent: tuple[str, ...] = ()  # all answered as absent
    codes: str = ""  # "" | none | none-tests-complete | any-confirmed-chassis
    replaces: str = ""  # context or finding that must not weigh on this cause as well
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class Curve:
    """Odds factors over age or mileage."""

    id: str
    kind: str  # age (years) | mileage (thousand miles)
    causes: tuple[str, ...]
    upper: tuple[float, ...]  # upper bound of each column; the last is infinite
    salted: tuple[float, ...]
    dry: tuple[float, ...]
    dry_relative_to_salted: bool = False
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class CauseGroup:
    """Causes that show alike in failure type or status."""

    id: str
    causes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CodeFamily:
    """Codes that share failure-type shares."""

    id: str
    codes: tuple[str, ...]  # code ids, star families spelled out


@dataclass(frozen=True, slots=True)
class FailureShare:
    """P(failure type category | code of the family, caused by the group)."""

    group: str
    family: str
    shares: tuple[float, ...]  # ten numbers, categories 0 to 9
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class FailureByte:
    """Odds factors of one failure type byte; used instead of its category."""

    byte: str  # two hex digits, upper case
    family: str  # CodeFamily id or "any"
    factors: Mapping[str, float]
    others: float = 1.0  # factor of all causes not named
    note: str = ""
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class StatusShare:
    """P(status seen at check-in | cause in the group and its code)."""

    id: str
    causes: tuple[str, ...]
    shares: Mapping[str, float]  # active-static active-drive intermittent pending history
    provenance: Provenance = FIRST_DRAFT


@dataclass(frozen=True, slots=True)
class Knowledge:
    """All that is known, by id, with the version that names it."""

    codes: Mapping[str, Code]
    findings: Mapping[str, Finding]
    states: Mapping[str, State]
    causes: Mapping[str, Cause]
    checks: Mapping[str, Check]
    setups: Mapping[str, Setup]
    repairs: Mapping[str, Repair]
    gates: Mapping[str, Gate]
    contexts: Mapping[str, Context]
    facts: Mapping[str, Fact]
    links: tuple[Link, ...]
    curves: tuple[Curve, ...] = ()
    confounders: tuple[Confounder, ...] = ()
    cause_groups: Mapping[str, CauseGroup] = field(default_factory=dict)
    code_families: Mapping[str, CodeFamily] = field(default_factory=dict)
    failure_shares: tuple[FailureShare, ...] = ()
    failure_bytes: tuple[FailureByte, ...] = ()
    status_shares: tuple[StatusShare, ...] = ()
    failure_default: tuple[float, ...] = ()  # shares of groups not listed for a family
    failure_exponent: float = 0.5  # failure types count at half strength (square root)
    odds_rules: tuple[OddsRule, ...] = ()
    version: str = ""
    sha256: str = ""
