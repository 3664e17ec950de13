"""The answer document, `drypark-answer/1`: what a case was told.

The one idea: an answer stands by itself. It names the knowledge that gave it and carries the
words for every id in it (`labels`), so that a page, a print-out or another program can show it
without the knowledge at hand. Ids are the knowledge's, with `@place` where they have one.
Money is in the currency of the case's shop, times are minutes, weights of evidence decibans.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from api.documents.base import Document, Probability
from api.labels import worded
from api.words import ALWAYS_STATED, evidence_words, probability_words

__all__ = [
    "Answer",
    "CauseRow",
    "ChangeRow",
    "CheckRow",
    "Contrast",
    "EvidenceWeight",
    "GateChance",
    "GateRow",
    "KnowledgeUsed",
    "PathLink",
    "PathRow",
    "SensorRow",
    "WhileThereRow",
    "Why",
]

Minutes = Annotated[float, Field(ge=0.0)]
Words = tuple[str, ...]


class KnowledgeUsed(Document):
    """The knowledge that gave the answer."""

    version: str
    sha256: str


Level = Literal[
    "do-not-drive",
    "no-road-test-until-lift-check",
    "road-test-lot-only",
    "lot-or-spare-limit",
    "none",
]


class GateRow(Document):
    """A safety gate that is open."""

    id: str
    level: Level
    because: Words = Field(description="sentences that opened it; empty for an unanswered one")
    closes_on: Words = Field(description="check ids")
    closes_how: str = ""
    missing: Words = Field(
        default=(), description="what is still to be done, and whose name it takes"
    )
    stage: str = Field(
        default="", description="road-test, work, repair or paperwork: what it stands before"
    )
    basis: str = Field(default="", description="law, standard, or common practice, no source")


class GateChance(Document):
    """A trigger of a gate whose chance is over its threshold, the gate being open or not."""

    gate: str
    because: str
    level: Level
    corners: tuple[Literal["lf", "rf", "lr", "rr"], ...] = Field(description="that it concerns")


class EvidenceWeight(Document):
    """What one statement says about one cause: log odds with it less without it."""

    finding: str
    decibans: float
    words: str = Field(
        default_factory=lambda made: evidence_words(made["decibans"]),
        description="Jeffreys' grade and direction",
    )


class CauseRow(Document):
    """One cause, with its part in the complaint."""

    id: str
    responsibility: Probability = Field(description="chance that it has a part in the complaint")
    posterior: Probability = Field(description="chance that it is there")
    prior: Probability
    lift: float = Field(
        default_factory=lambda made: made["posterior"] - made["prior"],
        description="posterior less prior: how far this case has moved the chance",
    )
    low: Probability | None = Field(
        default=None,
        description="lower end of the responsibility, strengths perturbed; null while nothing of "
        "that is made",
    )
    high: Probability | None = None
    deficiency: Literal["minor", "major", "dangerous", ""] = Field(
        default="",
        validation_alias="class",
        serialization_alias="class",
        description="deficiency class of Directive 2014/45/EU",
    )
    evidence: tuple[EvidenceWeight, ...] = ()
    words: str = Field(
        default_factory=lambda made: probability_words(made["responsibility"]),
        description="likelihood word of the responsibility",
    )
    because: Words = Field(default=(), description="strongest paths, one sentence a line")
    safety: str = Field(default="", description="S0 to S3")
    is_part: bool = Field(default=False, description="it is the part that a code names")


class CheckRow(Document):
    """One step of the list."""

    step: int = Field(ge=1)
    id: str
    place: str
    setup: str
    minutes: Minutes
    change_minutes: Minutes = 0.0
    value: float = Field(description="expected fall of the loss, in money")
    chance_found: Probability
    finds: Words
    words: str = Field(
        default_factory=lambda made: probability_words(made["chance_found"]),
        description="likelihood word of the chance to find something",
    )
    looks_for: str = ""
    how: str = ""
    caution: str = ""
    tools: str = ""
    fooled_by: str = ""
    limit_source: str = ""
    helper: bool = Field(default=False, description="needs a second person")


class WhileThereRow(Document):
    """A look that is worth it only because the car stands there already."""

    id: str
    place: str
    setup: str
    minutes: Minutes
    finds: Words
    looks_for: str = ""
    how: str = ""
    caution: str = ""


class SensorRow(Document):
    """Replace first, or look first, for one part that a code names."""

    part: str
    posterior: Probability = Field(description="chance that the part is bad")
    ends_complaint: Probability | None = Field(
        default=None,
        description="chance that it is bad and that replacing it alone ends the complaint",
    )
    ends_error: float | None = Field(default=None, ge=0, description="its standard error")
    cost_replace_first: float | None = None
    cost_look_first: float | None = None
    minutes_replace_first: Minutes | None = None
    minutes_look_first: Minutes | None = None
    cost_error: float | None = Field(
        default=None, ge=0, description="standard error of the difference of the two costs"
    )
    minutes_error: float | None = Field(
        default=None, ge=0, description="standard error of the difference of the two times"
    )
    cars: int = Field(default=0, ge=0, description="drawn cars that both ways were walked on")
    part_price: float | None = Field(default=None, description="money put down for the part")
    part_price_low: float | None = None
    part_price_high: float | None = None
    priced_by: Literal["shop", "estimate", ""] = ""
    better: Literal["replace-first", "look-first", "either", "gate-first", ""] = ""
    sentence: str = Field(default="", description="the outcome in plain words")
    codes: Words = Field(default=(), description="the codes of the case that name it")
    low: Probability | None = Field(default=None, description="lower end of the posterior")
    high: Probability | None = None
    words: str = Field(
        default_factory=lambda made: probability_words(made["posterior"]),
        description="likelihood word of the posterior",
    )


class PathLink(Document):
    """One link of a chain, in its own words."""

    source: str
    target: str
    strength: Probability
    mechanism: str = Field(default="", description="one sentence of physics")
    origin: str = Field(default="", description="where it comes from: source, basis, author, date")
    review: str = Field(default="", description="draft or reviewed")


class PathRow(Document):
    """A chain from a cause to what is complained of."""

    cause: str
    finding: str
    strength: Probability = Field(description="chance that every link acts, if the cause is there")
    links: tuple[PathLink, ...]


class ChangeRow(Document):
    """An open question, and what its answer would do to the first cause."""

    id: str = Field(description="a finding or a check, with its place")
    kind: Literal["finding", "check"]
    looks_for: str = Field(default="", description="of a check: the cause or state, with its place")
    chance: Probability = Field(description="chance of a yes, or of finding it")
    if_yes: Probability = Field(description="chance that the first cause is there, then")
    if_no: Probability


class Contrast(Document):
    """Why the first cause rather than another one."""

    other: str = Field(description="the part that a code names, or the runner-up to it")
    weights: tuple[EvidenceWeight, ...] = Field(
        description="weight for the first cause less weight for the other, largest first"
    )


class Why(Document):
    """The account of the first cause."""

    cause: str
    order: str = Field(default="", description="the order in which the statements are taken")
    prior_decibans: float | None = None
    incremental: tuple[EvidenceWeight, ...] = Field(
        default=(),
        description="what each statement adds in that order; with the prior they add up to the "
        "posterior. Empty where the case is too large",
    )
    posterior_decibans: float | None = None
    paths: tuple[PathRow, ...] = ()
    contrast: Contrast | None = None
    would_change: tuple[ChangeRow, ...] = Field(
        default=(), description="open questions, the one that moves the first cause most first"
    )
    firm_top: Probability | None = Field(
        default=None, description="share of the perturbed answers with the same first cause"
    )
    firm_top_range: tuple[Probability, Probability] | None = Field(
        default=None,
        description="where that share of very many perturbed answers would lie, at 95 percent",
    )
    firm_check: Probability | None = Field(
        default=None,
        description="share of them with the same next check, at whatever place, "
        "where no gate sets it",
    )
    firm_check_range: tuple[Probability, Probability] | None = Field(
        default=None, description="where that share of very many would lie, at 95 percent"
    )
    perturbations: int = Field(
        default=0,
        ge=0,
        description="how many perturbed answers so far; in the bay they grow to 200, wherever the "
        "answer is exact",
    )


class Answer(Document):
    """The whole answer, in the order in which it is shown."""

    format: Literal["drypark-answer/1"] = "drypark-answer/1"
    case: str
    account: Literal["made", "being-made", "left-out"] = Field(
        default="made",
        description="the list comes first, its account after it (ranges and weights of the causes, "
        "why, changes_most, all of sensor_first but the chance that the part is bad): made; "
        "being-made, it follows by itself; left-out, nobody makes it until it is asked for. "
        "The list is the same in all three",
    )
    knowledge: KnowledgeUsed
    exact: bool = Field(description="false: the causes carry bounds, not exact numbers")
    log_evidence: float
    width: int = Field(ge=0)
    gates: tuple[GateRow, ...] = ()
    likely: tuple[GateChance, ...] | None = Field(
        default=None,
        description="triggers of gates whose chance is over its threshold, the gate being open or "
        "not; null where nobody looked",
    )
    intake: Words = Field(default=(), description="intake checks that the case has not done yet")
    causes: tuple[CauseRow, ...] = ()
    checks: tuple[CheckRow, ...] = ()
    while_there: tuple[WhileThereRow, ...] = ()
    sensor_first: tuple[SensorRow, ...] = ()
    questions: Words = ()
    notes: Words = ()
    labels: dict[str, str] = Field(
        default_factory=dict, description="words of every id above, with or without its place"
    )
    vehicle: str = Field(default="", description="label of the vehicle, as the case gave it")
    complaint: str = Field(default="", description="the customer's words, as the case gave them")
    currency: str = ""
    total_minutes: Minutes = Field(
        default=0.0, description="all checks and change-overs of the list"
    )
    stop_reason: str = Field(default="", description="why the list ends where it does")
    changes_most: Words = Field(default=(), description="what would change the answer most")
    why: Why | None = Field(default=None, description="the account of the first cause")
    cautions: Words = Field(default=ALWAYS_STATED, description="what every answer states")

    def label(self, term: str) -> str:
        """Return the words of an id or a key, places in words; what has none stays as it is."""
        return self.labels.get(term) or worded(term, self.labels)

    def to_document(self) -> dict[str, Any]:
        """Return the plain JSON value."""
        return self.model_dump(mode="json", by_alias=True)
