"""What is at stake: the price of leaving a cause unfound and of repairing a good part.

Leaving cause i unfound costs a comeback when it has a part in the complaint,
and its danger when it is there at all; repairing a part that is good costs the
repair::

    leave  = comeback * r + danger_weight * danger * q
    repair = repair_cost * (1 - q)
    loss   = min(leave, repair), summed over the causes

The numbers are money in the shop's currency. All defaults are starting
estimates, from memory, unconfirmed; comeback and the weight of danger were held
against others on simulated cars (decision 0010).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from triage.arrays import Floats

__all__ = ["DANGER", "Stakes", "loss"]

#: Price of leaving a deficiency of each class on the road (starting estimates).
DANGER: Mapping[str, float] = {"": 0.0, "minor": 100.0, "major": 600.0, "dangerous": 4000.0}


@dataclass(frozen=True, slots=True)
class Stakes:
    """Prices that turn chances into a decision."""

    labour_per_hour: float = 120.0
    comeback: float = 900.0  # the same complaint comes back
    danger_weight: float = 0.05  # lambda, 0.02 to 0.1
    danger: Mapping[str, float] = field(default_factory=dict)  # cause node id -> price
    repair: Mapping[str, float] = field(default_factory=dict)  # cause node id -> price
    repair_default: float = 300.0

    @property
    def per_minute(self) -> float:
        """Price of a minute in the bay."""
        return self.labour_per_hour / 60.0


def loss(q: Floats, r: Floats, prices: tuple[float, Floats, Floats]) -> Floats:
    """Return the loss of each cause; arrays broadcast over leading axes.

    Parameters
    ----------
    q, r : (..., causes) posterior and responsibility
    prices : comeback, (causes,) weighted danger, (causes,) repair
    """
    comeback, danger, repair = prices
    return np.minimum(comeback * r + danger * q, repair * (1.0 - q))
