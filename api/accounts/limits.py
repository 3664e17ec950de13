"""How often somebody may try to sign in.

The one idea: two windows at once. Tries against one name are few, whoever makes them; tries
from one address are a few more, since a shared tablet is one address for everybody. A success
clears the name and nothing at the address.
"""

from __future__ import annotations

import hashlib

from limits import RateLimitItemPerMinute, RateLimitItemPerSecond
from limits.storage import MemoryStorage
from limits.strategies import SlidingWindowCounterRateLimiter

from api.problems import ProblemError

__all__ = ["Tries"]

#: (limit, its length in seconds); five PINs in a quarter of an hour, then wait or ask the owner.
_BY_NAME = {
    "password": RateLimitItemPerMinute(5, 5, "name"),
    "pin": RateLimitItemPerMinute(5, 15, "name"),
}
_BY_ADDRESS = RateLimitItemPerSecond(30, 300, "address")


class Tries:
    """The tries of one service; kept in memory, since it is one process."""

    def __init__(self) -> None:
        self._windows = SlidingWindowCounterRateLimiter(MemoryStorage())

    def take(self, kind: str, name: str, address: str) -> None:
        """Take one try, or refuse it where there were too many.

        A try counts before it is looked at, so that many at once are still many.

        Parameters
        ----------
        kind : password | pin
        name : as typed
        address : of the machine that asks

        Raises
        ------
        ProblemError
            429, with the seconds to wait.
        """
        spots = ((_BY_NAME[kind], _key(kind, name)), (_BY_ADDRESS, address))
        counted = [self._windows.hit(limit, key) for limit, key in spots]
        if all(counted):
            return
        wait = max(int(limit.get_expiry()) for limit, _key_of in spots)
        raise ProblemError(
            429,
            f"too many tries; wait {-(-wait // 60)} minutes, or ask the owner to set a new one",
            kind="too-many-tries",
            headers={"retry-after": str(wait)},
        )

    def right(self, kind: str, name: str) -> None:
        """Forget the tries against a name."""
        self._windows.clear(_BY_NAME[kind], _key(kind, name))


def _key(kind: str, name: str) -> str:
    """Return what stands for a name; the name itself is kept nowhere."""
    return hashlib.sha256(f"{kind} {name.strip().casefold()}".encode()).hexdigest()
