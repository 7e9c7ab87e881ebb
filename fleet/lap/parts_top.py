"""Gear on top: of the tank and of the cab.

Each function draws one thing and answers where a leader line to it should end.
"""

from fleet.lap.body import seat
from fleet.lap.layout import CAB_HALF_M, Layout
from fleet.lap.parts_deck import LADDER_X
from fleet.lap.pen import Pen, Point, turned


def tank_top_access(pen: Pen, at: Layout) -> Point:
    """A ladder at the rear and a railed walkway from it to the lid."""
    top, foot = at.lid_y - 0.2, min(at.tank_rear + 0.3, at.beam)
    half = 0.16
    pen.box("part", LADDER_X, (top + at.tank_rear) / 2, 2 * half, at.tank_rear - top)
    treads = max(2, round((at.tank_rear - top) / 0.19))
    rows = [top + (at.tank_rear - top) * tread / treads for tread in range(1, treads)]
    left, right = LADDER_X - half, LADDER_X + half
    pen.strokes("fine", [((left, y), (right, y)) for y in rows])
    pen.box("blank", LADDER_X, (at.tank_rear + foot) / 2, 2 * half, foot - at.tank_rear)
    rungs = [at.tank_rear + (foot - at.tank_rear) * rung / 3 for rung in range(1, 4)]
    pen.strokes("line", [((left, y), (right, y)) for y in rungs])
    pen.strokes("line", [((x, at.tank_rear), (x, foot)) for x in (left, right)])
    rail = left - 0.1
    pen.line("line", (rail, top), (rail, at.tank_rear - 0.02))
    for y in (top, (top + at.tank_rear) / 2, at.tank_rear - 0.04):
        pen.circle("solid", rail, y, 0.035)
    return (LADDER_X, at.tank_rear - 0.2)


def dip_gauge(pen: Pen, at: Layout) -> Point:
    """The dip stick's cap and handle, behind the lid."""
    x, y = 0.36, at.lid_y + 0.44
    pen.circle("part", x, y, 0.085)
    pen.line("line", (x - 0.13, y), (x + 0.13, y))
    return (x, y)


def air_gap_fill(pen: Pen, at: Layout) -> Point:
    """An open funnel on the tank with clear air above it, right and ahead of the lid."""
    x, y = 0.5, at.lid_y - 0.42
    pen.circle("part", x, y, 0.15)
    pen.circle("fine", x, y, 0.09)
    pen.circle("solid", x, y, 0.04)
    return (x, y)


def cannon(pen: Pen, at: Layout) -> Point:
    """On a turning ring at the rear of the tank, barrel pointing out over the right rear corner."""
    x, y = 0.3, at.tank_rear - 0.52
    pen.circle("part", x, y, 0.24)
    out = turned(x, y, 148)
    pen.shape("part", out(-0.14, -0.1), out(0.68, -0.065), out(0.68, 0.065), out(-0.14, 0.1))
    pen.shape("shell", out(0.68, -0.1), out(0.9, -0.06), out(0.9, 0.06), out(0.68, 0.1))
    pen.line("line", out(0.3, -0.09), out(0.3, 0.09))
    pen.circle("solid", x, y, 0.07)
    return (x, y)


def high_brake_lights(pen: Pen, at: Layout) -> Point:
    """A pair high on the rear of the tank."""
    for side in (-1, 1):
        pen.box("part", side * 0.72, at.tank_rear - 0.01, 0.26, 0.12, corner=0.02)
        pen.box("solid", side * 0.72, at.tank_rear + 0.02, 0.2, 0.05)
    return (0.72, at.tank_rear)


def work_lights(pen: Pen, at: Layout) -> Point:
    """Lamps on the back of the cab, or of the rollover frame, shining back."""
    y = at.cab_rear + (0.08 if "rops" in at.cart.gear else 0.0)
    for side in (-1, 1):
        pen.path("part", "M", side * 0.76 - 0.12, y, "h", 0.24, "a", 0.12, 0.12, "0 0 1", -0.24, 0, "Z")
    return (0.76, y)


def rops(pen: Pen, at: Layout) -> Point:
    """The rollover frame over the cab: two hoops joined by runners, a node at each corner, feet bolted down behind."""
    half, front, rear, tube = CAB_HALF_M + 0.02, at.cab_rear - 1.36, at.cab_rear + 0.02, 0.12
    for side in (-1, 1):
        pen.box("part", side * (half - 0.04), rear + 0.1, 0.26, 0.14, corner=0.02)
    for side in (-1, 1):
        pen.box("part", side * half, (front + rear) / 2, tube, rear - front)
    for y in (front, rear):
        pen.box("part", 0, y, 2 * half, tube)
        inward = 0.3 if y == front else -0.3
        for side in (-1, 1):
            pen.shape("part", (side * half, y + inward), (side * (half - 0.3), y), (side * half, y))
            pen.box("solid", side * half, y, tube + 0.07, tube + 0.07, corner=0.02)
    return (-at.driver * half, (front + rear) / 2)


def beacon(pen: Pen, at: Layout) -> Point:
    """On the roof, between the seats, or on the rollover frame."""
    x, y = 0.0, seat(at)[1] + (0.6 if "rops" in at.cart.gear else 0.1)
    pen.circle("part", x, y, 0.13)
    pen.circle("solid", x, y, 0.055)
    return (x, y)


def two_way_radio(pen: Pen, at: Layout) -> Point:
    """The aerial, lying over the other seat."""
    x, y = -at.driver * 0.66, at.cab_rear - 0.9
    pen.circle("solid", x, y, 0.055)
    pen.line("line", (x, y), (x + at.driver * 0.42, y))
    return (x, y)


def flag(pen: Pen, at: Layout) -> Point:
    """A pennant on its whip, at the front corner away from the driver."""
    side = -at.driver
    x, y = side * 1.1, 0.08
    tip_x, tip_y = x + side * 0.12, y - 0.52
    pen.line("line", (x, y), (tip_x, tip_y))
    pen.shape("part", (tip_x, tip_y), (tip_x + side * 0.3, tip_y + 0.2), (tip_x - side * 0.07, tip_y + 0.3))
    pen.circle("solid", x, y, 0.06)
    return (x, y)
