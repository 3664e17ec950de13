"""Thinking ahead: the likely next lists are made while nobody waits, and nothing else changes."""

from __future__ import annotations

import itertools
import secrets
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import pytest

from api.answering.gating import GateRecord
from api.documents import Answer, Case
from api.documents.answer import CheckRow, GateRow
from api.jobs.accounts import Accounts
from api.jobs.answering import Begun, begin_answer
from api.jobs.opened import PROGRAM
from api.jobs.supposing import likely_next, suppose
from api.jobs.terms import Hands
from api.jobs.writing import write
from api.store.events import Body, IntakeDone, NewEvent, VerdictGiven
from api.store.fold import JobState
from graph.terms import Knowledge
from tests.api.pages.bay import Bay as PageBay
from tests.api.pages.bay import seen as saw
from tests.api.web.shop import WHEN, Shop, event, known, open_shop, quick_answer, until
from triage.errors import TriageError
from triage.gate_closing import Opened
from triage.gates import Opening

CHECK, PLACE, CAUSE = "ck-wheel-shake-12-6", "lf", "rc-ball-joint-lower-worn"
GATE = "sg-wheel-separation"


@dataclass
class Thinker:
    """Answers with one check to do; holds up what it is asked to hold."""

    made: list[str] = field(default_factory=list)  # the verdicts of the cases, by word
    held: threading.Event = field(default_factory=threading.Event)
    chance: float = 0.3
    opens: bool = False

    def __call__(
        self, knowledge: Knowledge, case: Case, record: GateRecord, pause: Callable[[], None]
    ) -> Begun:
        """Begin one answer."""
        pause()
        opened = ["opened" for one in record.events if isinstance(one, Opened)]
        self.made.append(" ".join([*(one.verdict for one in case.verdicts), *opened]))
        assert self.held.wait(30)
        pause()
        found = any(one.verdict == "found" for one in case.verdicts)
        gates = (GateRow(id=GATE, level="do-not-drive", because=("it moves",), closes_on=()),)
        answer = quick_answer(knowledge, case, record).model_copy(
            update={"checks": (row(self.chance),), "gates": gates if found and self.opens else ()}
        )
        hits = [Opening(GATE, "do-not-drive", "it moves", frozenset({"lf"}))] if found else []
        return Begun(answer, openings=lambda: hits if self.opens else [])


def row(chance: float) -> CheckRow:
    """Return a check that can find two things."""
    finds = (f"{CAUSE}@lf", "rc-bearing-play@lf")
    return CheckRow(
        step=1, id=CHECK, place=PLACE, setup="su-jack", minutes=2, value=1.0,
        chance_found=chance, finds=finds,
    )  # fmt: skip


@pytest.fixture
def thinker() -> Iterator[Thinker]:
    """Return what answers; let go of at the end, so that no thread hangs."""
    made = Thinker()
    made.held.set()
    yield made
    made.held.set()


@pytest.fixture
def bay(tmp_path: Path, thinker: Thinker) -> Iterator[Shop]:
    """Return a shop that thinks ahead."""
    with open_shop(tmp_path, begin=thinker, hands=Hands(ahead=True)) as opened:
        yield opened


def verdict(said: str, **about: str) -> VerdictGiven:
    """Return a verdict on the check, as the bay sheet writes it."""
    body = {"check": CHECK, "place": PLACE, "verdict": said, **about}
    return VerdictGiven.model_validate({"verdict": body})


def look(shop: Shop, job: str) -> None:
    """Look at the list of a job as the technician, and let everything be thought of."""
    assert shop.as_role("technician").get(f"/api/jobs/{job}/answer").status_code == 200
    until(lambda: not shop.desk.thinks_ahead())


def say(shop: Shop, job: str, body: VerdictGiven, *, role: str = "technician") -> JobState:
    """Write a verdict down and return the job."""
    person = shop.people[role]
    version = shop.store.jobs.state("shop", job).version
    when = datetime.fromisoformat(WHEN)
    new = NewEvent(id=f"said-{job}-{version}", device_time=when, body=body)
    write(shop.store, shop.desk, person, job, [new])
    return shop.store.jobs.state("shop", job)


def met(shop: Shop) -> dict[str, float]:
    """Return how lists that were asked for were met, as the monitor sees it."""
    text = shop.as_role("owner").get("/metrics").text
    lines = [line for line in text.splitlines() if line.startswith("drypark_lists_total{")]
    return {line.split('"')[1]: float(line.split()[-1]) for line in lines}


def test_likely_answers_are_thought_of_and_nothing_is_written(bay: Shop, thinker: Thinker) -> None:
    """Not found, two finds and can't tell are made in that order; record and store stay as is."""
    job = bay.as_role("technician").new_case()
    look(bay, job)
    assert thinker.made == ["", "not-found", "found", "found", "cant-tell"]
    state = bay.store.jobs.state("shop", job)
    assert state.version == 2
    assert not state.case.verdicts
    after = suppose(known(), state, bay.people["technician"].who, [verdict("not-found")])
    assert bay.store.answers.get(bay.desk.key_of(after)) is None
    assert bay.desk.there(bay.desk.key_of(after)) is None


