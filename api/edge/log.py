"""The log: one JSON line for each request, on standard error.

The one idea: a line says which route, how long and how it ended, and is found again by the
request's number. It holds no complaint, no name, no plate and no path with an id in it.
"""

from __future__ import annotations

import sys
from typing import Any

import structlog

__all__ = ["log", "start_log"]

log: Any = structlog.get_logger("drypark")


def start_log() -> None:
    """Write JSON lines to standard error from now on."""
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.JSONRenderer(),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(20),
        logger_factory=structlog.PrintLoggerFactory(file=sys.stderr),
        cache_logger_on_first_use=False,
    )
