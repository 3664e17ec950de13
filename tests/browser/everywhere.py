"""Every page of the service in each of its faces, gone through once and measured.

The one idea: loading a page costs more than measuring it. Each face is loaded once on a phone
and once at a desk; everything that is asked of every page (rules of axe in every theme, targets,
gaps, letters, reflow, weight, keyboard) is measured there and kept, and the tests look at what
was kept. So "on every page in every theme" is a number that can be counted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final
from urllib.parse import urlsplit

from axe_playwright_python.base import AXE_SCRIPT

from api.pages.rendering import STATIC, THEMES
from tests.browser.conftest import DESK, PASSWORD, PHONE, UNEXPLAINED, Served, Windows

__all__ = [
    "DEVICES",
    "NOT_PAGES",
    "TARGETS",
    "Face",
    "Measured",
    "Rules",
    "faces",
    "go_everywhere",
    "window_of",
]

KNOCK: Final = "sy-knock-wheel-speed"  # shuts the road on paper
STEPS: Final = ("car", "work", "words", "findings", "codes", "questions", "gates")
RULES: Final = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
#: What is read but is no page: for programs, for the browser itself, and pictures.
NOT_PAGES: Final = frozenset(
    {
        "/livez",
        "/readyz",
        "/metrics",
        "/openapi.json",
        "/static/{path:path}",
        "/worker.js",
        "/manifest.webmanifest",
        "/trust/{name}",
        "/jobs/{job}/photos/{photo}",
    }
)
#: Each theme by its name, and what the device itself asks for where the theme leaves it open.
DEVICES: Final[tuple[tuple[str, dict[str, str]], ...]] = (
    *((theme, {"color_scheme": "light", "contrast": "no-preference"}) for theme in THEMES),
    ("", {"color_scheme": "dark", "contrast": "more"}),
)
_PRESSED = "a, button, summary, select, textarea, input, label"
#: Everything that is pressed or typed into, with its box, in document order.
TARGETS: Final = f"""
() => [...document.querySelectorAll({_PRESSED!r})]
  .filter(e => !e.closest('.gone, .skip') && !(e.matches('input') && e.closest('label.choice'))
    && !(e.matches('input') && e.type === 'hidden') && !e.matches('label.gone')
    && e.getClientRects().length && e.checkVisibility())
  .map(e => {{ const r = e.getBoundingClientRect();
    return {{ what: e.tagName + ' ' + (e.innerText || e.name || e.id).slice(0, 40),
      field: e.matches('label.field'), foot: Boolean(e.closest('[data-queue]')),
      x: r.left, y: r.top + scrollY, w: r.width, h: r.height }}; }})
