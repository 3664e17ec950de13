"""What is kept on the device besides answers: half-typed words, photos, pages."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from PIL import Image

from api.store.events import PhotoTaken
from tests.browser.conftest import DESK, Windows
from tests.browser.waiting import note_box, notes, open_sheet, says, until, write_note

pytestmark = pytest.mark.browser
#: EXIF tags by their numbers in the Exif standard (CIPA DC-008): make, GPS block.
MAKE, GPS = 0x010F, 0x8825


def photo(path: Path, colour: tuple[int, int, int]) -> Path:
    """Write a large photo that says where it was taken; return where it lies."""
    exif = Image.Exif()
    exif[MAKE], exif[GPS] = "invented maker", {1: "N", 2: (48.0, 12.0, 34.5)}
    Image.new("RGB", (3000, 2000), colour).save(path, "JPEG", exif=exif)
    return path


def test_half_a_note_survives_a_reload_and_goes_when_it_is_sent(windows: Windows) -> None:
    """The phone falls, the page is gone: the words are not."""
    page, job = open_sheet(windows, 1)
    note_box(page).fill("half a thou")
    page.reload()
    assert note_box(page).input_value() == "half a thou"
    page.get_by_text("Typed here before, kept on this device, not sent.").wait_for()

    with page.expect_navigation():  # a sheet loads itself anew when its answer is sent
        write_note(page, "half a thought, ended")
    says(page, "All sent.")
    until(page, lambda: "half a thought, ended" in notes(windows, job), "it is written")
    page.reload()
    assert note_box(page).input_value() == ""


def test_half_a_note_survives_a_reload_without_network(windows: Windows) -> None:
    """Both at once, and once it is in the queue it is there alone."""
    page, job = open_sheet(windows, 1)
    page.context.set_offline(True)
    note_box(page).fill("typed in the dark")
    page.reload()
    assert note_box(page).input_value() == "typed in the dark"
    page.get_by_role("button", name="Keep the note").click()
    says(page, "1 answer waiting to be sent.")
    page.reload()
    assert note_box(page).input_value() == ""

    page.context.set_offline(False)
    says(page, "All sent.")
    assert notes(windows, job).count("typed in the dark") == 1


def test_a_write_up_half_done_survives_a_reload(windows: Windows) -> None:
    """Fields of each kind; another job's fields stay as they are."""
    page = windows.signed_in(DESK)
    job, other = windows.served.jobs[1], windows.served.jobs[2]
    page.goto(f"/jobs/{job}/write-up")
    before = page.get_by_label("Driven wheels").input_value()
    page.get_by_label("In the customer\u2019s own words").fill("it hums, and then")
    page.get_by_label("Driven wheels").select_option("awd")
    box = page.locator("input[name=context]").first
    was = box.is_checked()
    box.set_checked(not was)
    page.reload()

    assert (
        page.get_by_label("In the customer\u2019s own words").input_value() == "it hums, and then"
    )
    assert page.get_by_label("Driven wheels").input_value() == "awd"
    assert page.locator("input[name=context]").first.is_checked() is not was
    page.goto(f"/jobs/{other}/write-up")
    assert (
        page.get_by_label("In the customer\u2019s own words").input_value() != "it hums, and then"
    )
    page.goto(f"/jobs/{job}/write-up")
    page.get_by_label("Driven wheels").select_option(before)
    page.locator("input[name=context]").first.set_checked(was)
    page.get_by_label("In the customer\u2019s own words").fill("")


def test_what_somebody_else_wrote_meanwhile_is_not_covered_by_a_draft(windows: Windows) -> None:
    """Both are shown: what stands, and what was typed and not sent."""
    page = windows.signed_in(DESK)
    other = windows.signed_in(DESK, who="senior")
    job = windows.served.jobs[2]
    for one, ticket in ((page, "77-half"), (other, "78-whole")):
        one.goto(f"/jobs/{job}/write-up")
        one.get_by_label("Ticket number").fill(ticket)
    with other.expect_navigation():
        other.locator("section[aria-labelledby=car] .row .main").last.click()
    page.reload()

    assert page.get_by_label("Ticket number").input_value() == "78-whole"
    page.get_by_text("Typed here before, and not sent: 77-half").wait_for()


def test_a_draft_is_for_whoever_typed_it(windows: Windows) -> None:
    """A shared tablet changes hands."""
    page, job = open_sheet(windows, 1)
    note_box(page).fill("mine alone")
    page.context.clear_cookies()
    page.goto("/sign-in")
    people = windows.served.store.people.list(windows.served.shop)
    page.get_by_role("button", name=next(o.name for o in people if o.role == "trainee")).click()
    page.wait_for_url("**/")
    page.goto(f"/jobs/{job}")

    assert note_box(page).input_value() == ""


