"""What a browser allows on the four ways to open the shop's machine.

Held against the rules of the browser itself: "secure contexts" (W3C) and service workers
(a worker is refused where the certificate has an error). The shop's authority is put into the
certificate store that Chromium reads on Linux (an NSS database in the home folder, written by
`certutil`), of a home that is thrown away. On a tablet this is a step by hand; not tried here.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from api.app import create_app
from api.commands import cert
from api.commands.cert import AUTHORITY, files
from api.jobs.answering import at_once
from api.jobs.demo import SHOP, DemoClock, fill
from api.jobs.desk import Desk
from api.settings import Settings
from api.store.engine import open_store
from tests.api.pages.paper import paper_answer
from tests.api.web.shop import known
from tests.browser.conftest import FLAGS, browser_path, listening

pytestmark = pytest.mark.browser
NAME, OTHER = "shop-pc.test", "other-pc.test"  # RFC 6761: names that never exist
ASKED = """async () => ({
  secure: isSecureContext,
  workers: "serviceWorker" in navigator,
  randomUUID: typeof crypto.randomUUID,
  locks: "locks" in navigator,
  idb: typeof indexedDB,
  values: typeof crypto.getRandomValues,
  refused: "serviceWorker" in navigator
    ? await navigator.serviceWorker.register("/worker.js").then(() => "", (one) => one.name) : "",
})"""


@dataclass
class Ways:
    """The shop's machine with and without a certificate."""

    plain: int
    secure: int
    authority: Path  # the shop's own, to be installed
    app: Any


def port_of(base: str) -> int:
    """Return the port of a base address."""
    return int(base.rpartition(":")[2])


@pytest.fixture(scope="module")
def ways(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ways]:
    """Serve the invented shop twice: on http and on https."""
    settings = Settings(
        data=Path(tmp_path_factory.mktemp("shop")), demo=True, shop=SHOP, hosts=(NAME,)
    )
    clock = DemoClock()
    store = open_store(settings.url, clock=clock)
    desk = Desk(known(), store, compute=at_once(paper_answer))
    fill(store, desk, clock)
    made = cert.create(settings.data / "cert", (NAME,))
    leaf, key = files(settings)
    app = create_app(settings, store, desk)
    with listening(app) as plain, listening(app, cert=leaf, key=key) as secure:
        yield Ways(port_of(plain), port_of(secure), made / AUTHORITY, app)
    desk.close()
    store.close()


@pytest.fixture
def playwright() -> Iterator[Any]:
    """Return what starts browsers."""
    if browser_path() is None:
        pytest.skip("no browser on the path")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as started:
        yield started


def start(playwright: Any, folder: Path, **more: Any) -> Any:
    """Start a browser of its own, for which the shop's name is this machine."""
    names = f"MAP {NAME} 127.0.0.1, MAP {OTHER} 127.0.0.1"
    return playwright.chromium.launch_persistent_context(
        str(folder),
        executable_path=browser_path(),
        args=[*FLAGS, f"--host-resolver-rules={names}"],
        **more,
    )


def status(page: Any) -> str:
    """Return what the page says of itself, once the worker had its chance."""
    page.wait_for_timeout(1500)
    return str(page.locator("[data-queue] [role=status]").inner_text())


def test_http_by_name_keeps_answers_but_has_no_worker(
    playwright: Any, ways: Ways, tmp_path: Path
) -> None:
    """The usual way in a shop; what the queue needs is there, what reloading needs is not."""
    context = start(playwright, tmp_path)
    page = context.new_page()
    page.goto(f"http://{NAME}:{ways.plain}/sign-in")
    told = page.evaluate(ASKED)

    assert (told["secure"], told["workers"], told["locks"]) == (False, False, False)
    assert told["randomUUID"] == "undefined"
    assert (told["idb"], told["values"]) == ("object", "function")
    assert "connection not trusted" in status(page)
    context.close()


def test_a_warning_clicked_away_is_no_trust(playwright: Any, ways: Ways, tmp_path: Path) -> None:
    """The page looks secure, and the worker is refused all the same."""
    context = start(playwright, tmp_path)
    page = context.new_page()
    address = f"https://{NAME}:{ways.secure}/sign-in"
    from playwright.sync_api import Error

    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        page.goto(address)
    page.locator("#proceed-link").wait_for(state="attached")
    page.evaluate(
        "for (const id of ['details-button', 'proceed-link']) document.getElementById(id).click()"
    )
    page.wait_for_url("**/sign-in")
    told = page.evaluate(ASKED)

    assert (told["secure"], told["workers"], told["randomUUID"]) == (True, True, "function")
    assert told["refused"] == "SecurityError"
    assert "connection not trusted" in status(page)
    context.close()


