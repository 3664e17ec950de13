"""Signing in: a password, a PIN on the shop's own tablet, or a pick in the demo.

The one idea: each way gives the same thing, a fresh token for one person. What went wrong is
never said more closely than "name or password", whoever asks.
"""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request

from api.accounts.limits import Tries
from api.accounts.passwords import is_right
from api.accounts.session import (
    DEVICE_COOKIE,
    PERSON_COOKIE,
    TABLET,
    device_shop,
    person_of,
)
from api.problems import ProblemError
from api.settings import Settings, is_loopback
from api.store.engine import Store
from api.store.people import Person

__all__ = ["Ways", "enrol_tablet", "forget_tablet", "sign_in", "sign_out", "ways_in"]


@dataclass(frozen=True, slots=True)
class Ways:
    """How somebody can sign in here.

    Attributes
    ----------
    pick : people of the demo, one of whom is picked
    pin : people who may type their PIN on this tablet
    tablet : whether this is one of the shop's own tablets
    """

    pick: tuple[Person, ...] = ()
    pin: tuple[Person, ...] = ()
    tablet: bool = False


def ways_in(request: Request) -> Ways:
    """Return how somebody can sign in on this device; a password is always a way."""
    store: Store = request.app.state.store
    shop = device_shop(store, request.cookies.get(DEVICE_COOKIE))
    here = tuple(one for one in store.people.list(shop) if one.has_pin) if shop else ()
    pick = tuple(store.people.list(_served(request))) if _may_pick(request) else ()
    return Ways(pick, here, bool(shop))


def sign_in(request: Request, name: str, *, password: str = "", pin: str = "") -> str:
    """Return the token of a new session.

    Parameters
    ----------
    name : the person's name, or id in the demo
    password, pin : one of them, or neither in the demo

    Raises
    ------
    ProblemError
        401 if it isn't right, 429 after too many tries.
    """
    store: Store = request.app.state.store
    person = _by_secret(request, store, name, password, pin)
    if person is None or not person.active:
        raise ProblemError(
            401,
            "name and password or PIN do not belong together, or this tablet is not the shop's; "
            "try again, or ask the owner",
            kind="not-signed-in",
        )
    old = request.cookies.get(PERSON_COOKIE)
    if old:
        store.sessions.drop(old)
    return store.sessions.create(person, _device_of(request))


def _by_secret(request: Request, store: Store, name: str, password: str, pin: str) -> Person | None:
    """Return the person whom name and secret belong to."""
    if not password and not pin:
        return _picked(request, store, name)
    kind = "password" if password else "pin"
    tries: Tries = request.app.state.tries
    tries.take(kind, name, _address(request))
    shop = device_shop(store, request.cookies.get(DEVICE_COOKIE))
    at_home = kind == "password" or shop == _served(request)
    person = store.people.by_name(_served(request), name) if at_home else None
    kept = store.people.secrets(person.id)[kind == "pin"] if person is not None else None
    if not is_right(password or pin, kept):
        return None
    tries.right(kind, name)
    return person


def _picked(request: Request, store: Store, name: str) -> Person | None:
    """Return the person picked in the demo."""
    if not _may_pick(request):
        return None
    people = store.people.list(_served(request))
    return next((one for one in people if name in (one.id, one.name)), None)


def _served(request: Request) -> str:
    """Return the shop that is served here."""
    settings: Settings = request.app.state.settings
    return settings.shop


def _may_pick(request: Request) -> bool:
    """Return whether a person may be picked: the demo, asked from this very machine."""
    settings: Settings = request.app.state.settings
    return settings.demo and settings.loopback and is_loopback(_address(request))


def sign_out(request: Request) -> None:
    """End the session of this device."""
    token = request.cookies.get(PERSON_COOKIE)
    if token:
        request.app.state.store.sessions.drop(token)


def enrol_tablet(request: Request, person: Person) -> str:
    """Return a token that makes this device one of the shop's tablets.

    The route's table lets only owners and senior technicians come here.
    """
    store: Store = request.app.state.store
    return store.sessions.create(person, TABLET + _device_of(request))


def forget_tablet(request: Request) -> None:
    """Let this device be no tablet of the shop any more."""
    token = request.cookies.get(DEVICE_COOKIE)
    store: Store = request.app.state.store
    if token and person_of(store, token) is None:
        store.sessions.drop(token)


def _device_of(request: Request) -> str:
    """Return what the device calls itself, in one short line."""
    told = request.headers.get("user-agent", "")
    return "".join(c for c in told if c.isprintable())[:80]


def _address(request: Request) -> str:
    """Return the address of the machine that asks; a call within the process is this machine."""
    return request.client.host if request.client else "127.0.0.1"
