"""How each value of `graph.terms` is said in triples: one table, read both ways.

The writer, the reader and the page that shows a term all walk `KINDS`. Order in the
table is the order of the lines in a file. A test holds the table against the
dataclasses, so a field that is forgotten here does not get lost in silence.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Final

from graph import terms
from graph.schema import Field, Interval, Kind, Part
from graph.terms import PLACES, SCOPES

__all__ = ["GATE_LEVELS", "KINDS", "PROVENANCE", "REACHES", "RELEASE", "kind_named"]

CHANCE: Final = Interval(0.0, 1.0)
INSIDE: Final = Interval(0.0, 1.0, open_low=True, open_high=True)
BELOW_ONE: Final = Interval(0.0, 1.0, open_high=True)
POSITIVE: Final = Interval(0.0, float("inf"), open_low=True)
NOT_NEGATIVE: Final = Interval(0.0, float("inf"))

_WORDS = ("same-corner", "same-axle", "opp-side", "global", "any-corner", "to-front", "to-rear")
#: Every reach word, with or without the part of the car that the source must be at.
REACHES: Final[tuple[str, ...]] = (
    *_WORDS,
    *(f"{end}>{word}" for end in ("front", "rear", "left", "right") for word in _WORDS),
)
GATE_LEVELS: Final[tuple[str, ...]] = (
    "do-not-drive",
    "no-road-test-until-lift-check",
    "road-test-lot-only",
    "lot-or-spare-limit",
    "none",
)
_STATUS_WORDS = ("active-static", "active-drive", "intermittent", "pending", "history")
_BASES = ("estimate", "published", "measured", "derived")
_NATURES = ("mechanical", "electrical", "calibration", "none")
_EFFECT_TERMS = ("Cause", "State", "Finding", "Code", "Check", "Star")

_text = partial(Field, form="text")
_some_text = partial(Field, form="text", required=False)
_word = partial(Field, form="word")
_some_word = partial(Field, form="word", required=False)
_number = partial(Field, form="number")
_some_number = partial(Field, form="number", required=False)
_integer = partial(Field, form="integer")
_flag = partial(Field, form="flag", required=False)
_column = partial(Field, form="column")


def _ref(name: str, predicate: str, *refers: str, before: str = "", many: bool = False) -> Field:
    """Return a field that must point to a term of one of these kinds."""
    return Field(name, predicate, "ref", refers=refers, before=before, many=many)


def _some_ref(name: str, predicate: str, *refers: str, before: str = "") -> Field:
    """Return a field that may point to a term of one of these kinds."""
    return Field(name, predicate, "ref", refers=refers, before=before, required=False)


def _refs(name: str, predicate: str, *refers: str) -> Field:
    """Return a field that may point to several terms of these kinds."""
    return Field(name, predicate, "ref", refers=refers, many=True, required=False)


def _parts(name: str, predicate: str, part: Part) -> Field:
    """Return a field whose values are resources of their own."""
    return Field(name, predicate, "parts", part=part, required=False)


_LABEL = _text("label", "skos:prefLabel")
_DEFINITION = _text("definition", "skos:definition")
_NOTE = _some_text("note", "skos:note")
_SCOPE = _word("scope", ":scope", words=tuple(SCOPES))
_GROUP = _some_word("group", ":group")
_CAUSES = _ref("causes", ":cause", "Cause", many=True)
_FAMILY = _ref("family", ":failureFamily", "CodeFamily", before="family-")

#: Said of every term: on which basis, from what, who, when.
PROVENANCE: Final[tuple[Field, ...]] = (
    _word("basis", ":basis", words=_BASES),
    _ref("source", "dcterms:source", "Source"),
    _ref("author", "prov:wasAttributedTo", "Agent"),
    Field("date", "dcterms:date", "date"),
    _some_text("note", "skos:editorialNote"),
)

#: Said once, of the release as a whole.
RELEASE: Final[tuple[Field, ...]] = (
    _word("version", "owl:versionInfo"),
    _some_number("failure_exponent", ":failureExponent", interval=POSITIVE),
    _column("failure_default", ":failureDefault", required=False, interval=CHANCE),
)

_DETECTS = Part(
    "Detects",
    (
        _ref("target", ":target", "Cause", "State"),
        _number("sensitivity", ":sensitivity", interval=CHANCE),
        _number("specificity", ":specificity", interval=CHANCE),
        _NOTE,
    ),
    named_by=("target",),
    type=terms.Detects,
)
_TRIGGER = Part(
    "GateTrigger",
    (
        _refs("findings", ":finding", "Finding", "State"),
        _refs("contexts", ":context", "Context"),
        _refs("codes", ":code", "Code", "Star"),
        _refs("verdicts", ":verdict", "Cause", "State"),
        _some_ref("chance_of", ":chanceOf", "Cause", "State"),
        _some_number("chance_above", ":chanceAbove", interval=CHANCE),
        _refs("facts", ":fact", "Fact"),
        _some_number("min_age_years", ":minimumAgeYears", interval=NOT_NEGATIVE),
        _flag("salted_only", ":saltedRoadsOnly"),
        _some_word("level", ":level", words=GATE_LEVELS),
        _some_text("because", ":because"),
    ),
    type=terms.GateTrigger,
)
_EFFECT = Part(
    "FactEffect",
    (
        _ref("term", ":target", *_EFFECT_TERMS),
        _some_word("where", ":where", words=("front", "rear")),
        _number("factor", ":factor", interval=NOT_NEGATIVE),
        _some_ref("link_to", ":linkTo", *_EFFECT_TERMS),
        _some_number("link_strength", ":linkStrength", interval=BELOW_ONE),
    ),
    named_by=("term", "where", "link_to"),
    type=terms.FactEffect,
)
_CHANGE_OVER = Part(
    "ChangeOver",
    (_ref("to", ":target", "Setup"), _number("minutes", ":minutes", interval=NOT_NEGATIVE)),
    named_by=("to",),
)
_ODDS = Part(
    "OddsFactor",
    (_ref("cause", ":target", "Cause"), _number("factor", ":factor", interval=NOT_NEGATIVE)),
    named_by=("cause",),
)
_STATUS = Part(
    "StatusRow",
    (
        _word("status", ":statusWord", words=_STATUS_WORDS),
        _number("share", ":share", interval=CHANCE),
    ),
    named_by=("status",),
)
_FACT_SHARE = Part(
    "FactShare",
    (
        _word("drive", ":drive"),
        _integer("from_age", ":fromAgeYears", interval=NOT_NEGATIVE),
        _integer("to_age", ":toAgeYears", interval=NOT_NEGATIVE),
        _number("share", ":share", interval=CHANCE),
    ),
    named_by=("drive", "from_age", "to_age"),
)

_CODE = (
    _some_word("notation", "skos:notation"),
    _some_word("earlier", ":earlierNotation", many=True),
    _word("confidence", ":confidence", words=("H", "M", "L")),
    _word("group", ":group"),
    _text("watched", ":watched"),
    _some_text("mechanical", ":mechanicalMeaning"),
    _some_text("electrical", ":electricalMeaning"),
    _word("place", ":place", words=PLACES),
    Field("family", ":family", "ref", required=False, refers=("Star",), after="-*"),
    _some_ref("failure_family", ":failureFamily", "CodeFamily", before="family-"),
    _some_ref("part", ":namesPart", "Cause"),
    _number("leak", ":leak", interval=BELOW_ONE),
    _some_text("not_explained_because", ":notExplainedBecause"),
)
_FINDING = (
    _LABEL,
    _some_text("customer_words", "skos:altLabel", many=True),
    _SCOPE,
    _some_text("discriminates", ":discriminates"),
    _GROUP,
    _number("leak_salted", ":leakSalted", interval=BELOW_ONE),
    _number("leak_dry", ":leakDry", interval=BELOW_ONE),
    _some_word("choice", ":choice"),
    _some_ref("specific_of", "skos:broader", "Finding"),
)
_STATE = (
    _LABEL,
    _DEFINITION,
    _SCOPE,
    _GROUP,
    _some_text("measurable_by", ":measurableBy"),
    _number("leak", ":leak", interval=BELOW_ONE),
    _some_ref("gate", ":opensGate", "Gate"),
)
_CAUSE = (
    _LABEL,
    _DEFINITION,
    _SCOPE,
    _GROUP,
    _some_word("nature", ":nature", words=_NATURES),
    _word("safety", ":safetyClass", words=("S0", "S1", "S2", "S3")),
    _some_word("deficiency", ":deficiencyClass", words=("minor", "major", "dangerous")),
    _some_word("directive_item", ":directiveItem"),
    _number("base_salted", ":baseSalted", interval=BELOW_ONE),
    _number("base_dry", ":baseDry", interval=BELOW_ONE),
    _some_number("front_share", ":frontShare", interval=CHANCE),
    _flag("kerb_side", ":kerbSide"),
    _flag("is_part", ":isPart"),
)
_LINK = (
    _ref("source", ":from", "Cause", "State", "Finding"),
    _word("reach", ":reach", words=REACHES),
    _ref("target", ":to", "State", "Finding", "Cause", "Code", "Star"),
    _number("strength", ":strength", interval=INSIDE),
    _number("sample_size", ":sampleSize", interval=POSITIVE),
    _text("mechanism", ":mechanism"),
    _word("review", ":review", words=("draft", "reviewed")),
    Field("deprecated", ":deprecatedBecause", "reason", required=False),
    _some_ref("replaced_by", "dcterms:isReplacedBy", "Link"),
)
_SETUP = (
    _LABEL,
    _integer("order", ":order"),
    _flag("helper", ":needsHelper"),
    _parts("change_minutes", ":changeOver", _CHANGE_OVER),
)
_CHECK = (
    _LABEL,
    _ref("setup", ":setup", "Setup"),
    _number("minutes", ":minutes", interval=NOT_NEGATIVE),
    _word("kind", ":verdictKind", words=("located", "one-verdict", "intake")),
    _word("per", ":per", words=tuple(SCOPES)),
    _some_text("how", ":how"),
    _some_text("tools", ":tools"),
    _some_text("outcome", ":outcome"),
    _some_text("limit_source", ":limitSource"),
    _some_text("fooled_by", ":fooledBy"),
    _some_text("caution", ":caution"),
    _some_number("salted_specificity_loss", ":saltedSpecificityLoss", interval=CHANCE),
    _parts("detects", ":detects", _DETECTS),
)
_CONFOUNDER = (
    _text("reason", ":because"),
    _ref("checks", ":check", "Check", many=True),
    _number("cap", ":likelihoodRatioCap", interval=POSITIVE),
)
_REPAIR = (
    _LABEL,
    _refs("fixes", ":fixes", "Cause", "State"),
    _some_word("follow_ups", ":followUp", many=True),
    _number("hours_low", ":hoursLow", interval=NOT_NEGATIVE),
    _number("hours_high", ":hoursHigh", interval=NOT_NEGATIVE),
    _integer("precedence", ":precedence"),
    _NOTE,
)
_GATE = (
    _LABEL,
    _word("level", ":level", words=GATE_LEVELS),
    _word("stage", ":stage", words=("road-test", "work", "repair", "paperwork")),
    _flag("always", ":always"),
    _refs("closes_on", ":closesOn", "Check"),
    _text("closes_how", ":closesHow"),
    _refs("before", ":before", "Check", "Repair", "Setup"),
    _text("basis", ":lawBasis"),
    _parts("triggers", ":trigger", _TRIGGER),
)
_FACT = (
    _LABEL,
    _some_word("aliases", "skos:hiddenLabel", many=True),
    _word("question", ":question"),
    _refs("enables", ":enables", *_EFFECT_TERMS),
    _parts("effects", ":effect", _EFFECT),
    _parts("default_shares", ":defaultShare", _FACT_SHARE),
)
_ODDS_RULE = (
    _ref("cause", ":cause", "Cause"),
    _number("factor", ":factor", interval=NOT_NEGATIVE),
    _text("condition", ":condition"),
    _refs("contexts", ":context", "Context"),
    _refs("present", ":present", "Finding", "State"),
    _refs("present_any", ":presentAny", "Finding", "State"),
    _refs("absent", ":absent", "Finding", "State"),
    _some_word("codes", ":codesAre"),
    _some_ref("replaces", ":insteadOf", "Context", "Finding", "State"),
)
_CURVE = (
    _word("kind", ":axis", words=("age", "mileage")),
    _CAUSES,
    _column("upper", ":upperBounds"),
    _column("salted", ":saltedFactors", interval=NOT_NEGATIVE),
    _column("dry", ":dryFactors", interval=NOT_NEGATIVE),
    _flag("dry_relative_to_salted", ":dryRelativeToSalted"),
)
_FAILURE_SHARE = (
    _ref("group", ":causeGroup", "CauseGroup"),
    _FAMILY,
    _column("shares", ":shares", interval=CHANCE),
)
_FAILURE_BYTE = (
    _word("byte", ":failureByte"),
    Field(
        "family",
        ":failureFamily",
        "ref",
        words=("any",),
        refers=("CodeFamily",),
        before="family-",
    ),
    _number("others", ":othersFactor", interval=NOT_NEGATIVE),
    _NOTE,
    _parts("factors", ":odds", _ODDS),
)
_TYPES = "evidence-failure-type"

KINDS: Final[tuple[Kind, ...]] = (
    Kind("Code", terms.Code, "codes", "dtc-", "codes-{group}", _CODE),
    Kind("Finding", terms.Finding, "findings", "sy-", "findings-{group}", _FINDING),
    Kind("State", terms.State, "states", "st-", "states-{group}", _STATE),
    Kind("Cause", terms.Cause, "causes", "rc-", "causes-{group}", _CAUSE),
    Kind("Link", terms.Link, "links", "lk-", "links-{group}", _LINK),
    Kind("Setup", terms.Setup, "setups", "su-", "setups", _SETUP),
    Kind("Check", terms.Check, "checks", "ck-", "checks-{group}", _CHECK),
    Kind("Confounder", terms.Confounder, "confounders", "cf-", "confounders", _CONFOUNDER),
    Kind("Repair", terms.Repair, "repairs", "rp-", "repairs", _REPAIR),
    Kind("Gate", terms.Gate, "gates", "sg-", "gates", _GATE),
    Kind(
        "Context",
        terms.Context,
        "contexts",
        "cx-",
        "contexts",
        (_LABEL, _parts("odds", ":odds", _ODDS)),
    ),
    Kind("Fact", terms.Fact, "facts", "vf-", "facts", _FACT),
    Kind("OddsRule", terms.OddsRule, "odds_rules", "or-", "odds-rules", _ODDS_RULE),
    Kind("Curve", terms.Curve, "curves", "c", "curves", _CURVE),
    Kind(
        "CauseGroup",
        terms.CauseGroup,
        "cause_groups",
        "fg-",
        _TYPES,
        (_CAUSES,),
        provenance=False,
    ),
    Kind(
        "CodeFamily",
        terms.CodeFamily,
        "code_families",
        "",
        _TYPES,
        (_ref("codes", ":code", "Code", many=True),),
        before="family-",
        provenance=False,
    ),
    Kind(
        "FailureShare",
        terms.FailureShare,
        "failure_shares",
        "fs-",
        _TYPES,
        _FAILURE_SHARE,
        id_of="{group}-{family}",
    ),
    Kind(
        "FailureByte",
        terms.FailureByte,
        "failure_bytes",
        "fb-",
        "evidence-failure-byte",
        _FAILURE_BYTE,
        id_of="{byte}-{family}",
    ),
    Kind(
        "StatusShare",
        terms.StatusShare,
        "status_shares",
        "ss-",
        "evidence-status",
        (_CAUSES, Field("shares", ":statusShare", "parts", part=_STATUS)),
    ),
)

_BY_NAME: Mapping[str, Kind] = {kind.name: kind for kind in KINDS}


def kind_named(name: str) -> Kind:
    """Return the kind with this name, e.g. ``Cause``."""
    return _BY_NAME[name]
