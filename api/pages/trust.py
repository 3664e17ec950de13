"""How a tablet comes to trust this machine: a code to point a camera at, and the steps.

The one idea: only the authority's certificate is handed out, never a key, and the number beside
it is compared by a person before the tablet is told to trust it.
"""

from __future__ import annotations

import io
from urllib.parse import urlsplit

import segno
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import Response

from api.commands.cert import AUTHORITY, fingerprint, folder, names_in
from api.pages.rendering import page
from api.problems import ProblemError
from api.settings import is_loopback

__all__ = ["FILE", "router"]

router = APIRouter(include_in_schema=False)
#: Name under which tablets load the authority; phones know this ending.
FILE = "shop-ca.crt"


@router.get("/trust")
def trust(request: Request) -> Response:
    """Show how a tablet comes to trust this machine."""
    here = folder(request.app.state.settings)
    made = (here / AUTHORITY).is_file()
    address = _address(request, names_in(here / "shop.pem") if made else [])
    return page(
        request,
        "trust.html",
        here="trust",
        made=made,
        secure=request.url.scheme == "https",
        address=address,
        alone=is_loopback(urlsplit(address).hostname or ""),
        number=fingerprint(here) if made else "",
        code=_code(f"{address}/trust"),
        file=FILE,
    )


@router.get("/trust/{name}")
def authority(request: Request, name: str) -> Response:
    """Hand out the certificate of the shop's authority."""
    path = folder(request.app.state.settings) / AUTHORITY
    if name != FILE or not path.is_file():
        raise ProblemError(
            404, "there is no such certificate here; make one with: drypark cert create"
        )
    made = x509.load_pem_x509_certificate(path.read_bytes())
    return Response(
        made.public_bytes(Encoding.DER),
        media_type="application/x-x509-ca-cert",
        headers={"content-disposition": f'attachment; filename="{FILE}"'},
    )


def _address(request: Request, names: list[str]) -> str:
    """Return where a tablet finds this machine: not by a name that means the tablet itself."""
    asked = urlsplit(str(request.base_url))
    host = asked.hostname or "localhost"
    if is_loopback(host):
        others = (*names, *request.app.state.settings.hosts)
        host = next((one for one in others if not is_loopback(one)), host)
    shown = f"[{host}]" if ":" in host else host
    return f"{asked.scheme}://{shown}" + (f":{asked.port}" if asked.port else "")


def _code(text: str) -> Markup:
    """Return the address as a picture for a camera; classes only, no style."""
    out = io.BytesIO()
    segno.make(text, micro=False).save(
        out, kind="svg", xmldecl=False, svgns=True, omitsize=True, svgclass="qr", lineclass="dark",
        title=None,
    )  # fmt: skip
    return Markup(out.getvalue().decode())  # noqa: S704 -- drawn here
