"""What a page must never do: run what was typed, call out, grow heavy, or send a bare form."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.api.pages.bay import Bay, forms_of, seen
from tests.api.pages.paper import CORNER
from tests.api.web.test_photos import picture

TOP = Path(__file__).resolve().parents[3] / "api"
TEMPLATES = sorted((TOP / "templates").rglob("*.html"))
STATIC = sorted(path for path in (TOP / "static").rglob("*") if path.is_file())
NASTY = "\"'><script>alert(1)</script><img src=x onerror=alert(2)>{{7*7}}"
HEAVIEST = 150_000
#: Forms that change nothing in a job, and so carry no event.
NO_EVENT = ("/sign-in", "/sign-out", "/people", "/device", "/keys")


@pytest.fixture
def nasty(bay: Bay) -> tuple[Bay, str]:
    """Return a job with a script in every text that a person can type."""
    job = bay.job(
        seen("sy-hum-speed"),
        seen("sy-knock-wheel-speed"),
        {"kind": "note", "text": NASTY},
        {"kind": "unmatched", "words": NASTY},
        {"kind": "waiting", "waiting_for": NASTY},
        {
            "kind": "verdict",
            "verdict": {"check": CORNER[0], "place": "lr", "verdict": "cant-tell"},
            "note": NASTY,
        },
        {
            "kind": "code-read",
            "codes": [{"code": "C0051", "module": NASTY}],
            "raw": NASTY,
        },
        {
            "kind": "reading",
            "check": "ck-hub-play-dial",
            "place": "lr",
            "cause": "rc-bearing-play",
            "at": "lr",
            "reading": {
                "value": 0.19,
                "unit": "mm",
                "limit": 0.1,
                "uncertainty": 0.01,
                "limit_source": NASTY,
            },
        },
        {"kind": "closed", "outcome": NASTY},
        {"kind": "comeback", "words": NASTY},
        ticket=NASTY,
        complaint=NASTY,
        vehicle={"label": NASTY, "tyres": {"all": NASTY}},
    )
    senior = bay.as_role("senior")
    form = senior.form(f"/jobs/{job}", kind="gate-overruled")
    senior.send(form, reason=NASTY, instead=NASTY)
    told = {"id": "photo-event-00001", "device_time": "2026-03-02T08:15:00Z", "caption": NASTY}
    files = {"photo": ("p.jpg", picture())}
    assert bay.client.send("POST", f"/api/jobs/{job}/photos", files=files, data=told).is_success
    bay.shop.store.people.add(bay.shop.settings.shop, NASTY, "technician")
    return bay, job


#: Every field of every page that takes words, and how the fixture has it hold a script.
HOLDS = {
    "ticket": "written up",
    "label": "written up",
    "tyres": "written up",
    "complaint": "written up",
    "raw": "a code read from it",
    "text": "a note",
    "caption": "a photo",
    "words": "a comeback",
    "waiting_for": "waiting",
    "outcome": "closed",
    "note": "beside a verdict",
    "source": "a reading",
    "reason": "a gate overruled",
    "instead": "a gate overruled",
    "name": "a person",
}
#: Fields whose words go nowhere but into the page that answers, or that take numbers alone.
ECHOED = {"search", "find", "seek"}
NUMBERS = {"age_years", "odometer_km", "value", "limit", "uncertainty"}


def test_every_field_that_takes_words_was_given_a_script(nasty: tuple[Bay, str]) -> None:
    """Partner of the sweep below: a new field is tried, or this fails."""
    bay, job = nasty
    text = re.compile(r"<(?:textarea|input)\b[^>]*>")
    kept = re.compile(r'type="(?:hidden|radio|checkbox|file|password)"')
    named: set[str] = set()
    for asker in (bay, bay.as_role("senior"), bay.as_role("owner")):
        for path in pages_of(job):
            for tag in text.findall(asker.page(path)):
                if not kept.search(tag):
                    named |= set(re.findall(r'\bname="([^"]+)"', tag))
    assert named - set(HOLDS) - ECHOED - NUMBERS == set()
    assert len(named) >= 15


def pages_of(job: str) -> list[str]:
    """Return the address of every page."""
    steps = ("car", "work", "words", "findings", "codes", "questions", "gates")
    return [
        "/",
        "/?search=zzz",
        f"/jobs/{job}",
        f"/jobs/{job}?upto=3",
        f"/jobs/{job}?check={CORNER[0]}&place=lr&which=1",
        f"/jobs/{job}?find=joint",
        f"/jobs/{job}/history",
        f"/jobs/{job}/why",
        *(f"/jobs/{job}/write-up?step={step}" for step in steps),
        "/people",
        "/keys",
        "/sign-in",
    ]


def test_what_was_typed_is_shown_and_never_run(nasty: tuple[Bay, str]) -> None:
    """A script in any text field comes back as text, on every page."""
    bay, job = nasty
    shown = 0
    for path in pages_of(job):
        text = bay.page(path)
        assert "<script>alert" not in text, path
        assert "<img src=x" not in text, path
        assert "49" not in re.findall(r"alert\(2\)(?:&gt;|>)(\d*)", text)
        shown += text.count("&lt;script&gt;alert(1)")
    assert shown > 20


def test_a_search_and_a_bad_address_give_nothing_back_unescaped(bay: Bay) -> None:
    """What stands in an address is typed by somebody too."""
    job = bay.hum()
    for path in (
        "/?search=%3Cscript%3Ealert(1)",
        f"/jobs/{job}?find=%3Cscript%3Ealert(1)",
        f"/jobs/{job}?check=%3Cscript%3Ealert(1)&place=%22onx",
        f"/jobs/{job}/write-up?step=findings&seek=%3Cscript%3Ealert(1)",
        "/sign-in?next=%22%3E%3Cscript%3Ealert(1)",
    ):
        answer = bay.client.get(path)
        assert "<script>alert" not in answer.text, path
        assert '"onx' not in answer.text, path


@pytest.mark.parametrize("to", ["//other.example/x", "https://other.example", "/\\other.example"])
def test_a_form_leads_to_no_other_machine(bay: Bay, to: str) -> None:
    """Where a form goes afterwards is a path of our own, whatever it brings."""
    answer = bay.post("/keys", [("theme", "bay"), ("back", to)])

    assert answer.headers["location"] == "/keys"


def test_every_page_carries_the_content_policy(bay: Bay) -> None:
    """The browser itself refuses what slips through."""
    job = bay.hum()
    for path in (*pages_of(job), "/nowhere"):
        policy = bay.client.get(path).headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy


def test_no_page_holds_a_script_or_a_style_of_its_own(bay: Bay) -> None:
    """The policy would refuse them; here they are not even written."""
    job = bay.hum()
    for path in (*pages_of(job), "/nowhere"):
        text = bay.client.get(path).text
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:", text), path
        for inside in re.findall(r"<script[^>]*>(.*?)</script>", text, re.DOTALL):
            assert inside == "", path


@pytest.mark.parametrize("path", [*TEMPLATES, *STATIC], ids=lambda path: path.name)
def test_nothing_served_names_another_machine(path: Path) -> None:
    """No outgoing connection, ever: not for a font, a script or a picture."""
    text = path.read_text(encoding="utf-8", errors="ignore")
    found = re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}[^\s\"')]*", text)

    assert [one for one in found if one != "http://www.w3.org/2000/svg"] == []


def test_the_sweep_over_what_is_served_found_files() -> None:
    """A sweep over nothing proves nothing."""
    assert len(TEMPLATES) > 15
    assert {"bay.css", "bay.js"} <= {path.name for path in STATIC}


def test_no_page_is_heavy(nasty: tuple[Bay, str]) -> None:
    """Under 150 kB with style and scripts, for bad Wi-Fi."""
    bay, job = nasty
    beside = sum(path.stat().st_size for path in STATIC)
    weights = {path: len(bay.page(path).encode()) + beside for path in pages_of(job)}

    assert {path: size for path, size in weights.items() if size > HEAVIEST} == {}


def test_every_form_that_writes_carries_an_event(nasty: tuple[Bay, str]) -> None:
    """A double tap is one event because the page made its id."""
    bay, job = nasty
    looked = 0
    for asker in (bay, bay.as_role("senior"), bay.as_role("trainee")):
        for path in pages_of(job):
            for form in forms_of(asker.page(path)):
                if (
                    form.method != "post"
                    or form.action in NO_EVENT
                    or form.action.endswith("/stop")
                ):
                    continue
                looked += 1
                assert re.fullmatch(r"[0-9a-f]{24}", form.value("event")), (path, form.action)
                assert form.action.startswith("/")
    assert looked > 40


def test_every_event_id_on_a_page_is_its_own(bay: Bay) -> None:
    """Two forms with one id would swallow each other."""
    ids = [
        form.value("event")
        for form in forms_of(bay.page(f"/jobs/{bay.hum()}"))
        if form.value("event")
    ]

    assert len(ids) > 8
    assert len(set(ids)) == len(ids)


def test_a_post_from_another_page_is_refused(bay: Bay) -> None:
    """Another page in the same browser can't write into a job."""
    job = bay.hum()
    rows = "event=" + "a" * 24 + "&kind=note&text=foreign"
    headers = {
        "origin": "http://other.example",
        "content-type": "application/x-www-form-urlencoded",
    }
    answer = bay.client.http.post(f"/jobs/{job}/events", content=rows, headers=headers)

    assert answer.status_code == 403
    assert "note" not in [body.kind for body in bay.bodies(job)]


def test_another_shops_job_does_not_exist(bay: Bay) -> None:
    """Not even that it is there is told."""
    stranger = bay.shop.store.people.add("another shop", "Stranger", "technician")
    job = bay.hum()
    client = bay.shop.anybody()
    token = bay.shop.store.sessions.create(stranger, "a test")
    client.http.cookies.set("drypark-person", token)
    other = Bay(bay.shop, client)

    for path in (f"/jobs/{job}", f"/jobs/{job}/write-up", f"/jobs/{job}/history"):
        assert other.client.get(path, headers={"accept": "text/html"}).status_code == 404
    rows = [("event", "b" * 24), ("kind", "note"), ("text", "hello")]
    assert other.post(f"/jobs/{job}/events", rows).status_code == 404


def test_the_words_of_the_pages_keep_the_voice() -> None:
    """No promise, no alarm, no jargon: short, plain, the trade's words."""
    for path in TEMPLATES:
        text = re.sub(r"\{[%#{].*?[%#}]\}|<[^>]*>", " ", path.read_text(encoding="utf-8"))
        assert not re.search(r"safe to drive|guarantee|are you sure|posterior|\bDTC\b", text), path
        assert "!" not in text, path
