"""How the gates close: what the safety notes mean by "a / b" and by "a, b", as data.

A gate that is not named here closes when each of its checks has been done. The
choices are recorded in `decisions/0012-sensor-first-and-why.md`. All of it is
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from graph.terms import SCOPES, Knowledge
from triage.gate_closing import Closing, House
from triage.gates import CORNERS

__all__ = ["LICENSED_GATES", "RULES", "house_of"]

#: Gates that a name outside the shop's list for licensed practice cannot close.
LICENSED_GATES: Final = frozenset(
    {
        "sg-wheel-separation",
        "sg-joint-separation",
        "sg-brake-hydraulic",
        "sg-structure-rust",
        "sg-srs",
    }
)

RULES: Final[Mapping[str, Closing]] = {
    # A ball joint shows up and down, a steering joint sideways: both, at each corner.
    "sg-joint-separation": Closing(
        (("ck-joint-unload", "ck-wheel-shake-12-6"), ("ck-wheel-shake-3-9", "ck-dry-park"))
    ),
    # Wheel speeds and yaw are two reasons; the log at creep is no way out while the road is shut.
    "sg-false-intervention": Closing(
        (("ck-wire-trace", "ck-wss-log-creep"), ("ck-yaw-zero-static",)),
        lowers_to="road-test-lot-only",
    ),
    # The tyre itself on either side of the lift; which tyre it is; what it may touch.
    "sg-tyre-failure": Closing(
        (
            ("ck-tyre-wear-read", "ck-tyre-spin-look"),
            ("ck-tyre-id-match",),
            ("ck-spring-look",),
            ("ck-liner-rub-look",),
        )
    ),
    "sg-brake-hydraulic": Closing(
        (("ck-pedal-static",), ("ck-fluid-level",), ("ck-leak-look",)),
        after_find=("ck-hold-test-60s",),
    ),
    "sg-structure-rust": Closing((("ck-rust-probe",),), senior=True),
}


def house_of(knowledge: Knowledge, licensed: Iterable[str] = ()) -> House:
    """Return what the knowledge and the shop say about closing.

    Parameters
    ----------
    knowledge : Knowledge
    licensed : names on the shop's list for licensed practice; empty = it keeps none
    """
    sees = {
        check.id: frozenset().union(*(CORNERS[place] for place in SCOPES[check.per]))
        for check in knowledge.checks.values()
    }
    whole = frozenset(c.id for c in knowledge.checks.values() if SCOPES[c.per] == ("vehicle",))
    return House(RULES, sees, whole, LICENSED_GATES, frozenset(licensed))
