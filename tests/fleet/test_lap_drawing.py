"""The lap drawing: true to the cart, in order, safe to embed, and the same every time."""

import ast
import math
import re
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace

import pytest

from fleet.gear import GEAR
from fleet.lap.cart import LapAxle, LapCart, Pin, axles_of_groups
from fleet.lap.drawing import draw
from fleet.lap.parts import DRAWN_GEAR
from fleet.lap.stations import STATION_KEYS, wheel_codes
from tests.fleet.lap_carts import CART, CARTS, SVG, THREE, drawn, marked, stop_middles, wheel_middles

WORDS = {"title": "Cart 47", "description": "Seen from above."}
BARE = CARTS["bare"]
PINS = [
    Pin("left_rear_wheels", "2LO", "Tread 2.4 mm", "do_not_use", 1),
    Pin("rear", "", "Lamp", "by_date", 2),
]
# What the walk-round page takes into its own document; anything else would be lost there.
TAKEN_IN = {"svg", "g", "path", "rect", "circle", "polygon", "text", "title", "desc"}


@pytest.mark.parametrize("key", sorted(DRAWN_GEAR))
def test_each_gear_that_is_drawn_shows_once_it_is_fitted(key):
    fitted = drawn(replace(BARE, gear=frozenset({key})))
    part = marked(fitted, "data-gear", key)
    assert key not in marked(drawn(BARE), "data-gear")
    assert [element for element in part.iter() if element.tag in {f"{SVG}path", f"{SVG}rect", f"{SVG}circle"}]


@pytest.mark.parametrize("key", sorted(DRAWN_GEAR))
def test_each_gear_tells_on_a_cart_with_everything_else(key):
    everything = replace(BARE, gear=DRAWN_GEAR)
    assert draw(replace(BARE, gear=DRAWN_GEAR - {key}), **WORDS) != draw(everything, **WORDS)


def test_gear_is_named_as_everywhere_else():
    assert GEAR.keys() >= DRAWN_GEAR


@pytest.mark.parametrize("key", sorted(GEAR.keys() - DRAWN_GEAR))
def test_gear_nobody_sees_from_above_leaves_the_drawing_alone(key):
    assert draw(replace(BARE, gear=frozenset({key})), **WORDS) == draw(BARE, **WORDS)


@pytest.mark.parametrize(
    ("field", "values"),
    [
        ("steering_side", ["left", "right"]),
        ("tank_shape", ["cylinder", "ellipse", "box"]),
        ("tank_material", ["steel", "stainless", "aluminium", "poly"]),
        ("cab", ["forward", "bonneted"]),
        ("tank_length_m", [3.0, 4.0]),
        ("tank_width_m", [1.8, 2.2]),
        ("length_m", [None, 9.0, 9.5]),
    ],
)
def test_each_fact_of_a_cart_shows(field, values):
    assert len({draw(replace(BARE, **{field: value}), **WORDS) for value in values}) == len(values)


@pytest.mark.parametrize(("side", "sign"), [("right", 1), ("left", -1)])
@pytest.mark.parametrize("cab", ["forward", "bonneted"])
def test_the_steering_wheel_and_the_seat_are_on_the_driver_s_side(side, sign, cab):
    tree = drawn(replace(CART, steering_side=side, cab=cab))
    wheel = next(group for group in tree.iter(f"{SVG}g") if group.get("class") == "lap-steering-wheel")
    assert [math.copysign(1, float(circle.get("cx"))) for circle in wheel.iter(f"{SVG}circle")] == [
        sign,
        sign,
    ]
    assert stop_middles(tree)["cab"][0] * sign > 0


@pytest.mark.parametrize("cart", CARTS.values(), ids=CARTS)
def test_stops_go_once_round_clockwise_from_the_front(cart):
    stops = stop_middles(drawn(cart))
    ring = [stops[key] for key in STATION_KEYS if key not in ("cab", "tank_top")]
    middle_y = (stops["front"][1] + stops["rear"][1]) / 2
    # Degrees clockwise from straight ahead, the nose being up and y growing downwards.
    angles = [math.degrees(math.atan2(x, middle_y - y)) % 360 for x, y in ring]
    assert angles[0] == 0
    assert all(a < b for a, b in pairwise(angles))
    assert list(stops) == list(STATION_KEYS)


