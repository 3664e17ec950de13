"""What each cause's repair and danger cost, from the knowledge and the shop.

Labour is the middle of the repair's hours times the shop's rate; parts are not
known until the shop prices them, so that they are put at the same again. Both
are starting estimates.
"""

from __future__ import annotations

from collections.abc import Mapping

from api.documents import Case
from graph.terms import Knowledge
from triage.stakes import DANGER, Stakes

__all__ = ["kind_of", "place_of", "repair_prices", "stakes_for"]

#: Parts are put at this many times the labour until the shop prices them.
PARTS_SHARE = 1.0
LABOUR_PER_HOUR = 120.0


def kind_of(node: str) -> str:
    """Return the id of the kind: ``rc-x`` for ``rc-x@lr``."""
    return node.partition("@")[0]


def place_of(node: str) -> str:
    """Return the place of an instance, ``vehicle`` where none is written."""
    return node.partition("@")[2] or "vehicle"


def repair_prices(knowledge: Knowledge, labour_per_hour: float) -> dict[str, float]:
    """Return the price of the cheapest repair of each cause kind."""
    prices: dict[str, float] = {}
    for repair in knowledge.repairs.values():
        hours = (repair.hours_low + repair.hours_high) / 2.0
        price = hours * labour_per_hour * (1.0 + PARTS_SHARE)
        for cause in repair.fixes:
            prices[cause] = min(price, prices.get(cause, price))
    return prices


def stakes_for(knowledge: Knowledge, causes: tuple[str, ...], shop: Case | object | None) -> Stakes:
    """Return the stakes of one case; `shop` has ``labour_per_hour``."""
    rate = float(getattr(shop, "labour_per_hour", None) or LABOUR_PER_HOUR)
    by_kind: Mapping[str, float] = repair_prices(knowledge, rate)
    return Stakes(
        labour_per_hour=rate,
        danger={node: DANGER[knowledge.causes[kind_of(node)].deficiency] for node in causes},
        repair={node: by_kind[kind_of(node)] for node in causes if kind_of(node) in by_kind},
    )
