"""A short list on paper: answers at once, and gets shorter with every answer.

Numbers are invented. It stands in for the engine where a test is about the pages: three checks
(one corner, one axle, one verdict), a gate that closes on the torque of the wheel nuts, causes
at three corners.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from api.answering.accounting import PARTS, Pause
from api.answering.asked_cause import AskedCause
from api.answering.gating import GateRecord
from api.documents import (
    Answer,
    Case,
    CauseRow,
    CheckRow,
    EvidenceWeight,
    GateRow,
    SensorRow,
    WhileThereRow,
    Why,
)
from api.documents.answer import ChangeRow, Contrast, KnowledgeUsed
from api.jobs.answering import Begun
from api.labels import labels_in
from graph.case import CaseInput
from graph.terms import Knowledge

__all__ = ["CORNER", "GATE_CHECK", "NEXT", "ONE", "paper_account", "paper_answer", "paper_begun"]

CORNER = ("ck-wheel-shake-12-6", "lr")  # everything it shows is at that corner
NEXT = ("ck-dry-park", "front")  # what it shows can be at either front corner
ONE = ("ck-calibration-status", "vehicle")  # one verdict
GATE_CHECK = "ck-wheel-nut-torque"


def paper_answer(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
    """Answer a case: what has no verdict yet stands on the list."""
    done = {verdict.check for verdict in case.verdicts}
    known = bool(case.codes or case.findings)
    rows = [one for one in (CORNER, NEXT, ONE) if one[0] not in done] if known else []
    checks = tuple(_row(knowledge, n, *one) for n, one in enumerate(rows, 1))
    texts = [*(row.id for row in checks), *(cause for cause, *_ in _CAUSES)]
    labels = labels_in(knowledge, [*texts, "ck-leak-look", GATE_CHECK, "rc-wss-sensor-failed"])
    return Answer(
        case=case.case,
        knowledge=KnowledgeUsed(version=knowledge.version, sha256=knowledge.sha256),
        exact=True,
        log_evidence=-float(len(case.findings)),
        width=len(record.events),
        gates=(*_shut(case, done), _usual()),
        intake=tuple(key for key in ("ck-full-scan", "ck-history-interview") if key not in done),
        causes=tuple(_cause(*cause) for cause in _CAUSES) if known else (),
        checks=checks,
        while_there=(_while(),) if checks else (),
        sensor_first=(_sensor(),) if known else (),
        questions=("C0031 means one of two things: which description does the scan tool show?",),
        labels=labels,
        complaint=case.complaint,
        total_minutes=float(sum(row.minutes for row in checks)),
        stop_reason="no further check is worth its time until these have answers",
        why=Why(cause=_CAUSES[0][0], would_change=_questions()) if known else None,
    )


def paper_account(
    knowledge: Knowledge, case: CaseInput, asked: AskedCause, step: Callable[[int], None]
) -> Why:
    """Return an account of any cause; every number is invented."""
    step(1)
    parts = (EvidenceWeight(finding="sy-hum-speed", decibans=8.0),)
    return Why(
        cause=asked.cause,
        order="codes, then findings",
        prior_decibans=-12.0,
        incremental=parts,
        posterior_decibans=-4.0,
        contrast=Contrast(
            other=next(one for one in asked.ranked if one != asked.cause), weights=parts
        ),
        would_change=_questions(),
    )


def paper_begun(
    knowledge: Knowledge, case: Case, record: GateRecord, account: Callable[[], None]
) -> Begun:
    """Answer a case as the engine does: the list first, its account after `account` returns."""
    whole = paper_answer(knowledge, case, record)
    bare = {"low": None, "high": None}
    listed = whole.model_copy(
        update={
            "account": "being-made",
            "causes": tuple(row.model_copy(update=bare) for row in whole.causes),
            "sensor_first": tuple(
                row.model_copy(update={"sentence": ""}) for row in whole.sensor_first
            ),
            "why": None,
        }
    )

    def finish(pause: Pause) -> Iterator[Answer]:
        for part in PARTS:
            pause(part)
            account()
        yield whole

    return Begun(listed, finish)


_CAUSES: tuple[tuple[Any, ...], ...] = (
    ("rc-bearing-play@lr", 0.72, 0.5, 0.8, "major"),
    ("rc-outer-tie-rod-worn@lf", 0.4, 0.2, 0.5, "dangerous"),
    ("rc-wss-sensor-failed@rr", 0.12, 0.05, 0.2, "minor"),
)


def _cause(id: str, part: float, low: float, high: float, deficiency: str) -> CauseRow:
    told: dict[str, Any] = {"id": id, "responsibility": part, "posterior": part, "prior": 0.05}
    return CauseRow.model_validate({**told, "low": low, "high": high, "class": deficiency})


def _row(knowledge: Knowledge, step: int, check: str, place: str) -> CheckRow:
    known = knowledge.checks[check]
    return CheckRow(
        step=step,
        id=check,
        place=place,
        setup=known.setup,
        minutes=known.minutes,
        change_minutes=5.0,
        value=12.0,
        chance_found=0.5,
        finds=(),
        looks_for="Hub bearing play",
        how=known.how,
    )


def _shut(case: Case, done: set[str]) -> tuple[GateRow, ...]:
    """Return the gate, while the nuts were not looked at."""
    knocks = any(
        seen.id == "sy-knock-wheel-speed" and seen.state == "present" for seen in case.findings
    )
    if GATE_CHECK in done or not knocks:
        return ()
    row = GateRow(
        id="sg-wheel-separation",
        level="do-not-drive",
        because=("a knock in time with the wheel",),
        closes_on=(GATE_CHECK,),
        missing=(f"{GATE_CHECK} at lr",),
        closes_how="nuts to the value of VM",
        stage="road-test",
    )
    return (row,)


def _usual() -> GateRow:
    return GateRow(
        id="sg-pre-road-test",
        level="no-road-test-until-lift-check",
        because=(),
        closes_on=("ck-leak-look",),
        missing=("ck-leak-look",),
        stage="road-test",
    )


def _while() -> WhileThereRow:
    return WhileThereRow(
        id="ck-leak-look",
        place="vehicle",
        setup="su-walk",
        minutes=3.0,
        finds=(),
        looks_for="leaks",
    )


def _sensor() -> SensorRow:
    return SensorRow(
        part="rc-wss-sensor-failed@rr",
        posterior=0.12,
        sentence="That the sensor itself is bad is unlikely, 12 %: look first.",
    )


def _questions() -> tuple[ChangeRow, ...]:
    row = ChangeRow(id="sy-hum-speed", kind="finding", chance=0.4, if_yes=0.9, if_no=0.2)
    check = ChangeRow(id="ck-dry-park", kind="check", chance=0.4, if_yes=0.9, if_no=0.2)
    return (row, check)
