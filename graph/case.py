"""What is known of one car: the plain values that `graph.build` compiles.

The versioned JSON document of the outside world lives in `api.documents`; it is
turned into these values there, after its shape has been checked.
"""

from __future__ import annotations

from dataclasses import dataclass

from graph.terms import Place

__all__ = ["CaseInput", "CodeRead", "FindingSeen", "Reading", "Vehicle", "VerdictGiven"]


@dataclass(frozen=True, slots=True)
class Vehicle:
    """The car; `None` means nobody has said."""

    drivetrain: str = "unknown"  # fwd | rwd | awd | 4wd | unknown
    age_years: float | None = None
    odometer_km: float | None = None
    salted_roads: bool | None = None
    facts: tuple[str, ...] = ()  # vf- ids


@dataclass(frozen=True, slots=True)
class CodeRead:
    """One trouble code as the scan showed it."""

    code: str  # normalised notation such as "C0051"
    failure_type: str = ""  # two hex digits, "" = the tool showed none
    status: str = ""  # two hex digits, "" = not shown
    module: str = ""
    layout: str = "unknown"  # current | earlier | unknown
    meaning: str = ""  # dtc- id chosen by a person when the layouts collide


@dataclass(frozen=True, slots=True)
class FindingSeen:
    """A finding (sy- or st-) with its state."""

    id: str
    state: str  # present | absent | unknown
    place: Place | None = None  # None = somewhere, place not said


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured value against the vehicle maker's limit, typed in with its source."""

    value: float
    unit: str
    limit: float
    uncertainty: float  # standard uncertainty, same unit
    limit_source: str
    limit_kind: str = "upper"  # upper | lower


@dataclass(frozen=True, slots=True)
class VerdictGiven:
    """The outcome of a check, for one thing it can show or for all of them."""

    check: str
    verdict: str  # found | not-found | cant-tell
    place: Place | None = None  # where the check was done
    cause: str | None = None  # rc- or st- id; None = the whole check
    at: Place | None = None  # where the thing is
    reading: Reading | None = None


@dataclass(frozen=True, slots=True)
class CaseInput:
    """Everything that is known of one car when the question is asked."""

    vehicle: Vehicle = Vehicle()
    context: tuple[str, ...] = ()  # cx- ids
    codes: tuple[CodeRead, ...] = ()
    findings: tuple[FindingSeen, ...] = ()
    verdicts: tuple[VerdictGiven, ...] = ()
