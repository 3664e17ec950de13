"""`drypark people`: who works in the shop.

The one idea: a secret is never an argument, since arguments are seen by everybody on the
machine. It is asked for at a terminal, else read from standard input, a line for each.
"""

from __future__ import annotations

import getpass
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from pydantic import ValidationError

from api.accounts.passwords import need_password, need_pin
from api.accounts.people import NewPerson, PersonChange, add_person, change_person
from api.accounts.permissions import ROLES
from api.commands.output import write_json
from api.documents.refusal import DocumentRefusedError, problems_of
from api.problems import ProblemError
from api.settings import Settings
from api.store.engine import Store, open_store
from api.store.people import Person
from api.terminal import Page
from triage.errors import DocumentError, UnknownTermError

__all__ = ["add", "leave", "set_secret", "show"]


def add(name: str, role: str, *, with_pin: bool) -> None:
    """Add somebody to the shop; the first one should be an owner.

    Raises
    ------
    TriageError
        If name, role, password or PIN will not do.
    """
    if role not in ROLES:  # before anybody types a password in vain
        raise UnknownTermError("role", role, ROLES)
    with _shop() as (store, settings):
        password = need_password(_secret("password"))
        pin = need_pin(_secret("PIN")) if with_pin else None
        try:
            new = NewPerson.model_validate(
                {"name": " ".join(name.split()), "role": role, "password": password, "pin": pin}
            )
        except ValidationError as error:
            raise DocumentRefusedError(problems_of(error, NewPerson)) from None
        made = add_person(store, settings.shop, new)
        Page().line(f"{made.name} works here now, as {made.role}.")


def show(*, as_json: bool) -> None:
    """List the people of the shop."""
    with _shop() as (store, settings):
        people = store.people.list(settings.shop, active_only=False)
    if as_json:
        write_json([{"name": p.name, "role": p.role, "active": p.active} for p in people])
        return
    page = Page()
    for person in people:
        page.line(f"{person.name}: {person.role}{'' if person.active else ', left'}")
    if not people:
        page.line("Nobody yet. Begin with: drypark people add --role owner NAME")


def set_secret(name: str, *, pin: bool) -> None:
    """Set somebody's password or PIN, and end their sessions."""
    with _shop() as (store, settings):
        person = _find(store, settings, name)
        change = (
            PersonChange(pin=_secret("PIN")) if pin else PersonChange(password=_secret("password"))
        )
        change_person(store, person, change)
        what = "PIN" if pin else "password"
        Page().line(f"{person.name} has a new {what} and is signed out everywhere.")


def leave(name: str) -> None:
    """Let somebody sign in no more."""
    with _shop() as (store, settings):
        person = _find(store, settings, name)
        change_person(store, person, PersonChange(active=False))
        Page().line(f"{person.name} can't sign in any more; the name stays in the records.")


@contextmanager
def _shop() -> Iterator[tuple[Store, Settings]]:
    """Open the records of the shop, and say what is refused in a sentence."""
    settings = Settings()
    store = open_store(settings.url)
    try:
        yield store, settings
    except ProblemError as error:
        raise DocumentError(
            str(error.detail), where="the people of the shop", allowed="see above",
            remedy="nothing was changed",
        ) from None  # fmt: skip
    finally:
        store.close()


def _find(store: Store, settings: Settings, name: str) -> Person:
    person = store.people.by_name(settings.shop, name)
    if person is None:
        known = [one.name for one in store.people.list(settings.shop, active_only=False)]
        raise UnknownTermError("person", name, known)
    return person


def _secret(what: str) -> str:
    """Return a secret typed twice at a terminal, else the next line of standard input."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    first = getpass.getpass(f"{what}: ")
    if getpass.getpass(f"{what} again: ") != first:
        raise DocumentError(
            f"the two {what}s differ", where="the terminal", allowed="the same twice",
            remedy="run the command again",
        )  # fmt: skip
    return first
