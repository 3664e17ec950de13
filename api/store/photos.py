"""Photos of a job, kept in the database so that every backup and copy carries them."""

from __future__ import annotations

import hashlib

from sqlalchemy import insert, select

from api.store.errors import JobNotFoundError, StoreError
from api.store.part import Part
from api.store.tables import jobs, photos

__all__ = ["MAX_BYTES", "PhotoError", "PhotoStore"]

#: Largest photo that is kept; what a camera gives is made smaller before.
MAX_BYTES = 5_000_000
_JPEG = b"\xff\xd8\xff"


class PhotoError(StoreError):
    """A photo cannot be kept, or is not there."""


class PhotoStore(Part):
    """The photos of all jobs; each is known by the SHA-256 of its bytes."""

    def put(self, shop: str, job: str, data: bytes) -> str:
        """Keep a photo; return its SHA-256, 64 hex digits. The same photo twice is one.

        Raises
        ------
        JobNotFoundError
            If this shop has no such job.
        PhotoError
            If it is no JPEG, or larger than `MAX_BYTES`.
        """
        if not data.startswith(_JPEG) or len(data) > MAX_BYTES:
            raise PhotoError(
                f"this is no JPEG of at most {MAX_BYTES:,} bytes",
                safe="nothing was kept",
                remedy="send a photo, made smaller",
            )
        sha = hashlib.sha256(data).hexdigest()
        with self._database.writing() as connection:
            owned = select(jobs.c.id).where(jobs.c.id == job, jobs.c.shop == shop)
            if connection.execute(owned).first() is None:
                raise JobNotFoundError(job)
            there = select(photos.c.sha).where(photos.c.job == job, photos.c.sha == sha)
            if connection.execute(there).first() is None:
                row = {"job": job, "sha": sha, "data": data, "kept": self._clock()}
                connection.execute(insert(photos).values(**row))
        return sha

    def get(self, shop: str, job: str, sha: str) -> bytes:
        """Return a photo as it was kept.

        Raises
        ------
        PhotoError
            If this shop's job has no such photo.
        """
        asked = (
            select(photos.c.data)
            .join(jobs, jobs.c.id == photos.c.job)
            .where(jobs.c.shop == shop, photos.c.job == job, photos.c.sha == sha)
        )
        with self._database.reading() as connection:
            data = connection.execute(asked).scalar_one_or_none()
        if data is None:
            raise PhotoError(
                "there is no such photo", safe="nothing was changed", remedy="look at the job"
            )
        return bytes(data)
