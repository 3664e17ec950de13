"""The part that a code names: whether it is bad, and whether replacing it first pays.

Both ways are walked through on drawn cars (`triage.sensor_first`); this module
brings the list, the repair times and the prices, and says the outcome in words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from api.answering.gating import barring
from api.answering.prices import PARTS_SHARE, kind_of
from api.answering.steps import Offers
from api.documents import SensorRow
from api.words import minutes_words, percent_words
from graph.compiled import CompiledCase
from graph.terms import Knowledge
from triage.arrays import Floats
from triage.gates import OpenGate
from triage.schedule import TIGHTEN, Plan
from triage.sensor_first import Cars, Comparison, Look, Prices, compare, draw_cars, joined
from triage.stakes import Stakes
from triage.value import Outlook

__all__ = ["CARS", "Asked", "bare_rows", "sensor_rows"]

#: Cars walked through for each part.
CARS = 300
#: Fewest cars with the part bad, before so many are drawn by themselves.
_FEWEST_BAD = 75
#: Products of one sweep up to which more cars are drawn, and cars are drawn at all.
_CHEAP, _AFFORDABLE = 2e7, 1e9
#: Starting estimates, common practice, no source.
FURTHER_MINUTES = 60.0  # diagnosis when the list has brought nothing
REPAIR_MINUTES = 60.0  # where the knowledge has no repair for a cause
TRYING_REPAIR = "rp-verification-drive"
#: A difference of less than so many minutes' money is none.
MATERIAL_MINUTES = 10.0
#: A part priced by nobody may cost half or double what is put down for it.
PRICE_BAND = 2.0


@dataclass(frozen=True, slots=True)
class Asked:
    """What the rows are made from."""

    knowledge: Knowledge
    compiled: CompiledCase
    outlook: Outlook
    plan: Plan
    offers: Offers
    stakes: Stakes
    gates: Sequence[OpenGate]
    parts: Mapping[str, float]  # cause kind -> price of its parts, where the shop gave one
    currency: str


def bare_rows(asked: Asked) -> tuple[SensorRow, ...]:
    """Return a row for each part that a code of the case names: only that it may be bad."""
    return tuple(_bare(asked, part, k) for part, k in _suspects(asked))


def sensor_rows(
    asked: Asked, band: tuple[Floats, Floats], pause: Callable[[], None] = lambda: None
) -> tuple[SensorRow, ...]:
    """Return the rows with both ways compared.

    Parameters
    ----------
    asked : what they are made from
    band : (causes,) ends of each posterior
    pause : called before each part that is drawn
    """
    suspects = _suspects(asked)
    cost = asked.outlook.state.compiled.plan.cost
    if suspects:
        pause()
    cars = _draw(asked, None, CARS) if suspects and cost <= _AFFORDABLE else None
    rows = []
    for part, k in suspects:
        pause()
        bare, q = _bare(asked, part, k), float(asked.outlook.q[k])
        told = _compared(asked, k, cars) if cars is not None else None
        low, high = (float(end[k]) for end in band)
        more = {"low": min(low, q), "high": max(high, q)}
        rows.append(
            bare.model_copy(update=more | ({} if told is None else _outcome(asked, told, q)))
        )
    return tuple(rows)


def _suspects(asked: Asked) -> list[tuple[str, int]]:
    """Return the parts that a code of the case names, with their place among the causes."""
    index = {cause: k for k, cause in enumerate(asked.outlook.causes)}
    return [(part, index[part]) for part in asked.compiled.parts if part in index]


def _bare(asked: Asked, part: str, suspect: int) -> SensorRow:
    """Return one row with the chance that the part is bad, and what it costs."""
    q = float(asked.outlook.q[suspect])
    kind = kind_of(part)
    price = float(_prices(asked).parts[suspect])
    given = kind in asked.parts
    return SensorRow(
        part=part,
        posterior=q,
        codes=_codes_naming(asked, part),
        part_price=price,
        part_price_low=price if given else price / PRICE_BAND,
        part_price_high=price if given else price * PRICE_BAND,
        priced_by="shop" if given else "estimate",
    )


def _outcome(asked: Asked, told: Comparison, q: float) -> dict[str, Any]:
    """Return the fields of a row that both ways were walked for."""
    better, ends = _better(asked, told), min(told.ends, q)
    return {
        "ends_complaint": ends,
        "ends_error": told.ends_error,
        "cost_replace_first": told.cost[0],
        "cost_look_first": told.cost[1],
        "cost_error": told.cost_error,
        "minutes_replace_first": told.minutes[0],
        "minutes_look_first": told.minutes[1],
        "minutes_error": told.minutes_error,
        "cars": told.count,
        "better": better,
        "sentence": _sentence(asked, told, better, ends),
    }


def _draw(asked: Asked, given: int | None, count: int) -> Cars:
    """Return drawn cars."""
    state = asked.outlook.state
    index = state.compiled.network.arrays.index
    complaint = [index[node] for node in sorted(asked.compiled.complaint)]
    return draw_cars(state.compiled, complaint, count, given=given)


def _compared(asked: Asked, suspect: int, cars: Cars) -> Comparison | None:
    """Return both ways compared, with enough cars in which the part is bad."""
    state = asked.outlook.state
    row = int(state.rows[suspect])
    q = float(asked.outlook.q[suspect])
    bad = cars.states[:, row]
    reachable = state.compiled.value_axis[row] >= 0
    if not reachable:  # nothing in the complaint can come from it
        q = 0.0
    elif bad.sum() < _FEWEST_BAD and state.compiled.plan.cost <= _CHEAP:
        cars = joined(cars, _draw(asked, row, _FEWEST_BAD), ~bad)
    return compare(cars, suspect, q, _looks(asked), _prices(asked))


def _looks(asked: Asked) -> list[Look]:
    """Return the list as it stands, with what each step can prove."""
    index = asked.compiled.network.arrays.index
    looks = []
    for step in asked.plan.steps:
        if step.offer == TIGHTEN:  # takes its time and shows nothing
            looks.append(Look(step.minutes + step.change_minutes, ()))
            continue
        offer = asked.compiled.checks[asked.offers.rows[step.offer]]
        shows = tuple((index[v.target], v.p_found_if_on) for v in offer.verdicts if v.node is None)
        looks.append(Look(step.minutes + step.change_minutes, shows))
    return looks


def _prices(asked: Asked) -> Prices:
    """Return times and prices of the repairs of all causes."""
    hours: dict[str, float] = {}
    for repair in asked.knowledge.repairs.values():
        middle = (repair.hours_low + repair.hours_high) / 2.0
        for cause in repair.fixes:
            hours[cause] = min(middle, hours.get(cause, middle))
    kinds = [kind_of(node) for node in asked.outlook.causes]
    minutes = np.array([60.0 * hours[k] if k in hours else REPAIR_MINUTES for k in kinds])
    labour = minutes * asked.stakes.per_minute * PARTS_SHARE
    parts = np.array([asked.parts.get(k, labour[i]) for i, k in enumerate(kinds)])
    trying = asked.knowledge.repairs.get(TRYING_REPAIR)
    drive = 30.0 * (trying.hours_low + trying.hours_high) if trying else REPAIR_MINUTES / 2.0
    return Prices(minutes, parts, asked.stakes.per_minute, drive, FURTHER_MINUTES)


def _better(asked: Asked, told: Comparison) -> str:
    """Return which way is better by money; less than two standard errors is none."""
    if barring(asked.knowledge, asked.gates):
        return "gate-first"
    least = max(2.0 * told.cost_error, MATERIAL_MINUTES * asked.stakes.per_minute)
    if told.cost_saved > least:
        return "replace-first"
    return "look-first" if told.cost_saved < -least else "either"


def _sentence(asked: Asked, told: Comparison, better: str, ends: float) -> str:
    """Return the outcome in one or two plain sentences."""
    gain = _money(abs(told.cost_saved), asked.currency)
    if told.cost_saved * told.minutes_saved > 0.0:
        gain = f"{gain} and {minutes_words(abs(told.minutes_saved))}"
    alone = f"A new one alone ends the complaint in {percent_words(ends)} of such cars."
    if better == "gate-first":
        barred = barring(asked.knowledge, asked.gates)
        names = ", ".join(asked.knowledge.gates[g.id].label.lower() for g in barred)
        return f"No part is replaced before the open gate is closed ({names}). {alone}"
    if better == "replace-first":
        return f"Replacing it is the right call: it saves about {gain} on average. {alone}"
    if better == "look-first":
        return f"Look first: it saves about {gain} on average. {alone}"
    return f"Both ways come to about the same. {alone}"


def _money(amount: float, currency: str) -> str:
    """Return money rounded to what an estimate is worth: tens."""
    return f"{max(10, round(amount / 10) * 10)} {currency}".strip()


def _codes_naming(asked: Asked, part: str) -> tuple[str, ...]:
    """Return the codes of the case whose entry names the part."""
    kind, _, place = part.partition("@")
    named = []
    for item in asked.compiled.items:
        if item.kind != "code":
            continue
        for node, _ in item.contributions:
            code = asked.knowledge.codes.get(node)
            if code and code.part == kind and place in {"", code.place}:
                named.append(item.key)
    return tuple(dict.fromkeys(named))
