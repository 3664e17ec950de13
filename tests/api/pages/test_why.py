"""The page that says why: picture, table, words; for the first cause and for others."""

from __future__ import annotations

import re

from api.answering.gating import GateRecord
from api.documents import Answer, Case, EvidenceWeight
from api.documents.answer import Contrast
from graph.terms import Knowledge
from tests.api.pages.bay import Bay, seen
from tests.api.pages.paper import paper_answer
from tests.api.web.shop import open_shop

FIRST = "rc-bearing-play@lr"


def full_answer(knowledge: Knowledge, case: Case, record: GateRecord) -> Answer:
    """Return the answer on paper with every part of the account; numbers are invented."""
    made = paper_answer(knowledge, case, record)
    if made.why is None:
        return made
    parts = (EvidenceWeight(finding="sy-hum-speed", decibans=12.0),)
    why = made.why.model_copy(
        update={
            "prior_decibans": -12.8,
            "incremental": parts,
            "posterior_decibans": -0.8,
            "order": "codes, then findings",
            "contrast": Contrast(other="rc-wss-sensor-failed@rr", weights=parts),
            "firm_top": 0.8,
            "perturbations": 100,
        }
    )
    first = made.causes[0].model_copy(update={"evidence": parts})
    return made.model_copy(update={"why": why, "causes": (first, *made.causes[1:])})


def test_the_page_tells_all_that_the_answer_knows_of_the_first_cause(bay: Bay) -> None:
    """Weights in words and decibans, the account, the contrast, what would change it, firmness."""
    with open_shop(bay.shop.settings.data / "other", compute=full_answer) as shop:
        person = Bay(shop, shop.as_role("trainee"))
        job = Bay(shop, shop.as_role("technician")).hum()
        text = person.page(f"/jobs/{job}/why")

    for heading in ("For and against", "How it came to be first", "Rather than", "What would"):
        assert heading in text
    assert "strong, for" in text  # Jeffreys 1961: 10 to 15 decibans
    assert "+12.0" in text
    assert "-12.8" in text
    assert "100 times" in text


def test_picture_and_table_stand_in_the_page_without_style_or_script(bay: Bay) -> None:
    """The browser refuses inline style; a page that needs it would be grey boxes."""
    text = bay.page(f"/jobs/{bay.hum()}/why?cause={FIRST}")

    assert text.count('class="reasoning"') == 2
    assert " style=" not in text
    assert not re.search(r"<script(?![^>]*\bsrc=)", text)
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    for target in re.findall(r'href="#([^"]+)"', text):
        assert target in ids
    assert len(re.findall(r'aria-label="cause: Hub bearing play, left rear"', text)) == 2


def test_another_cause_has_its_own_page(bay: Bay) -> None:
    """A technician asks about the one that he would have bet on."""
    job = bay.hum()
    text = bay.page(f"/jobs/{job}/why?cause=rc-wss-sensor-failed@rr")

    assert "Failed wheel speed sensor, right rear" in text
    assert "How it came to be first" not in text


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
