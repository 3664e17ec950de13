"""Priors: how likely each cause is at each place before anything is observed.

The base rate is P(the cause is somewhere on a car that arrives), for salted or
for dry roads; unknown counts as salted. It is divided over the places so that
the places together give the base rate back::

    P(at place i) = 1 - (1 - base) ** share_i        sum of share_i = 1

Then the odds are multiplied by what is known of the car: contexts (product held
within 0.1 to 50), age curve and mileage curve (their geometric mean where a cause
has both), vehicle facts. Every number is a starting estimate, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping

from graph.case import CaseInput, Vehicle
from graph.facts import FactView
from graph.odds_rules import RuleEffects
from graph.placing import covers, instance_id
from graph.terms import SCOPES, Cause, Curve, Knowledge, Place
from triage.errors import ParameterError, UnknownTermError

__all__ = ["MILES_PER_KM", "context_odds", "curve_odds", "is_salted", "place_shares", "priors"]

#: International mile of 1959: exactly 1.609344 km.
MILES_PER_KM = 1.0 / 1.609344
LOWEST_CONTEXT, HIGHEST_CONTEXT = 0.1, 50.0
#: Age curves over the age of a part that is renewed in service, not of the car:
#: the car's age only bounds it, so they are used up to this age of the car.
RENEWED_PARTS: Mapping[str, float] = {"cv-battery-age": 6.0}


def is_salted(vehicle: Vehicle) -> bool:
    """Is the car taken to drive on salted roads? Unknown counts as yes."""
    return vehicle.salted_roads is not False


def place_shares(cause: Cause) -> dict[Place, float]:
    """Return how a cause divides over its places; the shares sum to 1.

    A cause with places at both ends follows its front share; left and right are
    even, because the case does not say on which side the kerb is.

    Examples
    --------
    >>> place_shares(Cause("rc-x", "", "", "corner", "S0", front_share=0.6))
    {'lf': 0.3, 'rf': 0.3, 'lr': 0.2, 'rr': 0.2}
    """
    places = SCOPES[cause.scope]
    front = [place for place in places if covers("front", place)]
    if cause.front_share is None or not 0 < len(front) < len(places):
        return {place: 1.0 / len(places) for place in places}
    ends = {True: cause.front_share / len(front)}
    ends[False] = (1.0 - cause.front_share) / (len(places) - len(front))
    return {place: ends[place in front] for place in places}


def context_odds(
    knowledge: Knowledge,
    context: Iterable[str],
    replaced: Collection[tuple[str, str]] = (),
) -> dict[str, float]:
    """Return for each cause the capped product of the contexts' odds factors.

    A (context, cause) pair in `replaced` does not count: a rule speaks in its place.

    Raises
    ------
    UnknownTermError
        If a context is not known.
    """
    product: dict[str, float] = {}
    for key in dict.fromkeys(context):
        if key not in knowledge.contexts:
            raise UnknownTermError("context", key, knowledge.contexts, where="context")
        for cause, factor in knowledge.contexts[key].odds.items():
            if (key, cause) not in replaced:
                product[cause] = product.get(cause, 1.0) * factor
    return {
        cause: min(HIGHEST_CONTEXT, max(LOWEST_CONTEXT, factor))
        for cause, factor in product.items()
    }


def curve_odds(knowledge: Knowledge, vehicle: Vehicle) -> dict[str, float]:
    """Return for each cause its factor on the odds from age and mileage.

    A dry column that is recorded relative to the salted base is turned into a
    factor on the dry base first, so that it can be averaged with another curve.

    Raises
    ------
    ParameterError
        If age or mileage is negative or not a number.
    """
    factors: dict[str, list[float]] = {}
    for curve in knowledge.curves:
        value = _position(curve, vehicle)
        if value is None:
            continue
        height = _height(curve, value, vehicle)
        relative = curve.dry_relative_to_salted and not is_salted(vehicle)
        for key in curve.causes:
            cause = knowledge.causes[key]
            shift = _odds(cause.base_salted) / _odds(cause.base_dry) if relative else 1.0
            factors.setdefault(key, []).append(height * shift)
    return {cause: math.prod(row) ** (1.0 / len(row)) for cause, row in factors.items()}


def _odds(chance: float) -> float:
    """Return odds; a base rate that nobody wrote down counts as one in a million."""
    chance = max(chance, 1e-6)
    return chance / (1.0 - chance)


def _position(curve: Curve, vehicle: Vehicle) -> float | None:
    """Return where the car stands on a curve: years, or thousand miles; None = unknown."""
    value = vehicle.age_years if curve.kind == "age" else vehicle.odometer_km
    if value is None:
        return None
    if not (math.isfinite(value) and value >= 0.0):
        name = "age_years" if curve.kind == "age" else "odometer_km"
        raise ParameterError(name, value, allowed="[0, inf)", where="vehicle")
    if curve.kind == "age":
        return value if value <= RENEWED_PARTS.get(curve.id, math.inf) else None
    return value * MILES_PER_KM / 1000.0


def _height(curve: Curve, value: float, vehicle: Vehicle) -> float:
    """Return the factor of the column that a value falls into; bounds belong below."""
    column = next(
        (index for index, upper in enumerate(curve.upper) if value <= upper), len(curve.upper) - 1
    )
    return (curve.salted if is_salted(vehicle) else curve.dry)[column]


def priors(
    knowledge: Knowledge, view: FactView, case: CaseInput, rules: RuleEffects
) -> dict[str, float]:
    """Return the prior of every cause node that this car can have.

    Returns
    -------
    dict
        Cause node id -> probability in [0, 1).
    """
    contexts = context_odds(knowledge, case.context, rules.replaced)
    curves = curve_odds(knowledge, case.vehicle)
    salted = is_salted(case.vehicle)
    found: dict[str, float] = {}
    for cause in knowledge.causes.values():
        base = cause.base_salted if salted else cause.base_dry
        odds = math.prod(table.get(cause.id, 1.0) for table in (contexts, curves, rules.odds))
        for place, share in place_shares(cause).items():
            node = instance_id(cause.id, place)
            if node not in view.removed:
                chance = 1.0 - (1.0 - base) ** share
                found[node] = _scaled(chance, odds * view.odds.get(node, 1.0))
    return found


def _scaled(chance: float, factor: float) -> float:
    """Return the probability whose odds are `factor` times those of `chance`."""
    return chance * factor / (1.0 - chance + chance * factor)
