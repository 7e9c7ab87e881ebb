"""Gear on the decks before and behind the tank, and hung along the sides.

Each function draws one thing and answers where a leader line to it should end.
"""

from fleet.lap.body import RAIL_M
from fleet.lap.layout import HALF_WIDTH_M, Layout
from fleet.lap.pen import Pen, Point

# Columns of the rear deck, left to right: reel, ladder, pump, engine, outlet.
_REEL_X, LADDER_X, _PUMP_X, _ENGINE_X, _OUTLET_X = -0.86, -0.36, 0.12, 0.66, 1.08


def spare_wheel(pen: Pen, at: Layout) -> Point:
    """Upright across the frame, behind the cab."""
    y = at.cab_rear + 0.22
    pen.box("rimmed", 0, y, 1.0, 0.28, corner=0.08)
    pen.strokes("groove", [((-0.44, y + aside), (0.44, y + aside)) for aside in (-0.055, 0.055)])
    return (0.4, y)


def extinguisher(pen: Pen, at: Layout) -> Point:
    """A bottle in its bracket on the left, behind the cab."""
    return _bottle(pen, -1, at.cab_rear + 0.31, 0.09)


def fire_suppression(pen: Pen, at: Layout) -> Point:
    """A bottle on the right with its pipe to the engine."""
    y = at.cab_rear + 0.31
    pen.path("line", "M", 0.62, y, "Q", 0.56, y, 0.56, y - 0.4)
    return _bottle(pen, 1, y, 0.115)


def _bottle(pen: Pen, side: int, y: float, radius: float) -> Point:
    x = side * 0.92
    pen.box("solid", x - side * 0.29, y, 0.1, 0.09, corner=0.02)
    pen.box("part", x, y, 0.5, 2 * radius, corner=radius)
    pen.strokes("line", [((x + band, y - radius), (x + band, y + radius)) for band in (-0.08, 0.08)])
    return (x, y)


def spring_mounts(pen: Pen, at: Layout) -> Point:
    """Coils between tank feet and rails."""
    for x, y in _feet(at):
        pen.circle("part", x, y, 0.105)
        pen.circle("line", x, y, 0.05)
    return (RAIL_M, at.tank_rear + 0.11)


def rigid_mounts(pen: Pen, at: Layout) -> Point:
    """Bolted feet on the rails."""
    for x, y in _feet(at):
        pen.box("part", x, y, 0.26, 0.18)
        for bolt in (-0.07, 0.07):
            pen.circle("solid", x + bolt, y, 0.028)
    return (RAIL_M, at.tank_rear + 0.11)


def _feet(at: Layout) -> tuple[Point, ...]:
    return tuple((side * RAIL_M, y) for y in (at.tank_front - 0.1, at.tank_rear + 0.11) for side in (-1, 1))


def sight_gauge(pen: Pen, at: Layout) -> Point:
    """A sight tube up the front of the tank, on the driver's side."""
    x, y = at.driver * 0.8, at.tank_front - 0.06
    pen.line("line", (x, y), (x, at.tank_front + 0.1))
    pen.circle("part", x, y, 0.08)
    pen.circle("solid", x, y, 0.03)
    return (x, y)


def pump_shaft(pen: Pen, at: Layout) -> Point:
    """The pump, and the shaft to it with a joint at each end that shows."""
    rear = _pump_y(at) - 0.27
    for start, end in ((at.cab_rear, at.tank_front), (at.tank_rear, rear)):
        pen.strokes("line", [((x, start), (x, end)) for x in (_PUMP_X - 0.045, _PUMP_X + 0.045)])
    for y in (at.cab_rear + 0.1, rear - 0.09):
        pen.circle("part", _PUMP_X, y, 0.09)
        cross = [((_PUMP_X - 0.06, y + turn), (_PUMP_X + 0.06, y - turn)) for turn in (-0.06, 0.06)]
        pen.strokes("line", cross)
    return _pump(pen, at)


