"""Who is signed in where. Only the hash of a token is kept: a stolen backup lets nobody in."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, insert, select

from api.store.part import Part
from api.store.people import Person
from api.store.tables import people, sessions

__all__ = ["SessionStore", "SignedIn"]


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A person at a device."""

    person: str
    device: str
    created: datetime


class SessionStore(Part):
    """The sessions of all shops."""

    def create(self, person: Person | str, device: str = "") -> str:
        """Sign a person in; return the token, which cannot be had again."""
        token = secrets.token_urlsafe(32)
        key = person if isinstance(person, str) else person.id
        with self._database.writing() as connection:
            connection.execute(
                insert(sessions).values(
                    token=_hash(token), person=key, device=device[:200], created=self._clock()
                )
            )
        return token

    def get(self, token: str) -> SignedIn | None:
        """Return who holds the token; nobody when signed out or no longer active."""
        c = sessions.c
        asked = (
            select(c.person, c.device, c.created)
            .join(people, people.c.id == c.person)
            .where(c.token == _hash(token), people.c.active)
        )
        with self._database.reading() as connection:
            row = connection.execute(asked).first()
        return None if row is None else SignedIn(row[0], row[1], row[2])

    def drop(self, token: str) -> None:
        """Sign out."""
        with self._database.writing() as connection:
            connection.execute(delete(sessions).where(sessions.c.token == _hash(token)))

    def drop_all(self, person: Person | str) -> int:
        """Sign a person out everywhere; return from how many devices."""
        key = person if isinstance(person, str) else person.id
        with self._database.writing() as connection:
            return connection.execute(delete(sessions).where(sessions.c.person == key)).rowcount

    def drop_older(self, than: datetime) -> int:
        """Forget the sessions that began before a time; return how many."""
        with self._database.writing() as connection:
            return connection.execute(delete(sessions).where(sessions.c.created < than)).rowcount


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