@pytest.mark.parametrize("cart", CARTS.values(), ids=CARTS)
def test_every_wheel_has_a_place_of_its_own_on_its_side(cart):
    wheels = wheel_middles(drawn(cart))
    assert list(wheels) == list(wheel_codes(cart.axles))
    assert len(set(wheels.values())) == len(wheels)
    for code, (x, y) in wheels.items():
        assert (x < 0) == (code[1] == "L")
        if code.endswith("I"):
            outer = wheels[code[:-1] + "O"]
            assert abs(x) < abs(outer[0])
            assert y == outer[1]


@pytest.mark.parametrize("cart", CARTS.values(), ids=CARTS)
def test_axles_stand_at_true_distance_from_the_front(cart):
    wheels = wheel_middles(drawn(cart))
    places = [
        next(y for code, (_x, y) in wheels.items() if code[0] == str(n + 1)) for n in range(len(cart.axles))
    ]
    for place, axle in zip(places, cart.axles, strict=True):
        assert place - places[0] == pytest.approx(axle.position_m - cart.axles[0].position_m, abs=0.01)


def test_a_length_too_short_for_what_is_on_the_cart_squeezes_nothing():
    assert draw(replace(CART, length_m=3.0), **WORDS) == draw(replace(CART, length_m=None), **WORDS)


@pytest.mark.parametrize("self_contained", [True, False])
@pytest.mark.parametrize("cart", CARTS.values(), ids=CARTS)
def test_the_markup_is_plain_svg_without_styles_or_scripts(cart, self_contained):
    tree = drawn(
        replace(cart, gear=DRAWN_GEAR), pins=PINS, here="rear", done={"cab"}, self_contained=self_contained
    )
    assert {element.tag.removeprefix(SVG) for element in tree.iter()} == TAKEN_IN
    names = {name for element in tree.iter() for name in element.attrib}
    assert not [name for name in names if name == "style" or name.startswith("on") or "href" in name]
    assert tree.get("role") == "img"


def test_a_drawing_on_its_own_carries_its_own_ink_and_nothing_hidden():
    text = draw(CART, **WORDS, pins=PINS, here="rear", done={"cab"}, self_contained=True)
    assert "currentColor" not in text
    assert "display=" not in text
    assert "var(" not in text
    assert 'stroke="#000"' in text


@pytest.mark.parametrize("word", ["title", "description"])
def test_hostile_words_are_only_ever_words(word):
    hostile = "</title><script>alert('x')</script>\"&"
    tree = drawn(**{word: hostile})
    assert tree.find(f"{SVG}{'title' if word == 'title' else 'desc'}").text == hostile
    assert not list(tree.iter(f"{SVG}script"))


def test_hostile_words_of_a_pin_are_only_ever_words():
    tree = drawn(pins=[Pin("rear", '"><script>', "<b>&", "watch", 1)])
    pin = marked(tree, "data-number", "1")
    assert pin.get("data-place") == '"><script>'
    assert pin.find(f"{SVG}title").text == "1 <b>&"


def test_title_and_description_are_named_by_ids_of_the_given_prefix():
    tree = drawn(id_prefix="cart-47")
    assert tree.get("aria-labelledby") == "cart-47-title cart-47-desc"
    assert {element.get("id") for element in tree.iter()} - {None} == {"cart-47-title", "cart-47-desc"}


@pytest.mark.parametrize("self_contained", [True, False])
def test_the_present_stop_is_filled_and_framed_and_those_done_are_ticked(self_contained):
    stops = marked(drawn(here="rear", done={"cab", "front"}, self_contained=self_contained), "data-station")
    shown = {
        key: {part.get("class") for part in stop if part.get("class") and part.get("display") != "none"}
        for key, stop in stops.items()
    }
    tile = "lap-stop-tile"
    assert shown["rear"] == {tile, "lap-stop-number", "lap-stop-here"}
    assert shown["cab"] == shown["front"] == {tile, "lap-stop-tick"}
    assert shown["tank_top"] == {tile, "lap-stop-number"}
    assert stops["rear"].get("class") == "lap-stop is-here"
    assert stops["cab"].get("class") == "lap-stop is-done"


def test_a_script_finds_the_marks_of_every_state_at_every_stop():
    for stop in marked(drawn(), "data-station").values():
        hidden = {part.get("class") for part in stop if part.get("display") == "none"}
        assert hidden == {"lap-stop-here", "lap-stop-tick"}


