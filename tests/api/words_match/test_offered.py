"""What the write-up offers for a complaint: a denial as "not there", and nothing is chosen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.api.pages.bay import Bay
from tests.api.pages.paper import paper_answer
from tests.api.web.shop import open_shop

WORDS = "steering wheel shakes, not when I brake"


@pytest.fixture
def bay(tmp_path: Path) -> Iterator[Bay]:
    """Return a technician's browser."""
    with open_shop(tmp_path, compute=paper_answer) as shop:
        yield Bay(shop, shop.as_role("technician"))


def offers(bay: Bay, job: str) -> list[str]:
    """Return what the large buttons would accept."""
    form = bay.form(f"/jobs/{job}/write-up?step=words", step="words")
    return [value for name, value in form.buttons if name == "do" and value.startswith("accept|")]


def test_what_is_denied_is_offered_as_not_there(bay: Bay) -> None:
    """Accepted as present it would count for the cause that it speaks against."""
    job = bay.job(complaint=WORDS)
    states = {value.split("|")[1]: value.split("|")[3] for value in offers(bay, job)}

    assert states["sy-vib-wheel"] == "present"
    assert "absent" in states.values()
    assert len(states) == 5


def test_nothing_is_taken_down_by_itself(bay: Bay) -> None:
    """Words are no evidence before a person accepts a finding."""
    job = bay.job(complaint=WORDS)
    offers(bay, job)

    assert {body.kind for body in bay.bodies(job)} == {"written-up"}


def test_an_accepted_denial_is_an_absent_finding(bay: Bay) -> None:
    """The button does what it says."""
    job = bay.job(complaint=WORDS)
    denied = next(value for value in offers(bay, job) if value.endswith("|absent"))
    form = bay.form(f"/jobs/{job}/write-up?step=words", step="words")
    assert bay.send(form, ("do", denied)).status_code == 303
    case = bay.shop.store.jobs.state(bay.shop.settings.shop, job).case

    assert [(one.id, one.state) for one in case.findings] == [(denied.split("|")[1], "absent")]
