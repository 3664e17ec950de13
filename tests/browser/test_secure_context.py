"""What a browser allows on the four ways to open the shop's machine.

Held against the rules of the browser itself: "secure contexts" (W3C) and service workers
(a worker is refused where the certificate has an error). "The authority is installed" is stood
for by the browser's own list of trusted keys (`--ignore-certificate-errors-spki-list`); putting
it into a tablet's store is done by hand, and was not tried here.
"""

from __future__ import annotations

import base64
import hashlib
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from api.app import create_app
from api.commands.cert import create, files
from api.jobs.demo import SHOP, DemoClock, fill
from api.jobs.desk import Desk
from api.settings import Settings
from api.store.engine import open_store
from tests.api.pages.paper import paper_answer
from tests.api.web.shop import known
from tests.browser.conftest import FLAGS, browser_path

pytestmark = pytest.mark.browser
NAME = "shop-pc.test"  # RFC 6761: a name that never exists
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
    key: str  # of the certificate, as the browser's list has it


def _listen(app: Any, **tls: str) -> tuple[uvicorn.Server, int]:
    door = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        ssl_certfile=tls.get("cert"),
        ssl_keyfile=tls.get("key"),
    )
    server = uvicorn.Server(config)
    threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True).start()
    end = time.monotonic() + 10
    while not server.started:
        assert time.monotonic() < end, "it did not come up in time"
        time.sleep(0.01)
    return server, int(door.getsockname()[1])


@pytest.fixture(scope="module")
def ways(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ways]:
    """Serve the invented shop twice: on http and on https."""
    settings = Settings(
        data=Path(tmp_path_factory.mktemp("shop")), demo=True, shop=SHOP, hosts=(NAME,)
    )
    clock = DemoClock()
    store = open_store(settings.url, clock=clock)
    desk = Desk(known(), store, compute=paper_answer)
    fill(store, desk, clock)
    made = create(settings.data / "cert", (NAME,))
    cert, key = files(settings)
    app = create_app(settings, store, desk)
    one, plain = _listen(app)
    two, secure = _listen(app, cert=cert, key=key)
    leaf = x509.load_pem_x509_certificate((made / "shop.pem").read_bytes())
    spki = leaf.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    yield Ways(plain, secure, base64.b64encode(hashlib.sha256(spki).digest()).decode())
    one.should_exit = two.should_exit = True
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


def start(playwright: Any, folder: Path, *more: str) -> Any:
    """Start a browser of its own, for which the shop's name is this machine."""
    return playwright.chromium.launch_persistent_context(
        str(folder),
        executable_path=browser_path(),
        args=[*FLAGS, f"--host-resolver-rules=MAP {NAME} 127.0.0.1", *more],
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


def test_a_trusted_certificate_lets_the_worker_in(
    playwright: Any, ways: Ways, tmp_path: Path
) -> None:
    """What the certificate is for."""
    context = start(playwright, tmp_path, f"--ignore-certificate-errors-spki-list={ways.key}")
    page = context.new_page()
    page.goto(f"https://{NAME}:{ways.secure}/sign-in")
    told = page.evaluate(ASKED)

    assert (told["secure"], told["workers"], told["refused"]) == (True, True, "")
    assert "Works offline." in status(page)
    context.close()


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
