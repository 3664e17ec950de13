"""What is counted for /metrics.

The one idea: a registry for each application, so that two of them in one process (as in
tests) do not count into each other's.
"""

from __future__ import annotations

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram

__all__ = ["Measures"]

_SECONDS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.15, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)


class Measures:
    """The counters of one application."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.requests = Histogram(
            "drypark_request_seconds",
            "Time from a request to its answer.",
            ("route", "method", "status"),
            buckets=_SECONDS,
            registry=self.registry,
        )
        self.answers = Histogram(
            "drypark_answer_seconds",
            "Time to work out one answer.",
            buckets=_SECONDS,
            registry=self.registry,
        )
        self.events = Counter(
            "drypark_events_written_total",
            "Events acknowledged, by kind.",
            ("kind",),
            registry=self.registry,
        )
        self.refused = Counter(
            "drypark_refused_total",
            "Requests refused, by status.",
            ("status",),
            registry=self.registry,
        )
        self.lists = Counter(
            "drypark_lists_total",
            "Lists that were asked for: thought of ahead, joined on the way, or made then.",
            ("met",),
            registry=self.registry,
        )
        self.waiting = Gauge(
            "drypark_answers_waiting",
            "Answers being worked out or waiting.",
            registry=self.registry,
        )
        self.thinking = Gauge(
            "drypark_lists_ahead_waiting",
            "Lists that nobody asked for yet and that are being made or wait.",
            registry=self.registry,
        )
