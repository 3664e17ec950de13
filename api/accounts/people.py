"""People of a shop: added, changed, and never left without an owner.

The one idea: whoever changes a secret or a role ends the sessions that rested on it.
"""

from __future__ import annotations

from pydantic import Field

from api.accounts.passwords import hashed, need_password, need_pin
from api.documents.base import Document, Line
from api.problems import ProblemError
from api.store.engine import Store
from api.store.events import Role
from api.store.people import Person, PersonError

__all__ = ["NewPerson", "PersonChange", "add_person", "change_person", "find_person"]


class NewPerson(Document):
    """Somebody who begins to work here."""

    name: Line = Field(min_length=1, max_length=80, description="a name, 1 to 80 characters")
    role: Role = Field(description="technician, senior, trainee, owner")
    password: str | None = Field(default=None, max_length=200)
    pin: str | None = Field(default=None, max_length=12)


class PersonChange(Document):
    """What changes about somebody; what is left out stays."""

    role: Role | None = None
    active: bool | None = None
    password: str | None = Field(default=None, max_length=200)
    pin: str | None = Field(default=None, max_length=12)


def add_person(store: Store, shop: str, new: NewPerson) -> Person:
    """Add somebody to a shop.

    Raises
    ------
    ProblemError
        409 if the name is taken, 422 if an owner has no password.
    ParameterError
        If the password or PIN is none.
    """
    if new.role == "owner" and not new.password:
        raise ProblemError(422, "an owner needs a password; nothing was written; choose one")
    if store.people.by_name(shop, new.name) is not None:
        raise ProblemError(
            409, "somebody of that name works here already; add a letter or a number"
        )
    password = hashed(need_password(new.password)) if new.password else None
    pin = hashed(need_pin(new.pin)) if new.pin else None
    return store.people.add(shop, new.name, new.role, password, pin)


def find_person(store: Store, shop: str, person: str) -> Person:
    """Return somebody of a shop by id.

    Raises
    ------
    ProblemError
        404 if nobody of this shop has it.
    """
    found = store.people.get(person)
    if found is None or found.shop != shop:
        raise ProblemError(404, "nobody of this shop has that id; the list of people shows them")
    return found


def change_person(store: Store, person: Person, asked: PersonChange) -> Person:
    """Change somebody, and end the sessions that rested on what was.

    Raises
    ------
    ProblemError
        409 if the shop would be left without an owner.
    """
    password = hashed(need_password(asked.password)) if asked.password else None
    pin = hashed(need_pin(asked.pin)) if asked.pin else None
    try:
        if asked.role is not None:
            store.people.set_role(person.id, asked.role)
        if asked.active is not None:
            store.people.set_active(person.id, asked.active)
    except PersonError as error:
        raise ProblemError(409, str(error)) from None
    if password or pin:
        store.people.set_secrets(person.id, password=password, pin=pin)
    if asked != PersonChange():
        store.sessions.drop_all(person)
    return store.people.get(person.id) or person
