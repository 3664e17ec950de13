"""Replace first or look first: cars counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from triage.exact import stand
from triage.model import Network
from triage.sensor_first import Cars, Look, Prices, compare, draw_cars, joined

#: The sensor and the wiring each set the code by themselves, and nothing else does: given
#: the code, sensor alone, wiring alone and both are equally likely.
NETWORK = Network.from_document(
    {
        "nodes": [
            {"id": "sensor", "kind": "cause", "prior": 0.5},
            {"id": "wiring", "kind": "cause", "prior": 0.5},
            {"id": "open", "kind": "state", "parents": [{"id": "wiring", "strength": 1.0}]},
            {"id": "code", "kind": "finding",
             "parents": [{"id": "sensor", "strength": 1.0}, {"id": "open", "strength": 1.0}]},
        ]
    }
)  # fmt: skip
STATE = stand(NETWORK, {"code": True})
INDEX = NETWORK.arrays.index
#: Minutes of the repairs, money for the parts, a unit of money a minute, five minutes to try
#: the car, forty of further diagnosis.
PRICES = Prices(np.array([30.0, 20.0]), np.array([100.0, 10.0]), 1.0, 5.0, 40.0)
LOOK = Look(10.0, ((INDEX["wiring"], 1.0),))


def _cars() -> Cars:
    """Return one car of each of the three sorts."""
    states = np.zeros((3, 4), np.bool_)
    states[[0, 2], INDEX["sensor"]] = True
    states[1:, INDEX["wiring"]] = states[1:, INDEX["open"]] = True
    states[:, INDEX["code"]] = True
    arrays = NETWORK.arrays
    return Cars(
        STATE.compiled,
        STATE.rows,
        states,
        states[:, arrays.parents],  # every link has strength one
        states[:, STATE.rows],
        np.full(3, 1.0 / 3.0),
    )


def test_both_ways_cost_what_they_cost_by_hand() -> None:
    """Sensor alone, wiring alone, both; minutes and money added up on paper.

    Replace first: 30 + 5; then in two cars 10 to look, 20 + 5 for the wiring: 35, 70, 70.
    Look first: 10 to look; the wiring 20 + 5; the sensor after all 30 + 5: 45, 35, 70.
    Parts: 100, 110, 110 against 100, 10, 110.
    """
    told = compare(_cars(), 0, 2.0 / 3.0, [LOOK], PRICES)

    assert told is not None
    assert told.ends == pytest.approx(1.0 / 3.0)
    assert told.minutes == pytest.approx((175.0 / 3.0, 150.0 / 3.0))
    assert told.cost == pytest.approx((495.0 / 3.0, 370.0 / 3.0))
    assert told.cost_saved == pytest.approx(-125.0 / 3.0)


def test_a_state_that_is_found_leads_to_its_cause() -> None:
    """A check that shows the open circuit is as good as one that shows the wiring."""
    by_state = Look(10.0, ((INDEX["open"], 1.0),))

    assert compare(_cars(), 0, 2.0 / 3.0, [by_state], PRICES) == compare(
        _cars(), 0, 2.0 / 3.0, [LOOK], PRICES
    )


def test_without_a_list_looking_first_is_further_diagnosis_or_the_part() -> None:
    """Where diagnosis is dear the part is tried after all, and both ways are one."""
    dear = Prices(PRICES.minutes, PRICES.parts, 1.0, 5.0, 1000.0)

    told = compare(_cars(), 0, 2.0 / 3.0, [], dear)

    assert told is not None
    assert told.cost_saved == pytest.approx(0.0)
    assert told.cost_error == pytest.approx(0.0)


def test_an_almost_certainly_bad_sensor_is_replaced_first() -> None:
    """One time in five it is the sensor: the sum must come out for it then."""
    told = compare(_cars(), 0, 0.99, [LOOK, Look(30.0, ())], PRICES)

    assert told is not None
    assert told.cost_saved > 0.0


def test_strata_are_weighed_with_the_exact_chance_and_not_with_their_size() -> None:
    """More cars with the part bad must not make it look bad more often."""
    cars = _cars()
    bad = cars.states[:, INDEX["sensor"]]
    many = joined(cars, joined(cars, cars, ~bad), np.ones(3, np.bool_))

    one, other = (compare(c, 0, 2.0 / 3.0, [LOOK], PRICES) for c in (cars, many))

    assert one is not None
    assert other is not None
    assert other.cost == pytest.approx(one.cost)
    assert other.count > one.count


def test_no_comparison_without_a_car_in_each_stratum() -> None:
    """Nothing can be said of a bad part from cars in which it is good."""
    cars = _cars()
    good = joined(cars, joined(cars, cars, np.zeros(3, np.bool_)), np.zeros(3, np.bool_))
    only = Cars(
        good.compiled, good.rows, good.states[1:2], good.acted[1:2], good.part[1:2], good.weight[:1]
    )

    assert compare(only, 0, 0.5, [LOOK], PRICES) is None


def test_drawn_cars_give_the_sum_by_hand_within_their_stated_error() -> None:
    """The stated standard error has to cover the truth: four of them, on a fixed draw."""
    cars = draw_cars(STATE.compiled, [INDEX["code"]], 400)

    told = compare(cars, 0, float(STATE.q[0]), [LOOK], PRICES)

    assert told is not None
    assert told.count == 400
    assert abs(told.ends - 1.0 / 3.0) < 4.0 * told.ends_error
    assert abs(told.cost_saved + 125.0 / 3.0) < 4.0 * told.cost_error
    assert 0.0 < told.ends_error < 0.05


def test_cars_given_a_bad_part_all_have_it() -> None:
    """The second draw fills the stratum that the first left thin."""
    cars = draw_cars(STATE.compiled, [INDEX["code"]], 50, given=INDEX["sensor"])

    assert cars.states[:, INDEX["sensor"]].all()
    assert cars.weight.sum() == pytest.approx(1.0)