def home_that_trusts(folder: Path, authority: Path) -> Path:
    """Return a home folder in whose certificate store the authority is installed."""
    tool = shutil.which("certutil")
    if tool is None:
        why = "no certutil (Debian: libnss3-tools): nothing can be put into the browser's store"
        if os.environ.get("DRYPARK_REQUIRE_BROWSER") == "1":
            pytest.fail(f"{why}, and DRYPARK_REQUIRE_BROWSER=1 asks for it")
        pytest.skip(why)
    home = folder / "home"
    for base in (".pki", ".local/share/pki"):  # where Chromium looks, older and newer
        store = home / base / "nssdb"
        store.mkdir(parents=True)
        known = ("-d", f"sql:{store}")
        subprocess.run([tool, *known, "-N", "--empty-password"], check=True, timeout=60)
        asked = ("-A", "-t", "C,,", "-n", "the shop", "-i", str(authority))
        subprocess.run([tool, *known, *asked], check=True, timeout=60)
    return home


@pytest.mark.parametrize(("asked", "how"), [("0", pytest.skip), ("1", pytest.fail)])
def test_a_missing_tool_is_told_and_fails_where_a_browser_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, asked: str, how: Any
) -> None:
    """What was not tried must not look as if it was."""
    monkeypatch.setattr(shutil, "which", lambda _name: None)
    monkeypatch.setenv("DRYPARK_REQUIRE_BROWSER", asked)

    with pytest.raises(how.Exception, match="libnss3-tools"):
        home_that_trusts(tmp_path, tmp_path / "shop-ca.pem")


@pytest.fixture
def trusting(playwright: Any, ways: Ways, tmp_path: Path) -> Iterator[Any]:
    """Return a page of a browser in whose store the shop's authority is."""
    home = home_that_trusts(tmp_path, ways.authority)
    context = start(playwright, tmp_path / "profile", env={**os.environ, "HOME": str(home)})
    yield context.new_page()
    context.close()


def test_an_installed_authority_lets_the_worker_in(trusting: Any, ways: Ways) -> None:
    """What the certificate is for: no warning, a secure context, a worker."""
    trusting.goto(f"https://{NAME}:{ways.secure}/sign-in")
    told = trusting.evaluate(ASKED)

    assert (told["secure"], told["workers"], told["refused"]) == (True, True, "")
    assert (told["randomUUID"], told["locks"]) == ("function", True)
    assert "Works offline." in status(trusting)


def test_where_the_authority_is_installed_a_page_is_there_without_network(
    trusting: Any, ways: Ways
) -> None:
    """A job is opened, the network goes, and a reload still shows it."""
    trusting.goto(f"https://{NAME}:{ways.secure}/sign-in")
    trusting.get_by_role("button", name="technician").first.click()
    trusting.wait_for_url("**/")
    job = trusting.locator("main a[href^='/jobs/']").first.get_attribute("href")
    trusting.goto(f"https://{NAME}:{ways.secure}{job}")
    held = f"caches.match('{job}').then((one) => Boolean(one))"
    trusting.wait_for_function(f"async () => await {held}", timeout=20_000)
    name = trusting.locator("h1").first.inner_text()

    trusting.context.set_offline(True)
    trusting.reload()
    assert trusting.locator("h1").first.inner_text() == name
    assert "No network" in status(trusting)


def test_a_stolen_authority_opens_no_other_name(
    trusting: Any, ways: Ways, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Held against the browser (RFC 5280, 4.2.1.10): our own refusal is left out, its is not."""
    stolen = tmp_path / "stolen"
    shutil.copytree(ways.authority.parent, stolen)
    monkeypatch.setattr(cert, "_may_vouch", lambda *_told: None)
    cert.create(stolen, (OTHER,))
    from playwright.sync_api import Error

    pair = {"cert": str(stolen / "shop.pem"), "key": str(stolen / "shop-key.pem")}
    refused = r"ERR_CERT_(INVALID|NAME_CONSTRAINT_VIOLATION)"
    with listening(ways.app, **pair) as at, pytest.raises(Error, match=refused):
        trusting.goto(f"https://{OTHER}:{port_of(at)}/sign-in")


def test_localhost_is_trusted_by_itself(playwright: Any, ways: Ways, tmp_path: Path) -> None:
    """The shop's own machine needs no certificate."""
    context = start(playwright, tmp_path)
    page = context.new_page()
    page.goto(f"http://localhost:{ways.plain}/sign-in")
    told = page.evaluate(ASKED)

    assert (told["secure"], told["workers"], told["refused"]) == (True, True, "")
    assert told["randomUUID"] == "function"
    assert "Works offline." in status(page)
    context.close()
