"""The page by which a tablet comes to trust this machine, and what it hands out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from cryptography import x509

from api.commands.cert import create, fingerprint, folder
from api.pages.offline import build_name, shell
from api.pages.rendering import STATIC
from tests.api.web.shop import Client, Shop, open_shop

MOST_LINES = 680


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """Return a shop."""
    with open_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def tablet(shop: Shop) -> Client:
    """Return a tablet on which nobody is signed in."""
    return shop.anybody()


def test_without_a_certificate_the_page_says_what_to_do(tablet: Client) -> None:
    """An empty state teaches."""
    page = tablet.get("/trust")

    assert page.status_code == 200
    assert "drypark cert create" in page.text
    assert tablet.get("/trust/shop-ca.crt").status_code == 404


def test_the_authority_is_handed_out_and_no_key(shop: Shop, tablet: Client) -> None:
    """Whoever is in the shop's network may ask; a key must never be among it."""
    here = create(folder(shop.settings), ("shop-pc",))
    page, file = tablet.get("/trust"), tablet.get("/trust/shop-ca.crt")

    assert file.headers["content-type"] == "application/x-x509-ca-cert"
    made = x509.load_der_x509_certificate(file.content)
    assert made == x509.load_pem_x509_certificate((here / "shop-ca.pem").read_bytes())
    assert fingerprint(here) in page.text
    assert "android" in page.text.lower()
    assert " style=" not in page.text
    for name in ("shop-ca-key.pem", "shop-key.pem", "shop.pem", "..%2Fcert%2Fshop-key.pem"):
        answer = tablet.get(f"/trust/{name}")
        assert answer.status_code == 404
        assert "PRIVATE KEY" not in answer.text


def test_the_worker_looks_after_every_page_of_this_build(tablet: Client) -> None:
    """A cache with an old build's name would show old pages for ever."""
    worker = tablet.get("/worker.js")

    assert worker.headers["content-type"].startswith("text/javascript")
    assert worker.headers["service-worker-allowed"] == "/"
    assert f'BUILD = "{build_name()}"' in worker.text
    listed = re.findall(r'"(/static/[^"]+)"', worker.text)
    assert sorted(listed) == sorted(shell())
    assert len(listed) > 4
    assert {tablet.get(path).status_code for path in listed} == {200}


def test_the_manifest_names_what_is_there(tablet: Client) -> None:
    """A tablet's home screen shows it."""
    told = tablet.get("/manifest.webmanifest").json()

    assert {tablet.get(icon["src"]).status_code for icon in told["icons"]} == {200}
    assert told["start_url"] == "/"


def test_the_scripts_stay_small() -> None:
    """Everything works without them; what grows here is kept up by nobody."""
    lines = {
        path.name: len(path.read_text(encoding="utf-8").splitlines())
        for path in STATIC.glob("*.js")
    }

    assert len(lines) >= 3
    assert sum(lines.values()) < MOST_LINES


def test_the_code_for_a_camera_leads_to_the_shops_name(tmp_path: Path) -> None:
    """Localhost on a tablet is the tablet."""
    with open_shop(tmp_path, more=lambda: {"hosts": ("shop-pc",)}) as shop:
        create(folder(shop.settings), ("shop-pc",))
        page = shop.anybody().get("/trust").text

    assert "http://shop-pc/trust" in page
    assert 'class="qr"' in page
    assert "tablets can\u2019t reach it by that name" not in page
