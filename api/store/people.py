"""The people of a shop. Passwords and PINs come here hashed, and only hashed.

Nobody is deleted: a name in a record must stay the name of somebody.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from typing import TypeAlias

from sqlalchemy import Connection, RowMapping, func, insert, select, update

from api.store.errors import StoreError
from api.store.events import ROLES, Role, Who
from api.store.part import Part
from api.store.tables import people

__all__ = ["PeopleStore", "Person", "PersonError"]


class PersonError(StoreError):
    """A person cannot be added, changed or found."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works in a shop.

    Attributes
    ----------
    has_password, has_pin : whether there is one; the hashes are got by `PeopleStore.secrets`
    """

    id: str
    shop: str
    name: str
    role: Role
    active: bool
    has_password: bool = False
    has_pin: bool = False

    @property
    def who(self) -> Who:
        """The person as an event names one."""
        return Who(self.id, self.name, self.role)


_People: TypeAlias = list[Person]


class PeopleStore(Part):
    """The people of all shops."""

    def add(
        self,
        shop: str,
        name: str,
        role: Role,
        password: str | None = None,
        pin: str | None = None,
    ) -> Person:
        """Add a person.

        Parameters
        ----------
        shop, name, role : the name is one line, not empty, and nobody else's in the shop
        password, pin : argon2 hashes, or None

        Raises
        ------
        PersonError
            If the name or role will not do, or a secret comes unhashed.
        """
        name = " ".join(name.split())
        if not name or len(name) > 80 or not name.isprintable():
            raise _refused("a person needs a name of 1 to 80 letters on one line")
        if role not in ROLES:
            raise _refused(f"there is no role {str(role)[:40]!r}; {', '.join(ROLES)} are there")
        _must_be_hashed(password, pin)
        person = Person(
            secrets.token_urlsafe(9), shop, name, role, True, password is not None, pin is not None
        )
        with self._database.writing() as connection:
            if _by_name(connection, shop, name):
                raise _refused(f"there is a {name!r} already")
            connection.execute(
                insert(people).values(
                    id=person.id,
                    shop=shop,
                    name=name,
                    role=role,
                    password=password,
                    pin=pin,
                    active=True,
                    added=self._clock(),
                )
            )
        return person

    def by_name(self, shop: str, name: str) -> Person | None:
        """Return the person of that name, however it is capitalised, or None."""
        with self._database.reading() as connection:
            row = _by_name(connection, shop, " ".join(name.split()))
        return None if row is None else _person(row)

    def get(self, person: str) -> Person | None:
        """Return the person with that id, or None."""
        with self._database.reading() as connection:
            row = connection.execute(select(people).where(people.c.id == person)).mappings().first()
        return None if row is None else _person(row)

    def list(self, shop: str, *, active_only: bool = True) -> _People:
        """Return the people of a shop by name."""
        asked = select(people).where(people.c.shop == shop)
        if active_only:
            asked = asked.where(people.c.active)
        with self._database.reading() as connection:
            rows = connection.execute(asked).mappings().all()
        return sorted((_person(row) for row in rows), key=lambda person: person.name.casefold())

    def secrets(self, person: str) -> tuple[str | None, str | None]:
        """Return the hashes of password and PIN of somebody who is active; None where none is."""
        asked = select(people.c.password, people.c.pin).where(people.c.id == person)
        with self._database.reading() as connection:
            row = connection.execute(asked.where(people.c.active)).first()
        return (None, None) if row is None else (row[0], row[1])

    def set_secrets(
        self, person: str, *, password: str | None = None, pin: str | None = None
    ) -> None:
        """Set the hash of a password, a PIN or both; None leaves it as it is.

        Raises
        ------
        PersonError
            If it comes unhashed, or there is no such person.
        """
        _must_be_hashed(password, pin)
        given = {"password": password, "pin": pin}
        self._change(person, {key: value for key, value in given.items() if value is not None})

    def set_role(self, person: str, role: Role) -> None:
        """Give a person another role; the last owner stays one.

        Raises
        ------
        PersonError
            If there is no such person or role, or the shop would be left without owner.
        """
        if role not in ROLES:
            raise _refused(f"there is no role {str(role)[:40]!r}; {', '.join(ROLES)} are there")
        self._change(person, {"role": role})

    def set_active(self, person: str, active: bool) -> None:
        """Let a person in again, or no longer; the last owner stays.

        Raises
        ------
        PersonError
            If there is no such person, or the shop would be left without owner.
        """
        self._change(person, {"active": active})

    def has_owner(self, shop: str | None = None) -> bool:
        """Return whether a shop, or any shop, has an active owner."""
        with self._database.reading() as connection:
            return _owners(connection, shop) > 0

    def _change(self, person: str, columns: dict[str, str | bool]) -> None:
        """Change a person's columns, unless that leaves the shop without owner."""
        with self._database.writing() as connection:
            row = connection.execute(select(people).where(people.c.id == person)).mappings().first()
            if row is None:
                raise _refused("there is no such person")
            owners = _owners(connection, row["shop"])
            if columns:
                changed = update(people).where(people.c.id == person).values(**columns)
                connection.execute(changed)
            if owners and not _owners(connection, row["shop"]):
                raise _refused(f"{row['name']} is the last owner of the shop")


def _refused(problem: str) -> PersonError:
    return PersonError(problem, safe="nobody was changed", remedy="correct it and try again")


def _must_be_hashed(*given: str | None) -> None:
    """Refuse secrets that are not hashed: a mistake here would be written to disk."""
    if any(secret is not None and not secret.startswith("$argon2") for secret in given):
        raise _refused("a password or PIN is kept only as its argon2 hash")


def _by_name(connection: Connection, shop: str, name: str) -> RowMapping | None:
    # Compared here: databases differ in what they think is the same letter.
    asked = select(people).where(people.c.shop == shop)
    rows = connection.execute(asked).mappings().all()
    return next((row for row in rows if row["name"].casefold() == name.casefold()), None)


def _owners(connection: Connection, shop: str | None) -> int:
    asked = select(func.count()).select_from(people)
    asked = asked.where(people.c.role == "owner", people.c.active)
    if shop is not None:
        asked = asked.where(people.c.shop == shop)
    return connection.execute(asked).scalar_one()


def _person(row: RowMapping) -> Person:
    return Person(
        id=row["id"],
        shop=row["shop"],
        name=row["name"],
        role=row["role"],
        active=row["active"],
        has_password=row["password"] is not None,
        has_pin=row["pin"] is not None,
    )
