"""Whether a request that changes something comes from our own page.

The one idea: the browser says so itself. It sends `Sec-Fetch-Site` where the connection is
trusted, and `Origin` with every post; a page elsewhere can forge neither. A program that sends
neither header carries no cookie that another page could misuse, and is let through only
without one.
"""

from __future__ import annotations

from urllib.parse import urlsplit

from starlette.datastructures import Headers

__all__ = ["SAFE_METHODS", "comes_from_us", "host_is_ours"]

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})


def comes_from_us(method: str, headers: Headers) -> bool:
    """Return whether a request may change something.

    Examples
    --------
    >>> comes_from_us("POST", Headers({"host": "bay:8000", "origin": "http://bay:8000"}))
    True
    >>> comes_from_us("POST", Headers({"host": "bay:8000", "origin": "http://elsewhere"}))
    False
    """
    if method in SAFE_METHODS:
        return True
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site is not None and site != "same-origin":
        return False
    if origin is not None:
        return urlsplit(origin).netloc == headers.get("host")
    return site is not None or "cookie" not in headers


def host_is_ours(host: str, names: tuple[str, ...]) -> bool:
    """Return whether a Host header names this machine.

    A service on loopback answers to no other name: else a page elsewhere could point a name
    of its own at this machine, and would be its own origin.

    Parameters
    ----------
    host : the header, with or without a port
    names : allowed names, lower case

    Examples
    --------
    >>> host_is_ours("localhost:8000", ("localhost",)), host_is_ours("evil.test", ("localhost",))
    (True, False)
    """
    try:
        name = urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return False
    return name.lower() in {known.strip("[]").lower() for known in names}
