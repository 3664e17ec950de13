"""What tests of a dead network share: the sheet of a job, its notes, and waiting for words."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from api.store.events import Note
from tests.browser.conftest import PHONE, Windows

__all__ = ["note_box", "notes", "open_sheet", "says", "status", "until", "write_note"]


def until(page: Any, holds: Callable[[], bool], what: str, seconds: float = 15.0) -> None:
    """Poll until something holds, letting the page work meanwhile."""
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, f"not in time: {what}"
        page.wait_for_timeout(50)


def status(page: Any) -> str:
    """Return what the page says of the network and the queue."""
    return str(page.locator("[data-queue] [role=status]").inner_text())


def says(page: Any, words: str) -> None:
    """Wait until the page says so."""
    until(page, lambda: words in status(page), f"{words!r}; it says {status(page)!r}")


def open_sheet(windows: Windows, number: int = 0) -> tuple[Any, str]:
    """Return the sheet of a job on a phone, its list made, kept by the worker."""
    page = windows.signed_in(PHONE)
    job = windows.served.jobs[number]
    page.goto(f"/jobs/{job}")
    until(page, lambda: page.locator("body[data-making]").count() == 0, "the list is made")
    page.wait_for_load_state()  # a page whose list has come loads itself anew
    says(page, "Works offline.")
    held = f"caches.match('/jobs/{job}').then((one) => Boolean(one))"
    until(page, lambda: bool(page.evaluate(held)), "the page is kept")
    return page, job


def note_box(page: Any) -> Any:
    """Return the field for a note, unfolded."""
    box = page.get_by_label("Note", exact=True)
    if not box.is_visible():
        page.locator("summary:has(#notes)").click()
    return box


def write_note(page: Any, text: str) -> None:
    """Write a note, as typed on the sheet."""
    note_box(page).fill(text)
    page.get_by_role("button", name="Keep the note").click()


def notes(windows: Windows, job: str) -> list[str]:
    """Return the notes in the records, in their order."""
    rows = windows.served.store.jobs.events(windows.served.shop, job)
    return [row.body.text for row in rows if isinstance(row.body, Note)]