def pump_hydraulic(pen: Pen, at: Layout) -> Point:
    """The pump, its oil motor beside it and a pair of hoses to that from under the tank."""
    x, y = _PUMP_X + 0.42, _pump_y(at)
    pen.line("line", (_PUMP_X + 0.2, y + 0.02), (x, y + 0.02))
    for lead in (x - 0.05, x + 0.05):
        bend = (lead - 0.3, y - 0.3, lead, y - 0.4, lead, y)
        pen.path("line", "M", lead - 0.3, at.tank_rear, "C", *bend)
    pen.box("part", x, y + 0.02, 0.22, 0.26, corner=0.03)
    pen.circle("line", x, y + 0.02, 0.05)
    return _pump(pen, at)


def pump_auxiliary_engine(pen: Pen, at: Layout) -> Point:
    """The pump, and beside it an engine of its own: finned block and silencer."""
    y = _pump_y(at)
    pen.strokes("line", [((_PUMP_X + 0.2, y + aside), (0.5, y + aside)) for aside in (-0.05, 0.05)])
    pen.box("part", _ENGINE_X, y, 0.46, 0.52, corner=0.04)
    fins = [y - 0.17 + fin * 0.09 for fin in range(4)]
    pen.strokes("fine", [((_ENGINE_X - 0.17, fin), (_ENGINE_X + 0.05, fin)) for fin in fins])
    pen.circle("solid", _ENGINE_X + 0.14, y + 0.14, 0.06)
    pen.box("part", _ENGINE_X + 0.14, y - 0.08, 0.1, 0.24, corner=0.04)
    return _pump(pen, at)


def _pump_y(at: Layout) -> float:
    return (at.tank_rear + at.beam) / 2 + 0.06


def _pump(pen: Pen, at: Layout) -> Point:
    x, y = _PUMP_X, _pump_y(at)
    # A snail-shell casing: a round body whose outlet leaves at a tangent.
    pen.path(
        "part",
        *("M", x - 0.25, y + 0.02, "A", 0.25, 0.25, "0 1 1", x, y + 0.27),
        *("H", x - 0.36, "V", y + 0.13, "H", x - 0.22, "Z"),
    )
    pen.circle("line", x, y + 0.02, 0.13)
    pen.circle("solid", x, y + 0.02, 0.045)
    return (x, y + 0.02)


def hose_reel(pen: Pen, at: Layout) -> Point:
    """A drum between two flanges, hose wound on it, its end hanging out to the left."""
    y = _pump_y(at)
    pen.path("line", "M", _REEL_X - 0.12, y + 0.15, "Q", -1.1, y + 0.34, -1.2, y + 0.1)
    pen.box("solid", -1.2, y + 0.03, 0.07, 0.16, corner=0.02)
    pen.box("part", _REEL_X, y, 0.34, 0.4)
    turns = [_REEL_X - 0.12 + turn * 0.08 for turn in range(4)]
    pen.strokes("line", [((x, y - 0.2), (x, y + 0.2)) for x in turns])
    for side in (-1, 1):
        pen.box("part", _REEL_X + side * 0.19, y, 0.07, 0.56, corner=0.03)
    return (_REEL_X, y)


def high_pressure_outlet(pen: Pen, at: Layout) -> Point:
    """A capped valve on the right of the deck."""
    y = at.tank_rear + 0.26
    pen.line("line", (_OUTLET_X, at.tank_rear - 0.05), (_OUTLET_X, y))
    pen.box("part", _OUTLET_X, y + 0.06, 0.16, 0.2, corner=0.03)
    handle = _OUTLET_X - 0.23
    pen.strokes(
        "line", [((handle, y + 0.06), (handle + 0.1, y + 0.06)), ((handle, y - 0.03), (handle, y + 0.15))]
    )
    pen.box("solid", _OUTLET_X, y + 0.21, 0.2, 0.08, corner=0.02)
    return (_OUTLET_X, y + 0.06)


def camera(pen: Pen, at: Layout) -> Point:
    """On the rear beam, looking back."""
    y = at.beam
    pen.box("part", 0, y - 0.06, 0.16, 0.16, corner=0.02)
    pen.shape("solid", (-0.05, y + 0.02), (0.05, y + 0.02), (0.1, y + 0.12), (-0.1, y + 0.12))
    return (0, y)


