"""Answers as they were given, so that any of them can be shown again exactly."""

from __future__ import annotations

import zlib

from sqlalchemy import Connection, insert, select

from api.store.part import Part
from api.store.tables import answers

__all__ = ["AnswerStore"]


class AnswerStore(Part):
    """The answers by key; the first one kept under a key stands."""

    def keep(self, key: str, document: str) -> None:
        """Keep an answer document.

        Parameters
        ----------
        key : SHA-256 of case, record and knowledge, 64 hex digits
        document : JSON
        """
        packed = zlib.compress(document.encode("utf-8"), 6)
        row = {"key": key, "document": packed, "kept": self._clock()}

        def work(connection: Connection) -> None:
            if (
                connection.execute(select(answers.c.key).where(answers.c.key == key)).first()
                is None
            ):
                connection.execute(insert(answers).values(**row))

        self._database.write(work)

    def get(self, key: str) -> str | None:
        """Return the document that was kept under a key, byte for byte, or None."""
        asked = select(answers.c.document).where(answers.c.key == key)
        with self._database.reading() as connection:
            packed = connection.execute(asked).scalar_one_or_none()
        return None if packed is None else zlib.decompress(packed).decode("utf-8")
