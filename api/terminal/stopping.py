"""Ctrl-C ends a command also while it computes.

The one idea: Python hears Ctrl-C between two of its own steps, and a sweep over large tables is
a single step that may last half a minute. While such work runs, a thread listens for the signal
itself; if the command has not ended a moment later, it is ended, with the same sentence and the
same exit code. Only around work that writes nothing.
"""

from __future__ import annotations

import os
import signal
import socket
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

__all__ = ["INTERRUPTED", "stoppable"]

INTERRUPTED: Final = 130  # 128 and the number of the signal, as shells have it
#: Seconds that a command has to end by itself.
_GRACE: Final = 1.0


@contextmanager
def stoppable(left: str) -> Iterator[None]:
    """Let Ctrl-C end the work inside within a second or so, whatever it is doing.

    Parameters
    ----------
    left : what was done and what was not, for whoever stops it

    Notes
    -----
    Elsewhere than in the main thread, which alone may ask for signals, nothing is changed.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    ear, mouth = socket.socketpair()
    mouth.setblocking(False)
    done = threading.Event()
    before = signal.set_wakeup_fd(mouth.fileno(), warn_on_full_buffer=False)
    listener = threading.Thread(target=_listen, args=(ear, done, left), daemon=True)
    listener.start()
    try:
        yield
    finally:
        done.set()
        signal.set_wakeup_fd(before)
        mouth.close()
        listener.join(_GRACE)
        ear.close()


def _listen(ear: socket.socket, done: threading.Event, left: str) -> None:
    """Wait for the signal, and end the process if nothing else does."""
    while heard := ear.recv(1):
        if heard[0] == signal.SIGINT and not done.wait(_GRACE):
            sys.stderr.write(f"\ndrypark: stopped; {left}\n")
            sys.stderr.flush()
            os._exit(INTERRUPTED)
