"""Open defects, pinned beside the very wheel or place they are at.

The grade is told by shape: an octagon for do not use, a triangle for repair by a date, a circle for watch. Marks keep
clear of each other and of the stops; a leader line ends in a dot on the thing itself.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from fleet.lap.cart import Pin
from fleet.lap.layout import HALF_WIDTH_M
from fleet.lap.pen import UNITS_PER_M, Pen, Point, number, units
from fleet.lap.stations import wheel_place
from fleet.lap.walk import BAND_M, STOP_M, Walk

Band = Literal["left", "right", "front", "rear_left", "rear_right"]

PITCH_M = 0.72
_FROM_CART_M = 0.45
_RADIUS_M = 0.26


@dataclass(frozen=True, slots=True)
class PlacedPin:
    """A pin, where its mark stands, and what its leader points at."""

    pin: Pin
    mark: Point
    target: Point


def place(pins: Sequence[Pin], walk: Walk, gear: Mapping[str, Point]) -> tuple[PlacedPin, ...]:
    """Each pin with its place, in the order given.

    `gear` holds the points of the drawn parts. A side with more pins than room gets a second column outside the
    walking line, then a third.
    """
    targets = [_target(pin, walk, gear) for pin in pins]
    bands = _bands(pins, targets, walk)
    marks: dict[int, Point] = {}
    for band in get_args(Band):
        members = [index for index, of in enumerate(bands) if of == band]
        members.sort(key=lambda index: (_along(band, targets[index]), index))
        marks |= _lay_out(band, members, targets, walk)
    return tuple(PlacedPin(pin, marks[i], targets[i]) for i, pin in enumerate(pins))


def _target(pin: Pin, walk: Walk, gear: Mapping[str, Point]) -> Point:
    at = walk.at
    wheel = at.wheels.get(pin.place)
    if wheel is not None:
        # An outer and an inner tyre are pointed at from beside each other, so that neither leader hides the other.
        side = math.copysign(1, wheel.x)
        return (
            (wheel.x, wheel.y - 0.18) if pin.place.endswith("I") else (wheel.x + side * 0.04, wheel.y + 0.14)
        )
    if pin.place in gear:
        return gear[pin.place]
    if _side(pin.place, len(at.axle_y)):
        return (_side(pin.place, len(at.axle_y)) * HALF_WIDTH_M, at.axle_y[wheel_place(pin.place).axle - 1])
    stations: dict[str, Point] = {
        "cab": (-at.driver * 0.52, at.cab_rear - 0.62),
        "front": (-at.driver * 0.6, 0.1),
        "rear": (0.85, at.rear - 0.08),
        "tank_top": (0.0, at.lid_y),
    }
    if pin.station in stations:
        return stations[pin.station]
    stop_x, stop_y = walk.stops[pin.station]
    return (math.copysign(HALF_WIDTH_M - 0.06, stop_x), stop_y)


def _side(code: str, axle_count: int) -> int:
    """-1 for a code on the left, 1 on the right, 0 for what is no wheel of this cart."""
    try:
        wheel = wheel_place(code)
    except ValueError:
        return 0
    if wheel.axle > axle_count:
        return 0
    return 1 if wheel.side == "R" else -1


def _bands(pins: Sequence[Pin], targets: Sequence[Point], walk: Walk) -> list[Band]:
    """Which side of the cart each pin stands at; one over the tank goes where fewer are."""
    bands: list[Band | None] = [_band(pin, target, walk) for pin, target in zip(pins, targets, strict=True)]
    for index, band in enumerate(bands):
        if band is None:
            bands[index] = "left" if bands.count("left") < bands.count("right") else "right"
    return [band for band in bands if band is not None]


def _band(pin: Pin, target: Point, walk: Walk) -> Band | None:
    side = _side(pin.place, len(walk.at.axle_y))
    if side:
        return "right" if side > 0 else "left"
    if pin.station == "front":
        return "front"
    if pin.station == "rear":
        return "rear_left" if target[0] < 0 else "rear_right"
    if pin.station == "cab":
        # The driver's side belongs to the line that leaves the seat.
        return "left" if walk.at.driver > 0 else "right"
    if pin.station == "tank_top":
        return None if abs(target[0]) < 0.01 else ("right" if target[0] > 0 else "left")
    return "right" if pin.station.startswith("right") else "left"


def _along(band: str, point: Point) -> float:
    return point[1] if band in ("left", "right") else point[0]


def _lay_out(band: str, members: Sequence[int], targets: Sequence[Point], walk: Walk) -> dict[int, Point]:
    if not members:
        return {}
    upright = band in ("left", "right")
    low, high = (0.3, walk.back - 0.15) if upright else _reach(band, walk)
    room = math.floor((high - low) / PITCH_M) + 1
    columns = math.ceil(len(members) / room)
    marks: dict[int, Point] = {}
    for column in range(columns):
        own = members[column::columns]
        spread = spaced([_along(band, targets[index]) for index in own], PITCH_M, low, high)
        away = _FROM_CART_M if column == 0 else BAND_M + STOP_M + 0.4 + (column - 1) * PITCH_M
        for index, along in zip(own, spread, strict=True):
            marks[index] = _mark(band, along, away, walk)
    return marks


def _reach(band: str, walk: Walk) -> tuple[float, float]:
    """The part of the front or rear a row of pins may take: beside the stop, and clear of the line from the seat."""
    left = walk.at.driver > 0 if band == "front" else band == "rear_left"
    return (-1.75, -0.6) if left else (0.6, 1.75)


def _mark(band: str, along: float, away: float, walk: Walk) -> Point:
    if band == "front":
        return (along, -away)
    if band.startswith("rear"):
        return (along, walk.back + away)
    return (math.copysign(HALF_WIDTH_M + away, 1 if band == "right" else -1), along)


def spaced(wanted: Sequence[float], pitch: float, low: float, high: float) -> list[float]:
    """Places at least `pitch` apart and as near as can be to those wanted, which come in rising order.

    Neighbours that would touch are moved as one block about their middle; blocks stay between `low` and `high`
    as long as there is room for them.
    """
    blocks: list[tuple[list[float], float]] = []
    for value in wanted:
        members = [value]
        while True:
            start = _start(members, pitch, low, high)
            if not blocks or blocks[-1][1] + (len(blocks[-1][0])) * pitch <= start:
                break
            members = blocks.pop()[0] + members
        blocks.append((members, start))
    return [start + pitch * index for members, start in blocks for index in range(len(members))]


def _start(members: Sequence[float], pitch: float, low: float, high: float) -> float:
    middle = sum(value - pitch * index for index, value in enumerate(members)) / len(members)
    return max(low, min(middle, high - pitch * (len(members) - 1)))


def draw_pins(pen: Pen, placed: Sequence[PlacedPin]) -> None:
    """All leaders first, so that none runs over another pin's mark."""
    with pen.group(class_="lap-pins"):
        for one in placed:
            pen.line("casing", one.mark, one.target)
            pen.line("line", one.mark, one.target)
        for one in placed:
            pen.circle("part", *one.target, 0.075)
        for one in placed:
            grade = one.pin.grade.replace("_", "-")
            with pen.group(
                class_=f"lap-pin lap-pin-{grade}", data_place=one.pin.place, data_number=str(one.pin.number)
            ):
                pen.title(f"{one.pin.number} {one.pin.label}")
                pen.element(_shape(pen, one))
                pen.element(_figure(pen, one))


