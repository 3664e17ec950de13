"""Passwords and PINs: argon2id, at most two at once.

The one idea: a wrong name costs as much time as a wrong password, so that nobody learns from
the time who works here.
"""

from __future__ import annotations

import threading
from functools import cache

from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

from triage.errors import ParameterError

__all__ = ["PASSWORD_LENGTH", "PIN_LENGTH", "hashed", "is_right", "need_password", "need_pin"]

PASSWORD_LENGTH = (10, 200)
PIN_LENGTH = (4, 12)
#: Each takes 64 MB while it runs.
_AT_ONCE = threading.BoundedSemaphore(2)


@cache
def _hasher() -> PasswordHash:
    return PasswordHash((Argon2Hasher(),))


@cache
def _nobody() -> str:
    """Return the hash of a password that nobody has."""
    return _hasher().hash("nobody's password")


def hashed(secret: str) -> str:
    """Return the argon2id hash of a password or PIN."""
    with _AT_ONCE:
        return _hasher().hash(secret)


def is_right(secret: str, kept: str | None) -> bool:
    """Return whether a secret is the one that was hashed; False where none is kept."""
    stored = kept or _nobody()
    with _AT_ONCE:
        try:
            right = _hasher().verify(secret[: PASSWORD_LENGTH[1]], stored)
        except Exception:  # a hash that no hasher knows proves nothing
            right = False
    return right and bool(kept)


def need_password(secret: str) -> str:
    """Return a new password, or refuse one that is too short.

    Raises
    ------
    ParameterError
        Outside `PASSWORD_LENGTH`.
    """
    return _need("the password", secret, PASSWORD_LENGTH, "a few words together are easy to keep")


def need_pin(secret: str) -> str:
    """Return a new PIN, or refuse one that is none.

    Raises
    ------
    ParameterError
        If it isn't all digits, or outside `PIN_LENGTH`.
    """
    if not (secret.isascii() and secret.isdecimal()):
        raise ParameterError(
            "the PIN", "something else than digits", allowed="digits", remedy="type digits only"
        )
    return _need("the PIN", secret, PIN_LENGTH, "choose another one")


def _need(what: str, secret: str, length: tuple[int, int], remedy: str) -> str:
    low, high = length
    if not low <= len(secret) <= high:
        allowed = f"{low} to {high} characters"
        raise ParameterError(what, f"{len(secret)} characters", allowed=allowed, remedy=remedy)
    return secret