def test_walking_line_and_figures_can_be_left_out():
    assert "lap-walk" in draw(CART, **WORDS)
    assert "lap-walk" not in draw(CART, **WORDS, walk=False)
    plain = draw(CART, **WORDS, numbers=False)
    assert "lap-stop-number" not in plain
    assert "lap-stop-tile" in plain
    assert "lap-stop" not in draw(CART, **WORDS, walk=False, numbers=False)


def test_a_drawing_without_stops_is_cut_closer():
    near, far = (float(drawn(walk=stops, numbers=stops).get("viewBox").split()[2]) for stops in (False, True))
    assert near < far - 100


@pytest.mark.parametrize("cart", CARTS.values(), ids=CARTS)
@pytest.mark.parametrize("stops", [True, False])
def test_nothing_lies_outside_the_picture(cart, stops):
    tree = drawn(replace(cart, gear=DRAWN_GEAR), walk=stops, numbers=stops, here="front" if stops else None)
    left, top, width, height = map(float, tree.get("viewBox").split())
    for box in tree.iter(f"{SVG}rect"):
        x, y, wide, high = (float(box.get(name)) for name in ("x", "y", "width", "height"))
        assert left < x
        assert x + wide < left + width
        assert top < y
        assert y + high < top + height


def test_figures_have_one_decimal_and_no_minus_nought():
    text = draw(replace(CART, gear=DRAWN_GEAR), **WORDS, pins=PINS)
    assert not re.findall(r"\d\.\d\d|-0[ \"]|nan|inf\b|e-\d", text)


def test_the_same_cart_gives_the_same_text_in_another_process():
    code = (
        "from tests.fleet.lap_carts import CART, draw;"
        "print(draw(CART, title='Cart 47', description='Seen from above.', done={'cab', 'front', 'rear'}), end='')"
    )
    texts = {
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            check=True,
            env={"PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    }
    assert texts == {draw(CART, **WORDS, done={"cab", "front", "rear"})}


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"here": "boot"}, "no station"),
        ({"done": {"boot"}}, "no station"),
        ({"id_prefix": '"x'}, "id starts"),
        ({"id_prefix": ""}, "id starts"),
    ],
)
def test_what_cannot_be_drawn_is_refused(options, says):
    with pytest.raises(ValueError, match=says):
        draw(CART, **WORDS, **options)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"steering_side": "middle"}, "'middle' is not one of: left, right"),
        ({"tank_shape": "sphere"}, "is not one of"),
        ({"tank_material": "glass"}, "is not one of"),
        ({"cab": "sleeper"}, "is not one of"),
        ({"axles": ()}, "one to nine axles"),
        ({"axles": THREE[::-1]}, "from the front"),
        ({"axles": (LapAxle(math.nan, "steer", duals=False),)}, "from the front"),
        ({"axles": (LapAxle(0.0, "tag", duals=False),)}, "'tag' is not one of"),
        ({"tank_length_m": 0.0}, "above zero"),
        ({"tank_width_m": math.inf}, "above zero"),
        ({"length_m": -1.0}, "above zero"),
    ],
)
def test_a_cart_that_cannot_be_is_refused(wrong, says):
    with pytest.raises(ValueError, match=says):
        replace(CART, **wrong)


def test_groups_become_single_axles_counted_from_the_first():
    groups = [
        SimpleNamespace(kind="steer", axles=2, has_duals=False, position_m=Decimal("0.00")),
        SimpleNamespace(kind="drive", axles=2, has_duals=True, position_m=Decimal("4.90")),
    ]
    axles = axles_of_groups(groups)
    assert [axle.position_m for axle in axles] == pytest.approx([0, 1.85, 5.15, 6.5])
    assert [(axle.kind, axle.duals) for axle in axles] == [("steer", False)] * 2 + [("drive", True)] * 2


def test_the_drawing_needs_nothing_but_the_standard_library():
    folder = Path(sys.modules[LapCart.__module__].__file__).parent
    for file in folder.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            modules = [name.name for name in node.names] if isinstance(node, ast.Import) else []
            modules += [node.module] if isinstance(node, ast.ImportFrom) else []
            for module in modules:
                assert module.startswith("fleet.lap") or module.split(".")[0] in sys.stdlib_module_names
