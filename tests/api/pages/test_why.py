"""The page that says why: picture, table, words; for the first cause and for others."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from api.answering.asked_cause import AskedCause
from api.answering.gating import GateRecord
from api.documents import Answer, Case, EvidenceWeight, Why
from api.documents.answer import Contrast
from api.labels import label_of
from api.pages import why
from api.words import place_words
from graph.case import CaseInput
from graph.terms import Knowledge
from tests.api.pages.bay import Bay, seen
from tests.api.pages.paper import paper_account, paper_answer
from tests.api.web.shop import known, open_shop

FIRST = "rc-bearing-play@lr"


def full_answer(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
    """Return the answer on paper with every part of the account; numbers are invented."""
    made = paper_answer(knowledge, case, record)
    if made.why is None:
        return made
    parts = (EvidenceWeight(finding="sy-hum-speed", decibans=12.0),)
    first_why = made.why.model_copy(
        update={
            "prior_decibans": -12.8,
            "incremental": parts,
            "posterior_decibans": -0.8,
            "order": "codes, then findings",
            "contrast": Contrast(other="rc-wss-sensor-failed@rr", weights=parts),
            "firm_top": 0.8,
            "firm_top_range": (0.71, 0.87),
            "perturbations": 100,
        }
    )
    first = made.causes[0].model_copy(update={"evidence": parts})
    return made.model_copy(update={"why": first_why, "causes": (first, *made.causes[1:])})


def test_the_page_tells_all_that_the_answer_knows_of_the_first_cause(bay: Bay) -> None:
    """Weights in words and decibans, the account, the contrast, what would change it, firmness."""
    with open_shop(bay.shop.settings.data / "other", compute=full_answer) as shop:
        person = Bay(shop, shop.as_role("trainee"))
        job = Bay(shop, shop.as_role("technician")).hum()
        text = person.page(f"/jobs/{job}/why")

    for heading in ("For and against", "How it came to be first", "Rather than", "What would"):
        assert heading in text
    assert "100 times so far, of 200" in text
    assert "strong, for" in text  # Jeffreys 1961: 10 to 15 decibans
    assert "+12.0" in text
    assert "-12.8" in text
    assert "100 times" in text
    assert "of very many it would be 70 % to 85 %" in text


def without_weights(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
    """Return the answer on paper of a case that is too wide for weights and ranges."""
    made = full_answer(knowledge, case, record)
    causes = tuple(
        row.model_copy(
            update={"evidence": (), "low": row.responsibility, "high": row.responsibility}
        )
        for row in made.causes
    )
    return made.model_copy(update={"causes": causes})


def test_what_was_left_out_is_not_shown_as_nothing(bay: Bay) -> None:
    """No weights worked out is not the same as no statement weighs; no range is not a firm one."""
    with open_shop(bay.shop.settings.data / "wide", compute=without_weights) as shop:
        person = Bay(shop, shop.as_role("technician"))
        text = person.page(f"/jobs/{person.hum()}/why")

    assert "what each statement weighs by itself was left out" in text
    assert "No statement weighs on it" not in text
    assert "when the strengths are off" not in text


def test_picture_and_table_stand_in_the_page_without_style_or_script(bay: Bay) -> None:
    """The browser refuses inline style; a page that needs it would be grey boxes."""
    text = bay.page(f"/jobs/{bay.hum()}/why?cause={FIRST}")

    assert text.count('class="reasoning') == 2
    assert " style=" not in text
    assert not re.search(r"<script(?![^>]*\bsrc=)", text)
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    for target in re.findall(r'href="#([^"]+)"', text):
        assert target in ids
    assert len(re.findall(r'aria-label="cause: Hub bearing play, left rear"', text)) == 2


def test_every_cause_that_is_shown_has_its_whole_account(bay: Bay) -> None:
    """A technician asks about the one that he would have bet on: ways, parts, contrast, outlook."""
    job = bay.hum()
    shown = [FIRST, "rc-wss-sensor-failed@rr", "rc-outer-tie-rod-worn@lf"]
    for cause in shown:
        text = bay.page(f"/jobs/{job}/why?cause={cause}")
        assert f"<h1>Why {worded_cause(cause)}" in text
        for heading in ("How it came to", "Rather than", "What would change"):
            assert heading in text, (cause, heading)
        assert "-12.0" in text
        assert "-4.0" in text
        assert ("How it leads to what is seen" in text) == ("wss" not in cause)  # it hums not


def worded_cause(cause: str) -> str:
    """Return the words of a cause."""
    kind, _, place = cause.partition("@")
    return f"{label_of(known(), kind)}, {place_words(place)}"


SLOW, STEPPED = threading.Event(), threading.Event()


def slow_account(
    knowledge: Knowledge, case: CaseInput, asked: AskedCause, step: Callable[[int], None]
) -> Why:
    """Go on with the account when the test says so."""
    step(2)
    STEPPED.set()
    assert SLOW.wait(20)
    step(3)
    return paper_account(knowledge, case, asked, step)


@pytest.fixture
def slow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Bay, str]]:
    """Return a page whose account takes its time."""
    SLOW.clear()
    STEPPED.clear()
    monkeypatch.setattr(why, "PATIENCE", 0.05)
    with open_shop(tmp_path, compute=paper_answer, explains=slow_account) as shop:
        bay = Bay(shop, shop.as_role("technician"))
        job = bay.hum()
        shop.desk.answer(shop.store.jobs.state(shop.settings.shop, job))
        yield bay, f"/jobs/{job}/why?cause={FIRST}"
        SLOW.set()


def test_the_picture_is_read_while_the_account_is_made(slow: tuple[Bay, str]) -> None:
    """Counted, in words, with a link to look again, and there when it is ready."""
    bay, address = slow
    bay.page(address)
    assert STEPPED.wait(20)
    text = bay.page(address)

    assert 'class="reasoning"' in text
    assert "2 of 5 steps done: what each statement adds" in text
    assert '<progress max="5" value="2"' in text
    assert "Look again" in text
    assert "http-equiv" not in text
    SLOW.set()
    for _look in range(200):
        if "data-making" not in text:
            break
        text = bay.page(address)
    assert "How it came to" in text


def test_an_account_that_takes_long_can_be_stopped_and_asked_for_again(
    slow: tuple[Bay, str],
) -> None:
    """Whoever has seen enough holds nobody up."""
    bay, address = slow
    bay.page(address)
    assert STEPPED.wait(20)
    job = address.split("/")[2]
    answer = bay.post(f"/jobs/{job}/why/stop", [("cause", FIRST)])
    text = bay.page(answer.headers["location"])

    assert answer.status_code == 303
    assert "It was stopped" in text
    assert "data-making" not in text
    SLOW.set()
    assert "data-making" in bay.page(address) or "How it came to" in bay.page(address)


def test_a_cause_that_the_car_has_not_is_told(bay: Bay) -> None:
    """A link from another job must not end in an error nobody understands."""
    job = bay.hum()
    for cause in ("rc-nothing", "sy-hum-speed", "<script>"):
        answer = bay.client.get(f"/jobs/{job}/why?cause={cause}", headers={"accept": "text/html"})
        assert answer.status_code == 404
        assert "this car has no such cause" in answer.text.lower()
        assert "<script>" not in answer.text


def test_without_anything_to_go_by_the_page_says_what_to_do(bay: Bay) -> None:
    """An empty state teaches."""
    text = bay.page(f"/jobs/{bay.job(complaint='')}/why")

    assert "Write it up" in text


def test_only_what_is_seen_leads_to_the_picture(bay: Bay) -> None:
    """An absent finding is no end of a path."""
    job = bay.hum(seen("sy-lamp-abs", "absent"))
    text = bay.page(f"/jobs/{job}/why?cause={FIRST}")

    assert "ABS lamp on" not in "".join(re.findall(r'aria-label="finding: [^"]*"', text))
