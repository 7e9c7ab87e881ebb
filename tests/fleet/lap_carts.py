"""Invented carts to draw, and a reader of what was drawn."""

import xml.etree.ElementTree as ET
from dataclasses import replace

from fleet.lap.cart import LapAxle, LapCart
from fleet.lap.drawing import draw

SVG = "{http://www.w3.org/2000/svg}"
UNITS_PER_M = 50.0

TWO = (LapAxle(0.0, "steer", duals=False), LapAxle(3.9, "drive", duals=True))
THREE = (*TWO, LapAxle(5.25, "drive", duals=True))
TWIN_STEER = (
    LapAxle(0.0, "steer", duals=False),
    LapAxle(1.85, "steer", duals=False),
    LapAxle(5.2, "drive", duals=True),
    LapAxle(6.55, "drive", duals=True),
)

CART = LapCart(
    steering_side="right",
    axles=THREE,
    tank_shape="ellipse",
    tank_length_m=4.4,
    tank_width_m=2.3,
    tank_material="steel",
    gear=frozenset({"beacon", "cannon", "pump_shaft", "rear_heads", "side_heads", "tank_top_access"}),
    length_m=8.7,
)
CARTS = {
    "three_axles": CART,
    "two_axles": replace(
        CART, axles=TWO, tank_shape="cylinder", tank_length_m=2.8, tank_width_m=1.7, length_m=6.5
    ),
    "twin_steer": replace(CART, axles=TWIN_STEER, tank_shape="box", tank_length_m=5.4, length_m=10.2),
    "bonneted_left": replace(
        CART, steering_side="left", cab="bonneted", tank_material="aluminium", length_m=9.2
    ),
    "bare": replace(CART, gear=frozenset(), length_m=None),
}


def drawn(cart=CART, **options):
    """The drawing as an element tree."""
    words = {"title": "Cart 47 seen from above", "description": "Ten stops, clockwise."}
    return ET.fromstring(draw(cart, **(words | options)))  # noqa: S314 -- our own drawing


def marked(tree, name, value=None):
    """Elements with this attribute, by its value; or the one with this value."""
    found = {element.get(name): element for element in tree.iter() if element.get(name) is not None}
    return found if value is None else found[value]


def middle(box):
    """The middle of a <rect>, in metres."""
    x, y, width, height = (float(box.get(name)) for name in ("x", "y", "width", "height"))
    return ((x + width / 2) / UNITS_PER_M, (y + height / 2) / UNITS_PER_M)


def wheel_middles(tree):
    return {code: middle(wheel.find(f".//{SVG}rect")) for code, wheel in marked(tree, "data-wheel").items()}


def stop_boxes(tree):
    return {key: (x - 0.28, y - 0.28, x + 0.28, y + 0.28) for key, (x, y) in stop_middles(tree).items()}


def stop_middles(tree):
    tiles = {
        key: stop.find(f"{SVG}rect[@class='lap-stop-tile']")
        for key, stop in marked(tree, "data-station").items()
    }
    return {key: middle(tile) for key, tile in tiles.items()}


def pin_boxes(tree):
    """The room each pin's mark takes, in metres, by its number: left, top, right, foot."""
    return {int(number): _box(pin) for number, pin in marked(tree, "data-number").items()}


def pin_middles(tree):
    boxes = pin_boxes(tree)
    return {
        number: ((left + right) / 2, (top + foot) / 2) for number, (left, top, right, foot) in boxes.items()
    }


def _box(pin):
    shape = next(element for element in pin if element.get("class") == "lap-pin-shape")
    if shape.get("points") is None:
        x, y, radius = (float(shape.get(name)) / UNITS_PER_M for name in ("cx", "cy", "r"))
        return (x - radius, y - radius, x + radius, y + radius)
    corners = [
        tuple(float(part) / UNITS_PER_M for part in pair.split(",")) for pair in shape.get("points").split()
    ]
    across, down = zip(*corners, strict=True)
    return (min(across), min(down), max(across), max(down))


def overlap(a, b):
    """Whether two boxes share more than an edge."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def leader_ends(tree):
    """Where each leader line ends, in metres, in the order the pins were given."""
    pins = next(group for group in tree.iter(f"{SVG}g") if group.get("class") == "lap-pins")
    dots = [group for group in pins if group.get("class") == "lap-part"]
    return [
        (float(dot.get("cx")) / UNITS_PER_M, float(dot.get("cy")) / UNITS_PER_M)
        for group in dots
        for dot in group.iter(f"{SVG}circle")
    ]