def _shape(pen: Pen, one: PlacedPin) -> str:
    x, y = one.mark
    ink, paper = pen.palette.ink, pen.palette.paper
    if one.pin.grade == "watch":
        return (
            f'<circle class="lap-pin-shape" cx="{units(x)}" cy="{units(y)}" r="{units(_RADIUS_M - 0.01)}" '
            f'fill="{paper}" stroke="{ink}" stroke-width="2.2"/>'
        )
    if one.pin.grade == "by_date":
        corners, radius, turn, fill, middle = 3, _RADIUS_M * 1.48, -90.0, paper, 0.1
    else:
        corners, radius, turn, fill, middle = 8, _RADIUS_M * 1.06, 22.5, ink, 0.0
    points = " ".join(
        f"{units(x + radius * math.cos(math.radians(turn + 360 / corners * corner)))},"
        f"{units(y + middle + radius * math.sin(math.radians(turn + 360 / corners * corner)))}"
        for corner in range(corners)
    )
    return (
        f'<polygon class="lap-pin-shape" points="{points}" fill="{fill}" stroke="{ink}" stroke-width="2.2"/>'
    )


def _figure(pen: Pen, one: PlacedPin) -> str:
    x, y = one.mark
    digits = len(str(one.pin.number))
    size = (18, 14, 11)[min(digits, 3) - 1] - (1 if one.pin.grade == "by_date" else 0)
    lower = 0.1 if one.pin.grade == "by_date" else 0.0
    ink = pen.palette.paper if one.pin.grade == "do_not_use" else pen.palette.ink
    return (
        f'<text class="lap-pin-number" x="{units(x)}" y="{number((y + lower) * UNITS_PER_M + size * 0.36)}" '
        f'font-size="{size}" font-weight="700" text-anchor="middle" font-family="{pen.palette.typeface}" '
        f'fill="{ink}">{one.pin.number}</text>'
    )
