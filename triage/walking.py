"""The way through a list: from set-up to set-up, with the torque wrench where it is due.

A wheel that has been off is tightened before the car moves; where the list goes
onto the road with a wheel off since the last drive, the way leads past the place
where that is done.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from triage.candidates import Yard
from triage.precedence import Refit
from triage.sequencing import Ground

__all__ = ["Leg", "walk"]


@dataclass(frozen=True, slots=True)
class Leg:
    """One check with the way to it.

    Attributes
    ----------
    offer : the check
    change : minutes of the change-over to it, from where wheels are tightened if due
    tighten : minutes of the change-over to where wheels are tightened, None if not due
    labour : minutes of labour of the whole leg, the check included
    """

    offer: int
    change: float
    tighten: float | None
    labour: float


def walk(order: Sequence[int], yard: Yard, ground: Ground, refit: Refit | None) -> list[Leg]:
    """Return the legs of a list.

    Parameters
    ----------
    order : offers in the order in which they are done
    yard, ground : the shop
    refit : tightening the wheels, if it is watched
    """
    here, loose = ground.start, ground.loose
    legs: list[Leg] = []
    for k in order:
        there = yard.setup[k]
        labour = float(yard.minutes[k] * yard.hands[there])
        if refit is not None and ground.tightened is not None and loose and there == ground.road:
            via = yard.index[refit.setup]
            labour += float(ground.tightened[here])
            legs.append(
                Leg(k, float(yard.travel[via, there]), float(yard.travel[here, via]), labour)
            )
        else:
            labour += float(ground.travel[here, there])
            legs.append(Leg(k, float(yard.travel[here, there]), None, labour))
        tightened = there == ground.road or (refit is not None and k == refit.offer)
        here, loose = there, there == ground.off or (loose and not tightened)
    return legs
