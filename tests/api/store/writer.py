"""A process of its own that writes to records; run by tests, and killed by one.

Words: address, job, how many, name of the process. Each event is named on standard output when
it was acknowledged, and not before.
"""

from __future__ import annotations

import sys

from api.store.engine import open_store
from tests.api.store.making import ADA, KNOWLEDGE, SHOP, new, note


def main(address: str, job: str, count: str, name: str) -> None:
    """Append one note after the other."""
    store = open_store(address)
    for step in range(int(count)):
        event = new(note(f"{name}/{step}"), f"{name}-{step}")
        (told,) = store.jobs.append(SHOP, job, ADA, [event], KNOWLEDGE)
        sys.stdout.write(f"{told.id}\n")
        sys.stdout.flush()
    store.close()


if __name__ == "__main__":
    main(*sys.argv[1:])