def test_photos_taken_without_network_are_sent_in_order_with_the_answers(
    windows: Windows, tmp_path: Path
) -> None:
    """Counted, seen, small, without the place; through a reload, and each exactly once."""
    page, job = open_sheet(windows, 1)
    store, shop = windows.served.store, windows.served.shop
    rows = len(store.jobs.events(shop, job))
    page.context.set_offline(True)
    for name, colour in (("hub", (200, 30, 30)), ("nut", (30, 200, 30))):
        note_box(page)
        page.locator("input[name=caption]").fill(name)
        page.locator("input[type=file]").set_input_files(photo(tmp_path / f"{name}.jpg", colour))
        page.get_by_role("button", name="Keep the photo").click()
        says(page, f"photos among them: {1 + (name == 'nut')}.")
        write_note(page, f"after the {name}")
        says(page, f"{2 + 2 * (name == 'nut')} answers")
    page.reload()
    says(page, "4 answers waiting to be sent, photos among them: 2.")
    page.get_by_text("What is kept on this device").click()
    assert page.get_by_alt_text("The photo that is kept").count() == 2

    page.context.set_offline(False)
    says(page, "All sent.")
    bodies = [row.body for row in store.jobs.events(shop, job)[rows:]]
    told = [
        one.caption if isinstance(one, PhotoTaken) else getattr(one, "text", "") for one in bodies
    ]
    assert told == ["hub", "after the hub", "nut", "after the nut"]
    kept = [store.photos.get(shop, job, one.photo) for one in bodies if isinstance(one, PhotoTaken)]
    for data in kept:
        with Image.open(io.BytesIO(data)) as picture:
            assert picture.size == (1600, 1067)
            assert not picture.getexif()


def test_a_photo_leaves_the_device_small_and_without_the_place(
    windows: Windows, tmp_path: Path
) -> None:
    """What is kept on a tablet that may be lost is the picture alone."""
    page, _job = open_sheet(windows, 1)
    page.context.set_offline(True)
    note_box(page)
    page.locator("input[type=file]").set_input_files(photo(tmp_path / "p.jpg", (1, 2, 3)))
    page.get_by_role("button", name="Keep the photo").click()
    says(page, "photos among them: 1.")
    page.get_by_text("What is kept on this device").click()
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save the photo").click()
    with Image.open(saved.value.path()) as picture:
        assert max(picture.size) == 1600
        assert not picture.getexif()
    page.get_by_role("button", name="Take back").click()
    page.context.set_offline(False)


def test_a_photo_that_is_none_is_refused_shown_and_kept(windows: Windows, tmp_path: Path) -> None:
    """It holds up nothing behind it, and can be saved or thrown away."""
    page, job = open_sheet(windows, 1)
    page.context.set_offline(True)
    bad = tmp_path / "notes.jpg"
    bad.write_text("no picture")
    note_box(page)
    page.locator("input[type=file]").set_input_files(bad)
    page.get_by_role("button", name="Keep the photo").click()
    says(page, "photos among them: 1.")
    write_note(page, "behind the photo")

    page.context.set_offline(False)
    says(page, "1 answer not taken")
    until(page, lambda: "behind the photo" in notes(windows, job), "the one behind it is sent")
    page.get_by_text("this is no JPEG, PNG or WebP picture").first.wait_for()
    page.get_by_role("button", name="Throw away").click()
    says(page, "All sent.")


@pytest.mark.parametrize("number", [401, 503])
def test_a_photo_waits_where_nobody_is_signed_in_or_the_server_is_ill(
    windows: Windows, tmp_path: Path, number: int
) -> None:
    """The photo is right; only the moment is wrong."""
    page, job = open_sheet(windows, 1)
    path = f"**/jobs/{job}/photos"
    page.route(path, lambda route: route.fulfill(status=number, json={"detail": "later"}))
    note_box(page)
    page.locator("input[type=file]").set_input_files(
        photo(tmp_path / "p.jpg", (number % 250, 9, 9))
    )
    page.get_by_role("button", name="Keep the photo").click()
    says(page, "photos among them: 1.")
    count = photos_in(windows, job)

    page.unroute(path)
    page.reload()
    says(page, "All sent.")
    assert photos_in(windows, job) == count + 1


def photos_in(windows: Windows, job: str) -> int:
    """Return how many photos the records hold of a job."""
    rows = windows.served.store.jobs.events(windows.served.shop, job)
    return sum(isinstance(row.body, PhotoTaken) for row in rows)


def test_a_server_that_hangs_does_not_keep_a_page_from_opening(windows: Windows) -> None:
    """The worker gives the network four seconds, and then shows what was kept, style and all."""
    page, job = open_sheet(windows, 1)
    name = page.locator(".title-block h1").inner_text()
    windows.served.stuck.set()
    try:
        page.goto(f"/jobs/{job}", timeout=30_000)
        assert page.locator(".title-block h1").inner_text() == name
        assert page.evaluate("getComputedStyle(document.body).fontSize") == "20px"
        assert windows.served.stuck.is_set()
        page.goto("/", timeout=30_000)
        page.get_by_role("heading", name="Open jobs").wait_for(timeout=30_000)
        assert windows.served.stuck.is_set()
    finally:
        windows.served.stuck.clear()


def test_what_is_kept_can_be_saved_as_a_file_without_the_pictures(
    windows: Windows, tmp_path: Path
) -> None:
    """The file for repair names the photo; the picture is saved beside it."""
    page, _job = open_sheet(windows, 1)
    page.context.set_offline(True)
    note_box(page)
    page.locator("input[type=file]").set_input_files(photo(tmp_path / "p.jpg", (9, 9, 9)))
    page.get_by_role("button", name="Keep the photo").click()
    says(page, "photos among them: 1.")
    page.get_by_text("What is kept on this device").click()
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save as a file (JSON)").click()
    (row,) = json.loads(Path(saved.value.path()).read_text(encoding="utf-8"))
    assert row["photo"] == {}
    assert row["action"].endswith("/photos")
    page.get_by_role("button", name="Take back").click()
    page.context.set_offline(False)
