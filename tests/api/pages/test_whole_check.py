"""Answering thing by thing ends with a verdict on the whole check."""

from __future__ import annotations

from tests.api.pages.bay import Bay
from tests.api.pages.paper import CORNER
from tests.api.pages.test_bay_sheet import jump


def test_answered_thing_by_thing_the_check_is_done_for_the_gates(bay: Bay) -> None:
    """The last thing not found brings the verdict on the whole check, which closes a gate."""
    job = bay.hum()
    path = jump(job, CORNER, "&which=1")
    whole = (CORNER[0], "", "lr", "not-found")

    bay.send(bay.form(path, cause="rc-bearing-play"), ("answer", "not-found"))
    begun = bay.verdicts(job)
    bay.send(bay.form(path, kind="verdict-rest"), ("answer", "not-found"))
    done = bay.verdicts(job)
    bay.send(bay.form(path, cause="rc-bearing-play"), ("answer", "found"))

    assert whole not in begun
    assert whole in done
    assert whole not in bay.verdicts(job)
    assert bay.page(f"/jobs/{job}")