def side_boards(pen: Pen, at: Layout) -> Point:
    """Boards along both sides from cab to rear wheels, with their bolts."""
    front, rear = at.cab_rear + 0.06, at.before_rear_wheels - 0.1
    for side in (-1, 1):
        x = side * (HALF_WIDTH_M + 0.02)
        pen.box("part", x, (front + rear) / 2, 0.08, rear - front)
        bolts = max(2, round((rear - front) / 0.5))
        for bolt in range(bolts + 1):
            pen.circle("solid", x - side * 0.07, front + 0.08 + (rear - front - 0.16) * bolt / bolts, 0.028)
    return (HALF_WIDTH_M, (front + rear) / 2)


def battery_isolator(pen: Pen, at: Layout) -> Point:
    """The battery box on the left, its terminals and the isolator's key."""
    x, y = -1.02, at.side_gear_y["battery_isolator"]
    pen.box("part", x, y, 0.42, 0.6, corner=0.03)
    minus = ((x - 0.08, y - 0.2), (x + 0.08, y - 0.2))
    plus = ((x - 0.08, y + 0.02), (x + 0.08, y + 0.02)), ((x, y - 0.06), (x, y + 0.1))
    pen.strokes("line", [minus, *plus])
    pen.circle("solid", x - 0.06, y + 0.2, 0.05)
    pen.line("line", (x - 0.06, y + 0.2), (x + 0.11, y + 0.2))
    return (x, y)


def emergency_stop(pen: Pen, at: Layout) -> Point:
    """A mushroom button on its plate, at the rear on the right."""
    x, y = _OUTLET_X, at.beam - 0.17
    pen.box("part", x, y, 0.26, 0.26, corner=0.02)
    pen.circle("solid", x, y, 0.085)
    return (x, y)


def additive_tank(pen: Pen, at: Layout) -> Point:
    """A small tank on the right: cap, and a drop for what is in it."""
    x, y = 1.02, at.side_gear_y["additive_tank"]
    pen.box("part", x, y, 0.42, 0.6, corner=0.12)
    pen.circle("line", x, y - 0.15, 0.075)
    right = (x + 0.12, y + 0.13, x + 0.08, y + 0.22, x, y + 0.22)
    left = (x - 0.08, y + 0.22, x - 0.12, y + 0.13, x, y)
    pen.path("solid", "M", x, y, "C", *right, "C", *left, "Z")
    return (x, y)


def hydrant_fill(pen: Pen, at: Layout) -> Point:
    """A capped filling pipe out of the left side."""
    y = at.side_gear_y["hydrant_fill"]
    return _fill_pipe(pen, at, -1, y, 0.06)


def suction_fill(pen: Pen, at: Layout) -> Point:
    """A wider filling pipe out of the right side, through a strainer."""
    y = at.side_gear_y["suction_fill"]
    point = _fill_pipe(pen, at, 1, y, 0.09)
    pen.box("part", 1.03, y, 0.2, 0.3, corner=0.03)
    mesh = ((0.93, 0.05, 1.13, -0.15), (0.93, 0.15, 1.13, -0.05), (1.03, 0.15, 1.13, 0.05))
    pen.strokes("fine", [((x1, y + y1), (x2, y + y2)) for x1, y1, x2, y2 in mesh])
    return point


def _fill_pipe(pen: Pen, at: Layout, side: int, y: float, radius: float) -> Point:
    start, end = side * min(at.tank_half - 0.06, 0.92), side * (HALF_WIDTH_M + 0.04)
    pen.box("part", (start + end) / 2, y, abs(end - start), 2 * radius)
    pen.box("part", start, y, 0.09, 2 * radius + 0.16, corner=0.03)
    pen.box("part", end, y, 0.07, 4 * radius, corner=0.02)
    pen.box("solid", end + side * 0.09, y, 0.09, 3 * radius + 0.05, corner=0.03)
    return (end, y)


def backflow_device(pen: Pen, at: Layout) -> Point:
    """A check valve on the hydrant fill: an arrow against a bar. Alone on the side where there is no such fill."""
    y = at.side_gear_y["backflow_device"]
    x = -(HALF_WIDTH_M - 0.2)
    pen.box("part", x, y, 0.24, 0.24, corner=0.02)
    pen.shape("solid", (x - 0.08, y - 0.08), (x + 0.05, y), (x - 0.08, y + 0.08))
    pen.line("line", (x + 0.08, y - 0.08), (x + 0.08, y + 0.08))
    return (x, y)
