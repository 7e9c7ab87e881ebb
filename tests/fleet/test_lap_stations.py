"""The stations in lap order, and the one each wheel belongs to."""

import pytest

from fleet.lap.stations import (
    STATION_KEYS,
    STATIONS,
    axle_ends,
    axle_ends_at,
    front_axle_count,
    station,
    station_of_wheel,
    wheel_codes,
    wheel_codes_at,
    wheel_place,
)
from tests.fleet.lap_carts import THREE, TWIN_STEER, TWO

STEER_BEHIND = (*THREE[:1], *THREE[1:2], TWIN_STEER[1])


def test_the_lap_goes_from_the_cab_round_the_front_right_rear_and_left_to_the_tank_top():
    assert STATION_KEYS == (
        "cab",
        "front",
        "right_front_wheel",
        "right_side",
        "right_rear_wheels",
        "rear",
        "left_rear_wheels",
        "left_side",
        "left_front_wheel",
        "tank_top",
    )
    assert [one.number for one in STATIONS] == list(range(1, 11))


def test_a_station_is_found_by_its_key():
    assert station("rear").label == "Rear"
    assert station("rear").number == 6


def test_an_unknown_station_is_refused_by_name():
    with pytest.raises(ValueError, match="no station called 'boot'"):
        station("boot")


@pytest.mark.parametrize(
    ("axles", "code", "expected"),
    [
        pytest.param(TWO, "1L", "left_front_wheel", id="front left"),
        pytest.param(TWO, "1R", "right_front_wheel", id="front right"),
        pytest.param(TWO, "2LO", "left_rear_wheels", id="rear outer"),
        pytest.param(TWO, "2RI", "right_rear_wheels", id="rear inner"),
        pytest.param(THREE, "3RO", "right_rear_wheels", id="third axle"),
        pytest.param(THREE, "2L", "left_rear_wheels", id="axle end of a dual axle"),
        pytest.param(TWIN_STEER, "2R", "right_front_wheel", id="second steering axle is front"),
        pytest.param(TWIN_STEER, "3LI", "left_rear_wheels", id="first driven axle behind two steering"),
        pytest.param(
            STEER_BEHIND, "3L", "left_rear_wheels", id="a steering axle behind a driven one is rear"
        ),
    ],
)
def test_a_wheel_belongs_to_the_front_or_rear_station_of_its_side(axles, code, expected):
    assert station_of_wheel(code, axles) == expected


@pytest.mark.parametrize("code", ["", "L1", "1", "0L", "2lo", "2LOO", "10L", "2L ", "tyre"])
def test_what_is_no_wheel_code_is_refused(code):
    with pytest.raises(ValueError, match="no wheel"):
        wheel_place(code)


def test_a_wheel_on_an_axle_the_cart_has_not_got_is_refused():
    with pytest.raises(ValueError, match="3LO is on axle 3, and this cart has 2"):
        station_of_wheel("3LO", TWO)


def test_codes_come_down_the_right_side_and_up_the_left():
    assert wheel_codes(THREE) == ("1R", "2RO", "2RI", "3RO", "3RI", "3LO", "3LI", "2LO", "2LI", "1L")
    assert axle_ends(THREE) == ("1R", "2R", "3R", "3L", "2L", "1L")


@pytest.mark.parametrize("axles", [TWO, THREE, TWIN_STEER, STEER_BEHIND])
def test_every_wheel_and_hub_is_at_exactly_one_station_in_lap_order(axles):
    tyres = [code for key in STATION_KEYS for code in wheel_codes_at(key, axles)]
    hubs = [code for key in STATION_KEYS for code in axle_ends_at(key, axles)]
    assert tyres == list(wheel_codes(axles))
    assert hubs == list(axle_ends(axles))
    assert wheel_codes_at("right_side", axles) == ()


def test_front_axles_are_the_steering_ones_before_the_first_that_does_not_and_at_least_one():
    assert [front_axle_count(axles) for axles in (TWO, TWIN_STEER, STEER_BEHIND)] == [1, 2, 1]
    assert front_axle_count(THREE[1:]) == 1
