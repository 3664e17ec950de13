"""The bay sheet as plain values: what is shown of a job and its answer.

The one idea: the page decides nothing. Everything that needs thought (which check is next,
which list belongs to which set-up, what the last thing written down was) is worked out here,
where a test can look at it without a browser.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from api.documents import Answer, CauseRow, CheckRow, SensorRow, WhileThereRow
from api.pages.doing_view import DoingView, doing_view
from api.pages.forms import stem_of
from api.pages.gate_view import GateView, gate_views
from api.pages.said import AnswerLine, answer_lines
from api.pages.telling import told
from api.picture.car import Shade, most_suspect, shades_of
from api.store.events import Recorded, TakenBack
from api.store.fold import HistoryRow, JobState
from graph.terms import Knowledge

__all__ = ["BayView", "GroupView", "LastWord", "bay_view", "last_word", "stage_of"]

CAUSES_SHOWN = 5


@dataclass(frozen=True, slots=True)
class GroupView:
    """The checks of one set-up, one after the other."""

    setup: str
    minutes: float
    change_minutes: float
    helper: bool
    rows: tuple[CheckRow, ...]


@dataclass(frozen=True, slots=True)
class LastWord:
    """What was written down last, and what undo takes back."""

    event: str
    words: str
    who: str
    when: datetime
    gone: bool  # it was an undo: the button puts it back


@dataclass(frozen=True, slots=True)
class BayView:
    """Everything on the sheet."""

    state: JobState
    answer: Answer | None
    stage: str
    gates: tuple[GateView, ...]
    intake: tuple[tuple[str, str, str, bool], ...]  # id, words, how, done
    next: DoingView | None
    next_row: CheckRow | None
    chosen: bool  # the check was jumped to, it is not the next of the list
    which: bool  # something was found: the single things are shown
    groups: tuple[GroupView, ...]
    while_there: tuple[WhileThereRow, ...]
    causes: tuple[CauseRow, ...]
    more_causes: tuple[CauseRow, ...]
    shades: Mapping[str, Shade]
    most: Shade | None
    sensor: tuple[SensorRow, ...]
    last: LastWord | None
    answers: tuple[AnswerLine, ...]
    words: Mapping[str, str]


def bay_view(
    knowledge: Knowledge,
    state: JobState,
    answer: Answer | None,
    jump: tuple[str, str] = ("", ""),
    *,
    which: bool = False,
) -> BayView:
    """Return the sheet of a job.

    Parameters
    ----------
    answer : None while the list is being made
    jump : check and place that somebody jumped to; empty = the next of the list
    which : something was found, and now it is asked which thing
    """
    causes = answer.causes if answer else ()
    shades = shades_of(causes)
    rows = answer.checks if answer else ()
    row = _row_of(rows, jump)
    doing = _doing(knowledge, state, row, jump)
    rest = [one for one in rows if one is not row]
    return BayView(
        state=state,
        answer=answer,
        stage=stage_of(state, answer),
        gates=gate_views(knowledge, answer),
        intake=_intake(knowledge, state, answer),
        next=doing,
        next_row=row,
        chosen=bool(jump[0]) and (not rows or row is not rows[0]),
        which=which or (doing is not None and doing.answered),
        groups=tuple(_groups(knowledge, rest)),
        while_there=answer.while_there if answer else (),
        causes=causes[:CAUSES_SHOWN],
        more_causes=causes[CAUSES_SHOWN:],
        shades=shades,
        most=most_suspect(shades),
        sensor=answer.sensor_first if answer else (),
        last=last_word(knowledge, state),
        answers=answer_lines(knowledge, state),
        words=answer.labels if answer else {},
    )


def stage_of(state: JobState, answer: Answer | None) -> str:
    """Return where the job stands, in a word or two."""
    if state.closed is not None:
        return "closed"
    case = state.case
    if not (case.codes or case.findings):
        return "write-up"
    if answer is not None and answer.intake and not case.verdicts:
        return "intake"
    if answer is not None and not answer.checks:
        return "decide"
    return "checking" if case.verdicts else "first check"


def _row_of(rows: Sequence[CheckRow], jump: tuple[str, str]) -> CheckRow | None:
    """Return the row of the list that is shown large."""
    if not jump[0]:
        return rows[0] if rows else None
    same = [row for row in rows if row.id == jump[0] and (not jump[1] or row.place == jump[1])]
    return same[0] if same else None


def _doing(
    knowledge: Knowledge, state: JobState, row: CheckRow | None, jump: tuple[str, str]
) -> DoingView | None:
    """Return the check that is shown large, with its answers."""
    if row is not None:
        return doing_view(knowledge, state, row.id, row.place)
    return doing_view(knowledge, state, jump[0], jump[1] or "vehicle") if jump[0] else None


def _groups(knowledge: Knowledge, rows: Iterable[CheckRow]) -> Iterable[GroupView]:
    """Yield the rows by set-up, in the order of the list."""
    held: list[CheckRow] = []
    for row in rows:
        if held and held[-1].setup != row.setup:
            yield _group(knowledge, held)
            held = []
        held.append(row)
    if held:
        yield _group(knowledge, held)


def _group(knowledge: Knowledge, rows: Sequence[CheckRow]) -> GroupView:
    setup = knowledge.setups[rows[0].setup]
    minutes = sum(row.minutes for row in rows)
    return GroupView(setup.label, minutes, rows[0].change_minutes, setup.helper, tuple(rows))


def _intake(
    knowledge: Knowledge, state: JobState, answer: Answer | None
) -> tuple[tuple[str, str, str, bool], ...]:
    """Return the intake steps: those still open, then those ticked off."""
    done = [
        verdict.check
        for verdict in state.case.verdicts
        if verdict.check in knowledge.checks and knowledge.checks[verdict.check].kind == "intake"
    ]
    waiting = [key for key in (answer.intake if answer else ()) if key in knowledge.checks]
    checks = knowledge.checks
    return (
        *((key, checks[key].label, checks[key].how, False) for key in waiting if key not in done),
        *((key, checks[key].label, checks[key].how, True) for key in done),
    )


def last_word(knowledge: Knowledge, state: JobState) -> LastWord | None:
    """Return what was written down last; the write-up itself cannot be taken back here."""
    rows = [row for row in state.history if row.recorded.body.kind != "gate-opened"]
    if len(rows) < 2 or rows[-1].recorded.seq == 1:
        return None
    last = rows[-1]
    gone = isinstance(last.recorded.body, TakenBack)
    meant = _meant(state, last) if gone else last.recorded
    if meant is None:
        return None
    same = [row for row in rows if stem_of(row.recorded.id) == stem_of(last.recorded.id)]
    words = told(knowledge, meant)
    if len(same) > 1 and not gone:
        words = f"{words}, and {len(same) - 1} more"
    made = last.recorded
    return LastWord(stem_of(made.id), words, made.who.name, made.server_time, gone)


def _meant(state: JobState, row: HistoryRow) -> Recorded | None:
    """Return what a taking-back was about."""
    by_id = {one.recorded.id: one.recorded for one in state.history}
    event: Recorded | None = row.recorded
    while event is not None and isinstance(event.body, TakenBack):
        event = by_id.get(event.body.event)
    return event