def test_the_likelier_is_made_first(bay: Shop, thinker: Thinker) -> None:
    """Where a find is likelier than none, its list is made first."""
    thinker.chance = 0.9
    look(bay, bay.as_role("technician").new_case())
    assert thinker.made == ["", "found", "found", "not-found", "cant-tell"]


def test_an_answer_that_was_thought_of_is_there(bay: Shop, thinker: Thinker) -> None:
    """The tap makes no list any more; it is kept and shown as any other."""
    job = bay.as_role("technician").new_case()
    look(bay, job)
    before = len(thinker.made)
    state = say(bay, job, verdict("not-found"))
    answer = bay.desk.answer(state)
    assert len(thinker.made) == before
    assert answer.notes == (f"{len(state.record.events)} in the record",)
    assert met(bay) == {"made-now": 1.0, "ahead": 1.0}
    assert bay.desk.shown(bay.store.jobs.state("shop", job)) is not None


def test_a_gate_that_a_find_opens_is_thought_of_with_its_list(bay: Shop, thinker: Thinker) -> None:
    """The opening is written when the find is, once, and both lists were there."""
    thinker.opens = True
    job = bay.as_role("technician").new_case()
    look(bay, job)
    before = len(thinker.made)
    assert bay.store.jobs.state("shop", job).version == 2
    state = say(bay, job, verdict("found", cause=CAUSE, at="lf"))
    answer = bay.desk.answer(state)
    assert [gate.id for gate in answer.gates] == [GATE]
    assert len(thinker.made) == before
    events = bay.store.jobs.events("shop", job)
    assert [one.body.kind for one in events][-2:] == ["verdict", "gate-opened"]
    assert events[-1].who == PROGRAM


def test_what_nobody_thought_of_is_made_then(bay: Shop, thinker: Thinker) -> None:
    """Another person's word, or another thing, makes its list in the usual way."""
    job = bay.as_role("technician").new_case()
    look(bay, job)
    before = len(thinker.made)
    bay.desk.answer(say(bay, job, verdict("not-found"), role="senior"))
    assert len(thinker.made) == before + 1
    assert met(bay) == {"made-now": 2.0}


def test_a_list_that_is_being_thought_of_is_joined(bay: Shop, thinker: Thinker) -> None:
    """Who asks for it while it is being made waits for that one; it is made once."""
    job = bay.as_role("technician").new_case()
    client = bay.as_role("technician")
    bay.desk.answer(bay.store.jobs.state("shop", job))
    thinker.held.clear()
    client.get(f"/api/jobs/{job}/answer")
    until(lambda: thinker.made[-1] == "not-found")
    work = bay.desk.start(say(bay, job, verdict("not-found")))
    assert not work.finished
    thinker.held.set()
    assert work.future.result(30).case
    assert thinker.made.count("not-found") == 1
    assert met(bay) == {"made-now": 1.0, "joined": 1.0}


def test_nothing_is_thought_of_while_somebody_waits(bay: Shop, thinker: Thinker) -> None:
    """A list that somebody waits for goes first; thinking begins when it is there."""
    client = bay.as_role("technician")
    one, other = client.new_case(), client.new_case(complaint="another one")
    bay.desk.answer(bay.store.jobs.state("shop", one))
    thinker.held.clear()
    waited = bay.desk.start(bay.store.jobs.state("shop", other))
    client.get(f"/api/jobs/{one}/answer")
    time.sleep(0.3)
    assert thinker.made == ["", ""]
    thinker.held.set()
    assert waited.future.result(30).case
    until(lambda: len(thinker.made) == 6)


def test_thoughts_of_a_job_that_went_on_are_given_up(bay: Shop, thinker: Thinker) -> None:
    """After a finding is written down the lists without it are of no use to anybody."""
    client = bay.as_role("technician")
    job, other = client.new_case(), client.new_case(complaint="another one")
    bay.desk.answer(bay.store.jobs.state("shop", job))
    thinker.held.clear()
    work = bay.desk.start(bay.store.jobs.state("shop", other))
    client.get(f"/api/jobs/{job}/answer")
    until(lambda: bay.desk.thinks_ahead() >= 4)
    say(bay, job, verdict("cant-tell"))
    thinker.held.set()
    assert work.future.result(30).case
    until(lambda: not bay.desk.thinks_ahead())
    assert thinker.made == ["", ""]


def test_a_closed_job_is_not_thought_of(bay: Shop, thinker: Thinker) -> None:
    """Its next answer will not come."""
    job = bay.as_role("technician").new_case()
    bay.desk.answer(bay.store.jobs.state("shop", job))
    done = event({"kind": "closed", "outcome": "it was the tyre"})
    assert bay.as_role("technician").post(f"/api/jobs/{job}/events", [done]).status_code == 200
    look(bay, job)
    assert thinker.made == [""]