"""
SMALL_TYPE: Final = """
() => [...document.querySelectorAll('body *')]
  .filter(e => !e.closest('.gone, svg') && e.checkVisibility()
    && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
  .map(e => [parseFloat(getComputedStyle(e).fontSize), e.textContent.trim().slice(0, 30)])
  .filter(row => row[0] < 15.99)
"""
#: What can be pressed and is not reached by Tab, or is pressed by something that is no control.
BY_MOUSE_ONLY: Final = """
() => [...document.querySelectorAll('body *')]
  .filter(e => e.checkVisibility() && (e.draggable && !e.matches('a, img')
    || e.matches('a:not([href]), [onclick], [ondblclick], [role=button]:not(button, summary)')
    || e.matches('a, button, summary, select, textarea, input:not([type=hidden])')
       && !e.disabled && e.tabIndex < 0 && !e.closest('.gone, .only-phone')))
  .map(e => e.outerHTML.slice(0, 120))
"""
_AXE = """
async (asked) => {
  const told = await axe.run(asked);
  return { passes: told.passes.map((row) => row.id),
    found: told.violations.map(
      (row) => [row.id, row.nodes.slice(0, 3).map((n) => n.html.slice(0, 160))]) };
}
"""


@dataclass(frozen=True)
class Face:
    """One page in one of its faces.

    Attributes
    ----------
    route : as the table of permissions has it; empty = an address that does not exist
    address : what is opened; a whole one leads to the shop with passwords
    who : role that looks; empty = nobody signed in; tablet = nobody, on a shared tablet
    desk : whether the rules are asked at a desk too; there a write-up is all its steps at once
    """

    route: str
    address: str
    who: str = "senior"
    desk: bool = True


@dataclass
class Rules:
    """What axe said of one face in one theme at one size."""

    passed: int
    found: list[tuple[str, list[str]]]


@dataclass
class Measured:
    """What was measured of one face; by size where the size matters."""

    face: Face
    axe: dict[tuple[str, int], Rules] = field(default_factory=dict)  # device's number and width
    targets: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    wide: dict[str, int] = field(default_factory=dict)
    small_type: list[Any] = field(default_factory=list)
    body: str = ""
    by_mouse_only: list[str] = field(default_factory=list)
    weight: int = 0


def faces(served: Served) -> list[Face]:
    """Return every page in each of its faces."""
    job, bare, making = served.jobs[0], served.jobs[-1], served.making
    sheet, one = "/jobs/{job}", f"/jobs/{job}"
    return [
        Face("/", "/"),
        Face("/", "/?search=nothing-like-it"),
        Face("/", "/?closed=1", "owner"),
        Face(sheet, one),
        Face(sheet, one, "trainee"),
        Face(sheet, f"{one}?check=ck-dry-park&place=front&which=1"),
        Face(sheet, f"{one}?check=ck-dry-park&place=front&cause=rc-outer-tie-rod-worn"),
        Face(sheet, f"{one}?at=lr&find=joint"),
        Face(sheet, f"{one}?upto=3"),
        Face(sheet, f"{one}?stopped=1"),
        Face(sheet, f"/jobs/{bare}"),
        Face(sheet, f"/jobs/{making}"),
        Face(sheet, f"/jobs/{_shut(served)}"),
        Face(sheet, f"/jobs/{_shut(served)}", "technician"),
        *(
            Face(f"{sheet}/write-up", f"{one}/write-up?step={step}", desk=step == STEPS[0])
            for step in STEPS
        ),
        Face(f"{sheet}/write-up", f"{one}/write-up?step=findings&seek=joint"),
        Face(f"{sheet}/why", f"{one}/why"),
        Face(f"{sheet}/why", f"{one}/why?cause=rc-outer-tie-rod-worn%40lf"),
        Face(f"{sheet}/why", f"{one}/why?cause={UNEXPLAINED}"),
        Face(f"{sheet}/why", f"{one}/why?cause={UNEXPLAINED}&stopped=1"),
        Face(f"{sheet}/why", f"/jobs/{bare}/why"),
        Face(f"{sheet}/why", f"/jobs/{making}/why"),
        Face(f"{sheet}/history", f"{one}/history"),
        Face("/people", "/people"),
        Face("/people", "/people", "owner"),
        Face("/keys", "/keys"),
        Face("/trust", "/trust"),
        Face("/api/", "/api/"),
        Face("/sign-in", "/sign-in"),
        Face("/sign-in", f"{served.strict}/sign-in", ""),
        Face("/sign-in", f"{served.strict}/sign-in", "tablet"),
        Face("", "/nowhere"),
    ]


def _shut(served: Served) -> str:
    """Return a job with a gate that shuts the road."""
    for job in served.jobs:
        case = served.store.jobs.state(served.shop, job).case
        if any(one.id == KNOCK and one.state == "present" for one in case.findings):
            return job
    raise AssertionError(f"no job of the invented shop has {KNOCK}")


def go_everywhere(windows: Windows) -> list[Measured]:
    """Go through every face on a phone and at a desk; return what was measured."""
    rows = [Measured(face) for face in faces(windows.served)]
    for size, look in ((PHONE, _on_a_phone), (DESK, _at_a_desk)):
        for page, row in _opened(windows, size, rows):
            look(page, row)
    return rows


def _opened(
    windows: Windows, size: dict[str, int], rows: list[Measured]
) -> Iterator[tuple[Any, Measured]]:
    """Yield each face, opened, with what is folded away unfolded."""
    for who in dict.fromkeys(row.face.who for row in rows):
        page = window_of(windows, size, who)
        page.context.add_init_script(AXE_SCRIPT)
        for row in rows:
            if row.face.who == who:
                page.set_viewport_size(size)
                page.goto(row.face.address)
                if size is PHONE:
                    row.targets["folded"] = page.evaluate(TARGETS)
                page.evaluate("document.querySelectorAll('details').forEach(e => e.open = true)")
                yield page, row


def window_of(windows: Windows, size: dict[str, int], who: str) -> Any:
    """Return the page of a role; workers stay out, so that only what is opened is loaded."""
    if who and who != "tablet":
        return windows.signed_in(size, who=who, service_workers="block")
    page = windows.open(size, service_workers="block")
    if who:
        strict = windows.served.strict
        page.goto(f"{strict}/sign-in")
        page.get_by_label("Name").fill("Olga")
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.goto(f"{strict}/people")
        page.get_by_role("button", name="Make this a shared tablet of the shop").click()
        page.get_by_role("button", name="Sign out").click()
        page.wait_for_url("**/sign-in")
    return page


def _on_a_phone(page: Any, row: Measured) -> None:
    """Measure a face on a phone, in every theme."""
    row.targets["phone"] = page.evaluate(TARGETS)
    row.small_type = page.evaluate(SMALL_TYPE)
    row.body = page.evaluate("getComputedStyle(document.body).fontSize")
    row.by_mouse_only = page.evaluate(BY_MOUSE_ONLY)
    row.weight = _weight(page)
    row.wide["360"] = page.evaluate("document.documentElement.scrollWidth")
    for number, (theme, device) in enumerate(DEVICES):
        page.emulate_media(**device)
        page.evaluate(
            "(theme) => theme ? document.documentElement.dataset.theme = theme"
            " : delete document.documentElement.dataset.theme",
            theme,
        )
        row.axe[theme, number] = _rules(page, strong=theme.startswith("bay"))
    page.evaluate("document.documentElement.dataset.theme = 'bay'")
    page.set_viewport_size({"width": 320, "height": 640})
    row.wide["320"] = page.evaluate("document.documentElement.scrollWidth")


def _at_a_desk(page: Any, row: Measured) -> None:
    """Measure a face at a desk: what depends on the size."""
    row.targets["desk"] = page.evaluate(TARGETS)
    if row.face.desk:
        row.axe["light", DESK["width"]] = _rules(page, strong=False)
    page.set_viewport_size({"width": 640, "height": 450})  # a desk at 200 %
    row.wide["640"] = page.evaluate("document.documentElement.scrollWidth")


def _rules(page: Any, *, strong: bool) -> Rules:
    """Return what axe says; `strong` asks for 7:1 as well."""
    options = {
        "runOnly": {"type": "tag", "values": RULES},
        "resultTypes": ["violations"],
        "rules": {"color-contrast-enhanced": {"enabled": strong}},
    }
    told = page.evaluate(_AXE, options)
    return Rules(len(told["passes"]), [(name, nodes) for name, nodes in told["found"]])


def _weight(page: Any) -> int:
    """Return the bytes of a page with all that it loads, unpacked; pictures of the job left out."""
    told = page.evaluate("performance.getEntriesByType('resource').map((row) => row.name)")
    names = {urlsplit(name).path.rpartition("/")[2] for name in told if "/static/" in name}
    beside: int = sum((STATIC / name).stat().st_size for name in names)
    return len(str(page.content()).encode()) + beside
