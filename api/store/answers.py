"""Answers as they were given, so that any of them can be shown again exactly."""

from __future__ import annotations

import zlib

from sqlalchemy import Connection, insert, select

from api.store.part import Part
from api.store.tables import answers

__all__ = ["AnswerStore"]


class AnswerStore(Part):
    """The answers by key; the first one kept under a key stands."""

    def keep(self, key: str, document: str, *more: tuple[str, str]) -> None:
        """Keep an answer document, and whatever else belongs to it, in one transaction.

        Parameters
        ----------
        key : SHA-256 of case, record and knowledge, 64 hex digits
        document : JSON
        more : further keys and texts
        """
        now = self._clock()
        rows = {
            key: {"key": key, "document": zlib.compress(text.encode("utf-8"), 6), "kept": now}
            for key, text in ((key, document), *more)
        }

        def work(connection: Connection) -> None:
            there = connection.execute(select(answers.c.key).where(answers.c.key.in_(rows)))
            known = set(there.scalars())
            fresh = [row for key, row in rows.items() if key not in known]
            if fresh:
                connection.execute(insert(answers), fresh)

        self._database.write(work)

    def get(self, *keys: str) -> str | None:
        """Return the document that was kept under the first of the keys that there is, or None.

        It comes byte for byte.
        """
        asked = select(answers.c.key, answers.c.document).where(answers.c.key.in_(keys))
        with self._database.reading() as connection:
            found = {row.key: row.document for row in connection.execute(asked)}
        packed = next((found[key] for key in keys if key in found), None)
        return None if packed is None else zlib.decompress(packed).decode("utf-8")
