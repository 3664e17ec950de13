"""What a desk is given beside knowledge and records: the shop's terms, and the hands that work."""

from __future__ import annotations

from dataclasses import dataclass, field

from api.documents import CaseShop

__all__ = ["Hands", "ShopTerms"]


@dataclass(frozen=True, slots=True)
class ShopTerms:
    """What the shop says, beside the knowledge.

    Attributes
    ----------
    shop : its prices
    licensed : names on its list for licensed practice; empty = it keeps none
    """

    shop: CaseShop = field(default_factory=CaseShop)
    licensed: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Hands:
    """What works on lists.

    Attributes
    ----------
    lists : worked out side by side for those who wait
    ahead : whether the lists after the likely next answers are made before they are asked for
    """

    lists: int = 2
    ahead: bool = False