@pytest.mark.parametrize("error", [TriageError, RuntimeError])
def test_what_goes_wrong_ahead_is_told_to_who_asks(
    bay: Shop, thinker: Thinker, monkeypatch: pytest.MonkeyPatch, error: type[Exception]
) -> None:
    """A list that can't be made ahead stops no other, and its reason comes with the tap."""
    usual, after = Thinker.__call__, "not-found"

    def broken(self: Thinker, knowledge: Knowledge, case: Case, *more: object) -> Begun:
        if [one.verdict for one in case.verdicts] == [after]:
            raise error("this can't be answered")
        return usual(self, knowledge, case, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(Thinker, "__call__", broken)
    job = bay.as_role("technician").new_case()
    look(bay, job)
    assert thinker.made == ["", "found", "found", "cant-tell"]
    with pytest.raises(error, match="this can't be answered"):
        bay.desk.answer(say(bay, job, verdict(after)))


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """Return a shop whose lists are the engine's."""
    folder = tmp_path_factory.mktemp("real")
    with open_shop(folder, begin=begin_answer, hands=Hands(ahead=True)) as opened:
        yield opened


def pressed(body: Body) -> list[tuple[str, str]]:
    """Return the fields that the buttons of the bay sheet send for an answer."""
    carried = [("event", secrets.token_hex(12)), ("device_time", WHEN)]
    if isinstance(body, IntakeDone):
        return [*carried, ("kind", "intake-done"), ("check", body.check)]
    assert isinstance(body, VerdictGiven)
    said = body.verdict
    about = [("check", said.check), ("place", said.place or ""), ("answer", said.verdict)]
    if said.cause is None and known().checks[said.check].kind != "one-verdict":
        return [*carried, ("kind", "verdict-rest"), *about]
    where = [("cause", said.cause or ""), ("at", said.at or "")] if said.cause else []
    return [*carried, ("kind", "verdict"), *about, *where]


def listed_part(answer: Answer) -> dict[str, object]:
    """Return what the list of an answer says, apart from its account."""
    rows = answer.model_dump()
    return {name: rows[name] for name in ("gates", "checks", "while_there", "questions", "notes")}


@pytest.mark.parametrize("finding", ["sy-hum-speed", "sy-off-centre"])
def test_every_button_of_the_sheet_meets_its_list(real: Shop, finding: str) -> None:
    """Each likely answer, said on the page, finds the list made ahead; it is the engine's list."""
    page = PageBay(real, real.as_role("technician"))
    seen, numbers = 0, itertools.count()
    for number in numbers:
        job = page.job(saw(finding))
        look(real, job)
        state = real.store.jobs.state("shop", job)
        there = real.desk.now(state)
        assert there is not None
        likely = likely_next(known(), there)
        if number == len(likely):
            break
        before = met(real).get("ahead", 0.0)
        assert page.post(f"/jobs/{job}/events", pressed(likely[number][1])).status_code == 303
        after = real.store.jobs.state("shop", job)
        assert after.version > state.version
        listed = real.desk.answer(after)
        assert met(real)["ahead"] >= before + 1
        after = real.store.jobs.state("shop", job)
        begun = begin_answer(known(), after.case, after.record, lambda: None)
        assert listed_part(listed) == listed_part(begun.answer)
        seen += 1
    assert seen >= 4


@dataclass
class Noted:
    """Notes which whole answers it is given."""

    made: list[str]

    def keep(self, key: str, answer: Answer) -> None:
        """Note one."""
        self.made.append(key)

    def keep_fuller(self, key: str, answer: Answer, *, last: bool) -> None:
        """There is none."""
        raise AssertionError(key)


def test_an_account_waits_for_likely_thoughts_and_not_for_others(
    bay: Shop, thinker: Thinker
) -> None:
    """Whoever does the check needs the next list first; a rare answer holds no account up."""
    client = bay.as_role("technician")
    job, quiet = client.new_case(), threading.Event()
    bay.desk.answer(bay.store.jobs.state("shop", job))
    made: list[str] = []
    accounts = Accounts(
        quiet,
        Noted(made),
        lambda: bay.desk.thinks_ahead(likely=True),
    )
    quiet.set()
    thinker.held.clear()
    client.get(f"/api/jobs/{job}/answer")
    until(lambda: bay.desk.thinks_ahead() == 4)
    assert bay.desk.thinks_ahead(likely=True) == 2

    answer = quick_answer(known(), bay.store.jobs.state("shop", job).case, GateRecord())
    accounts.offer("not asked for", ("shop", job, 2), None, lambda pause: iter((answer,)))
    accounts.want("asked for", lambda pause: iter((answer,)))
    until(lambda: made == ["asked for"])
    time.sleep(0.2)
    assert made == ["asked for"]
    thinker.held.set()
    until(lambda: made == ["asked for", "not asked for"])
    accounts.close()
