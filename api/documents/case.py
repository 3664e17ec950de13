"""The case document, `drypark-case/1`: what is known of one car.

The one idea: this is the border. The shape is checked here, without the knowledge;
`api.documents.terms` asks the knowledge whether the ids and places exist; what is left is
turned into the plain values of `graph.case`. The customer's words are kept, and are never
evidence until a person has accepted a finding.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from api.documents.base import Document, Line, Place, TermId
from graph.case import CaseInput, CodeRead, FindingSeen, Vehicle, VerdictGiven
from graph.case import Reading as ReadingInput
from triage.codes import TroubleCode
from triage.errors import CodeFormatError

__all__ = [
    "MAX_CODES",
    "Case",
    "CaseCode",
    "CaseFinding",
    "CaseReading",
    "CaseShop",
    "CaseVehicle",
    "CaseVerdict",
]

MAX_CODES = 200
MAX_STATEMENTS = 400
MAX_IDS = 100


def _readable(text: str) -> str:
    """Refuse what is no trouble code."""
    try:
        TroubleCode.parse(text)
    except CodeFormatError:
        raise PydanticCustomError("trouble_code", "no trouble code") from None
    return text


def _hex_byte(what: str) -> str:
    return f"{what}: two hexadecimal digits such as 64 or 2F; leave it out where none was shown"


_BYTE = r"^([0-9A-Fa-f]{2})?$"
Text = Annotated[str, Field(max_length=4000, pattern=r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]*$")]


class CaseVehicle(Document):
    """The car; what is left out, nobody has said."""

    label: Line = Field(default="", description="one line of at most 200 characters")
    drivetrain: Literal["fwd", "rwd", "awd", "4wd", "unknown"] = Field(
        default="unknown", description="fwd, rwd, awd, 4wd, unknown"
    )
    age_years: float | None = Field(default=None, ge=0, le=150, description="years, 0 to 150")
    odometer_km: float | None = Field(
        default=None, ge=0, le=5_000_000, description="kilometres, 0 to 5000000"
    )
    salted_roads: bool | None = Field(default=None, description="true or false")
    facts: tuple[TermId, ...] = Field(
        default=(), max_length=MAX_IDS, description="a list of vf- ids"
    )
    tyres: dict[Line, Line] = Field(
        default_factory=dict,
        max_length=20,
        description='sizes by place, such as {"all": "225/60R17"}; at most 20',
    )


class CaseCode(Document):
    """One trouble code, as the scan tool showed it."""

    code: Annotated[Line, AfterValidator(_readable)] = Field(
        description="a trouble code such as C0051 or C0051-64"
    )
    failure_type: str = Field(default="", pattern=_BYTE, description=_hex_byte("failure type"))
    status: str = Field(default="", pattern=_BYTE, description=_hex_byte("status byte"))
    module: Line = Field(default="", description="the module that stored it, one line")
    layout: Literal["current", "earlier", "unknown"] = Field(
        default="unknown", description="current, earlier, unknown"
    )
    meaning: str = Field(
        default="",
        max_length=80,
        description="the dtc- id that a person picked where two meanings stand",
    )


class CaseFinding(Document):
    """Something observed, or looked for and not there."""

    id: TermId = Field(description="a sy- or st- id")
    place: Place | None = Field(
        default=None,
        description="lf, rf, lr, rr, front, rear, left, right, vehicle; left out means somewhere",
    )
    state: Literal["present", "absent", "unknown"] = Field(description="present, absent, unknown")


class CaseReading(Document):
    """A measured value, and the vehicle maker's limit with its source."""

    value: float = Field(description="a number")
    unit: Line = Field(min_length=1, description="a unit such as mm")
    limit: float = Field(description="a number, the vehicle maker's limit in the same unit")
    uncertainty: float = Field(ge=0, description="standard uncertainty in the same unit, 0 or more")
    limit_source: Line = Field(
        min_length=1, description="where the limit comes from, and who typed it"
    )
    limit_kind: Literal["upper", "lower"] = Field(default="upper", description="upper, lower")


class CaseVerdict(Document):
    """The outcome of a check, for one thing it can show or for all of them."""

    check: TermId = Field(description="a ck- id")
    place: Place | None = Field(
        default=None,
        description="where it was done: lf, rf, lr, rr, front, rear, left, right, vehicle",
    )
    cause: TermId | None = Field(
        default=None, description="the rc- or st- id that the verdict is about"
    )
    at: Place | None = Field(
        default=None, description="where that is: lf, rf, lr, rr, front, rear, left, right, vehicle"
    )
    verdict: Literal["found", "not-found", "cant-tell"] = Field(
        description="found, not-found, cant-tell"
    )
    reading: CaseReading | None = Field(
        default=None, description="value, unit, limit, uncertainty, source"
    )


class CaseShop(Document):
    """What the shop's time costs."""

    labour_per_hour: float = Field(
        default=120.0, ge=0, le=100_000, description="money an hour, 0 to 100000"
    )
    currency: Line = Field(
        default="EUR", min_length=1, max_length=8, description="a word such as EUR"
    )


class Case(Document):
    """Everything that is known of one car when the question is asked."""

    format: Literal["drypark-case/1"] = Field(description="drypark-case/1")
    case: Line = Field(min_length=1, max_length=100, description="a name, 1 to 100 characters")
    vehicle: CaseVehicle = Field(default=CaseVehicle(), description="an object about the car")
    context: tuple[TermId, ...] = Field(
        default=(), max_length=MAX_IDS, description="a list of cx- ids"
    )
    complaint: Text = Field(default="", description="the customer's words, at most 4000 characters")
    codes: tuple[CaseCode, ...] = Field(
        default=(), max_length=MAX_CODES, description=f"a list of at most {MAX_CODES} codes"
    )
    findings: tuple[CaseFinding, ...] = Field(
        default=(),
        max_length=MAX_STATEMENTS,
        description=f"a list of at most {MAX_STATEMENTS} findings",
    )
    verdicts: tuple[CaseVerdict, ...] = Field(
        default=(),
        max_length=MAX_STATEMENTS,
        description=f"a list of at most {MAX_STATEMENTS} verdicts",
    )
    shop: CaseShop = Field(default=CaseShop(), description="labour_per_hour and currency")

    def to_input(self) -> CaseInput:
        """Return the plain values that `graph.build.compile_case` takes.

        A failure type written into the code (C0051-64) moves to its own field.
        """
        car = self.vehicle
        return CaseInput(
            vehicle=Vehicle(
                car.drivetrain, car.age_years, car.odometer_km, car.salted_roads, car.facts
            ),
            context=self.context,
            codes=tuple(_code_read(row) for row in self.codes),
            findings=tuple(FindingSeen(row.id, row.state, row.place) for row in self.findings),
            verdicts=tuple(_verdict_given(row) for row in self.verdicts),
        )


def _code_read(row: CaseCode) -> CodeRead:
    """Return one code with its failure type apart."""
    code = TroubleCode.parse(row.code)
    written = "" if code.failure_type is None else f"{code.failure_type:02X}"
    return CodeRead(
        code=code.notation,
        failure_type=row.failure_type.upper() or written,
        status=row.status.upper(),
        module=row.module,
        layout=row.layout,
        meaning=row.meaning,
    )


def _verdict_given(row: CaseVerdict) -> VerdictGiven:
    """Return one verdict with its reading."""
    read = row.reading
    reading = read and ReadingInput(
        read.value, read.unit, read.limit, read.uncertainty, read.limit_source, read.limit_kind
    )
    return VerdictGiven(row.check, row.verdict, row.place, row.cause, row.at, reading or None)
