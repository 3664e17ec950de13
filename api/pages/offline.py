"""What lets the pages work without network: the worker, the manifest, the build's name.

The one idea: the worker is one file, served from the top so that it may look after every
page, with the build's hash put in. A new build has another hash, and old caches go.
"""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from api.pages.rendering import STATIC

__all__ = ["build_name", "router", "shell"]

router = APIRouter(include_in_schema=False)
_SUFFIXES = (".css", ".js", ".svg")


@lru_cache(maxsize=1)
def build_name() -> str:
    """Return a hash over everything that a page is made of; it changes with every build."""
    digest = hashlib.sha256()
    for folder in (STATIC, STATIC.parent / "templates"):
        for path in sorted(folder.iterdir()):
            if path.is_file():
                digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


def shell() -> list[str]:
    """Return the paths that every page needs, which the worker fetches beforehand."""
    return [
        f"/static/{path.name}"
        for path in sorted(STATIC.iterdir())
        if path.suffix in _SUFFIXES and path.name != "worker.js"
    ]


@router.get("/worker.js")
def worker() -> Response:
    """Return the worker with the build and its shell put in."""
    text = (STATIC / "worker.js").read_text(encoding="utf-8")
    for before, after in (
        ('"build"', json.dumps(build_name())),
        ('["shell"]', json.dumps(shell())),
    ):
        text = text.replace(before, after, 1)
    return Response(text, media_type="text/javascript", headers={"service-worker-allowed": "/"})


@router.get("/manifest.webmanifest")
def manifest() -> Response:
    """Say what stands on a tablet's home screen."""
    return JSONResponse(
        {
            "name": "Drypark",
            "short_name": "Drypark",
            "start_url": "/",
            "scope": "/",
            "display": "standalone",
            "background_color": "#f6f2ea",
            "theme_color": "#0b5f6e",
            "icons": [{"src": "/static/mark.svg", "sizes": "any", "type": "image/svg+xml"}],
        },
        media_type="application/manifest+json",
    )
