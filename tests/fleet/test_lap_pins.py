"""Where defects are pinned, and what shape each grade has."""

import math
from itertools import combinations, pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.lap.cart import Pin
from fleet.lap.pins import spaced
from fleet.lap.stations import STATION_KEYS, axle_ends, station_of_wheel, wheel_codes
from tests.fleet.lap_carts import (
    CART,
    CARTS,
    SVG,
    drawn,
    leader_ends,
    marked,
    overlap,
    pin_boxes,
    pin_middles,
    stop_boxes,
    wheel_middles,
)

WHEELS = [(name, code) for name, cart in CARTS.items() for code in wheel_codes(cart.axles)]
HUBS = [(name, code) for name, cart in CARTS.items() for code in axle_ends(cart.axles)]


def at_wheel(cart, code, number=1, grade="do_not_use"):
    return Pin(station_of_wheel(code, cart.axles), code, f"Tread at {code}", grade, number)


def test_a_pin_at_2lo_stands_left_of_the_cart_beside_that_tyre():
    tree = drawn(pins=[at_wheel(CART, "2LO")])
    wheel, mark, end = wheel_middles(tree)["2LO"], pin_middles(tree)[1], leader_ends(tree)[0]
    assert mark[0] < wheel[0] < 0
    assert math.dist(mark, wheel) < 0.9
    assert math.dist(end, wheel) < 0.3


@pytest.mark.parametrize(("name", "code"), WHEELS)
def test_a_leader_ends_on_the_very_tyre(name, code):
    tree = drawn(CARTS[name], pins=[at_wheel(CARTS[name], code)])
    wheels, end = wheel_middles(tree), leader_ends(tree)[0]
    assert min(wheels, key=lambda other: math.dist(wheels[other], end)) == code
    assert math.dist(wheels[code], end) < 0.3
    assert (pin_middles(tree)[1][0] < 0) == (code[1] == "L")


@pytest.mark.parametrize(("name", "code"), HUBS)
def test_a_hub_is_pinned_at_the_cart_s_side_on_its_axle(name, code):
    tree = drawn(CARTS[name], pins=[at_wheel(CARTS[name], code)])
    (x, y), wheels = leader_ends(tree)[0], wheel_middles(tree)
    beside = next(place for wheel, place in wheels.items() if wheel.startswith(code))
    assert (x < 0) == (code[1] == "L")
    assert abs(x) > 0.9
    assert abs(y - beside[1]) < 0.2


def test_gear_that_is_drawn_can_be_pointed_at():
    plain, on_gear = (
        leader_ends(drawn(pins=[Pin("rear", place, "Movement at the base", "watch", 1)]))
        for place in ("", "cannon")
    )
    assert plain != on_gear


def test_a_place_that_is_not_drawn_is_pinned_at_its_station():
    ends = {
        place: leader_ends(drawn(pins=[Pin("right_side", place, "Gauge in the red", "by_date", 1)]))
        for place in ("", "X-90-1123", "9LO", "high_pressure_outlet")
    }
    assert len({tuple(end) for end in ends.values()}) == 1
    assert ends[""][0][0] > 1


@pytest.mark.parametrize("station", STATION_KEYS)
@pytest.mark.parametrize("count", [2, 5, 24])
def test_many_pins_at_one_place_stand_clear_of_each_other_and_of_the_stops(station, count):
    grades = ("do_not_use", "by_date", "watch")
    pins = [Pin(station, "", "Found", grades[number % 3], number) for number in range(1, count + 1)]
    tree = drawn(pins=pins)
    marks = list(pin_boxes(tree).values())
    left, top, width, height = (float(part) / 50 for part in tree.get("viewBox").split())
    assert len(marks) == count
    assert not [pair for pair in combinations(marks, 2) if overlap(*pair)]
    assert not [pair for pair in product(marks, stop_boxes(tree).values()) if overlap(*pair)]
    assert all(
        left < box[0] and box[2] < left + width and top < box[1] and box[3] < top + height for box in marks
    )


def test_pins_at_every_wheel_stand_clear_of_each_other():
    cart = CARTS["twin_steer"]
    tree = drawn(
        cart, pins=[at_wheel(cart, code, n) for n, code in enumerate(wheel_codes(cart.axles), start=1)]
    )
    assert not [pair for pair in combinations(pin_boxes(tree).values(), 2) if overlap(*pair)]


@pytest.mark.parametrize("cart", CARTS.values(), ids=CARTS)
@pytest.mark.parametrize("each", [1, 3, 6])
def test_pins_at_every_station_at_once_stand_clear_of_each_other(cart, each):
    pins = [
        Pin(key, "", "Found", "by_date", number) for number, key in enumerate(STATION_KEYS * each, start=1)
    ]
    boxes = pin_boxes(drawn(cart, pins=pins))
    assert len(boxes) == 10 * each
    assert not [pair for pair in combinations(boxes.values(), 2) if overlap(*pair)]


def test_a_pin_over_the_tank_goes_to_the_side_with_fewer():
    crowd = [Pin("left_side", "", "Board", "watch", number) for number in (1, 2)]
    tree = drawn(pins=[*crowd, Pin("tank_top", "", "Lid seal", "watch", 3)])
    assert pin_middles(tree)[3][0] > 0


def test_pins_of_the_cab_keep_off_the_line_from_the_seat():
    horn = [Pin("cab", "", "Horn", "do_not_use", 1)]
    assert pin_middles(drawn(pins=horn))[1][0] < 0
    assert pin_middles(drawn(CARTS["bonneted_left"], pins=horn))[1][0] > 0


@pytest.mark.parametrize(
    ("grade", "tag", "corners"),
    [("do_not_use", "polygon", 8), ("by_date", "polygon", 3), ("watch", "circle", 0)],
)
@pytest.mark.parametrize("self_contained", [True, False])
def test_a_grade_is_told_by_shape(grade, tag, corners, self_contained):
    tree = drawn(pins=[Pin("rear", "", "Lamp", grade, 7)], self_contained=self_contained)
    pin = marked(tree, "data-number", "7")
    shape = next(element for element in pin if element.get("class") == "lap-pin-shape")
    assert shape.tag == f"{SVG}{tag}"
    assert len((shape.get("points") or "").split()) == corners
    assert pin.find(f"{SVG}text").text == "7"
    assert pin.find(f"{SVG}title").text == "7 Lamp"


@pytest.mark.parametrize(
    ("station", "grade", "says"),
    [("boot", "watch", "no station"), ("rear", "urgent", "'urgent' is not one of")],
)
def test_a_pin_with_an_unknown_word_is_refused(station, grade, says):
    with pytest.raises(ValueError, match=says):
        Pin(station, "", "Lamp", grade, 1)


@given(st.lists(st.floats(-2, 12), max_size=14))
def test_marks_keep_their_order_and_distance_inside_the_room_there_is(wanted):
    wanted.sort()
    placed = spaced(wanted, 0.7, 0.0, 9.8)
    assert len(placed) == len(wanted)
    assert all(b - a >= 0.7 - 1e-9 for a, b in pairwise(placed))
    assert all(-1e-9 <= place <= 9.8 + 1e-9 for place in placed)


def test_marks_that_are_apart_already_stay_where_they_were_wanted():
    assert spaced([1.0, 2.0, 4.0], 0.7, 0.0, 9.0) == [1.0, 2.0, 4.0]


def test_two_marks_for_one_place_stand_evenly_about_it():
    assert spaced([3.0, 3.0], 0.7, 0.0, 9.0) == pytest.approx([2.65, 3.35])
