"""What every cart has: chassis, wheels, cab and tank, drawn from the ground up.

The tank and cab are shown as if of glass over the wheels, so that each tyre is whole and can be pointed at.
"""

from fleet.lap.hatching import dots, strokes
from fleet.lap.layout import BEAM_M, CAB_HALF_M, HALF_WIDTH_M, HATCH_M, Layout, Wheel
from fleet.lap.pen import Pen

RAIL_M = 0.42


def chassis(pen: Pen, at: Layout) -> None:
    """Rails, bumper with its lamps, rear beam with its lamps."""
    with pen.group(class_="lap-chassis"):
        for side in (-1, 1):
            pen.box(
                "part", side * RAIL_M, (at.cab_rear - 0.5 + at.beam) / 2, 0.1, at.beam - at.cab_rear + 0.5
            )
        pen.box(
            "part",
            0,
            (at.tank_rear - 0.4 + at.beam) / 2,
            2 * HALF_WIDTH_M - 0.24,
            at.beam - at.tank_rear + 0.5,
            corner=0.04,
        )
        pen.box("shell", 0, at.rear - BEAM_M / 2, 2 * HALF_WIDTH_M - 0.1, BEAM_M, corner=0.04)
        for side in (-1, 1):
            pen.box("solid", side * (HALF_WIDTH_M - 0.27), at.rear - BEAM_M / 2, 0.3, 0.07)
        pen.box("shell", 0, 0.1, 2 * HALF_WIDTH_M - 0.06, 0.2, corner=0.09)
        reach = HALF_WIDTH_M - 0.3
        pen.strokes("hidden", [((-reach, y), (reach, y)) for y in at.axle_y])


def wheels(pen: Pen, at: Layout) -> None:
    """Every tyre: ribs round a steering one, lugs across a driven one."""
    with pen.group(class_="lap-wheels"):
        for wheel in at.wheels.values():
            with pen.group(class_="lap-wheel", data_wheel=wheel.code):
                pen.box("rimmed", wheel.x, wheel.y, wheel.width, wheel.height, corner=0.08)
                _ribs(pen, wheel) if wheel.steers else _lugs(pen, wheel)


def _ribs(pen: Pen, wheel: Wheel) -> None:
    reach, aside = wheel.height / 2 - 0.06, wheel.width / 5
    columns = (wheel.x - aside, wheel.x + aside)
    pen.strokes("groove", [((x, wheel.y - reach), (x, wheel.y + reach)) for x in columns])


def _lugs(pen: Pen, wheel: Wheel) -> None:
    reach, half, count = wheel.height / 2 - 0.06, wheel.width / 2, 7
    rows = [wheel.y + wheel.height * ((number + 0.5) / count - 0.5) for number in range(count)]
    lugs = [
        ((wheel.x + side * half, y), (wheel.x + side * (half - 0.06), y)) for y in rows for side in (-1, 1)
    ]
    pen.strokes("groove", [((wheel.x, wheel.y - reach), (wheel.x, wheel.y + reach)), *lugs])


def tank(pen: Pen, at: Layout) -> None:
    """The shell, its heads hatched by what it is made of, its seams and its lid."""
    half, front, rear = at.tank_half, at.tank_front, at.tank_rear
    with pen.group(class_="lap-tank"):
        pen.path("shell", *_outline(at))
        _hatch_heads(pen, at)
        if at.cart.tank_shape == "box":
            pen.box("fine", 0, (front + rear) / 2, 2 * half - 0.34, rear - front - 2 * HATCH_M)
            folds = [
                ((side * half, y), (side * (half - 0.17), y + fall))
                for side in (-1, 1)
                for y, fall in ((front, HATCH_M), (rear, -HATCH_M))
            ]
            pen.strokes("fine", folds)
        else:
            pen.strokes("line", [((-half, y), (half, y)) for y in (front + at.seam, rear - at.seam)])
            _roundness(pen, at)
        rooms = max(2, round((rear - front) / 1.3))
        baffles = [front + (rear - front) * number / rooms for number in range(1, rooms)]
        pen.strokes("hidden", [((-half, y), (half, y)) for y in baffles])


def edges_over_tyres(pen: Pen, at: Layout) -> None:
    """The side of the tank or cab, in paper, across each tyre it lies over: what hides a tyre from the eye."""
    for wheel in at.wheels.values():
        for half, front, rear in (
            (at.tank_half, at.tank_front, at.tank_rear),
            (CAB_HALF_M, at.cab_front, at.cab_rear),
        ):
            top, foot = max(front, wheel.y - wheel.height / 2), min(rear, wheel.y + wheel.height / 2)
            if abs(half - abs(wheel.x)) < wheel.width / 2 and foot > top:
                x = half if wheel.x > 0 else -half
                pen.line("groove", (x, top), (x, foot))


def lid(pen: Pen, at: Layout) -> None:
    y = at.lid_y
    with pen.group(class_="lap-lid"):
        for side in (-1, 1):
            pen.box("solid", side * 0.23, y - 0.06, 0.07, 0.09, corner=0.02)
        pen.circle("part", 0, y, 0.23)
        pen.circle("fine", 0, y, 0.16)
        pen.box("solid", 0, y + 0.23, 0.2, 0.07, corner=0.02)


def _outline(at: Layout) -> tuple[str | float, ...]:
    half, front, rear, head = at.tank_half, at.tank_front, at.tank_rear, at.head
    if not head:
        return ("M", -half, front, "H", half, "V", rear, "H", -half, "Z")
    return (
        *("M", -half, front + head, "A", half, head, "0 0 1", half, front + head),
        *("V", rear - head, "A", half, head, "0 0 1", -half, rear - head, "Z"),
    )


def _hatch_heads(pen: Pen, at: Layout) -> None:
    for toward, end in ((1, at.tank_front), (-1, at.tank_rear)):
        if at.cart.tank_material == "poly":
            for x, y in dots(at.tank_half, at.head, at.seam):
                pen.circle("solid", x, end + toward * y, 0.018)
            continue
        style = "hatch-broken" if at.cart.tank_material == "aluminium" else "hatch"
        lines = strokes(at.tank_half, at.head, at.seam, at.cart.tank_material)
        pen.strokes(
            style, [((x1, end + toward * y1), (x2, end + toward * y2)) for (x1, y1), (x2, y2) in lines]
        )


def _roundness(pen: Pen, at: Layout) -> None:
    """Lines along a curved shell, closer together towards the edge, more of them the rounder it is."""
    parts = (0.93, 0.8, 0.6) if at.cart.tank_shape == "cylinder" else (0.72,)
    columns = [side * at.tank_half * part for part in parts for side in (-1, 1)]
    front, rear = at.tank_front + at.seam, at.tank_rear - at.seam
    pen.strokes("fine", [((x, front), (x, rear)) for x in columns])


def cab(pen: Pen, at: Layout) -> None:
    """The cab with its roof off: windscreen, wheel and seats, and a bonnet ahead of it where there is one."""
    with pen.group(class_="lap-cab"):
        if at.cart.cab == "bonneted":
            _bonnet(pen, at)
        pen.path("shell", *_cab_outline(at))
        _inside(pen, at)
        _mirrors(pen, at)


def seat(at: Layout) -> tuple[float, float]:
    """The driver's seat."""
    return (at.driver * 0.52, at.cab_rear - 0.46)


def _cab_outline(at: Layout) -> tuple[str | float, ...]:
    half, front, rear = CAB_HALF_M, at.cab_front, at.cab_rear
    return (
        *("M", -half, rear - 0.06, "V", front + 0.34, "Q", -half, front + 0.06, -half + 0.34, front + 0.03),
        *("Q", 0, front - 0.05, half - 0.34, front + 0.03, "Q", half, front + 0.06, half, front + 0.34),
        *("V", rear - 0.06, "Q", half, rear, half - 0.06, rear, "H", -half + 0.06),
        *("Q", -half, rear, -half, rear - 0.06, "Z"),
    )


def _inside(pen: Pen, at: Layout) -> None:
    half, front, rear, driver = CAB_HALF_M, at.cab_front, at.cab_rear, at.driver
    # The windscreen lies between two curves; three glints say it is glass.
    glass = (
        *("M", -half + 0.13, front + 0.4, "Q", 0, front + 0.08, half - 0.13, front + 0.4),
        *("L", half - 0.24, front + 0.56, "Q", 0, front + 0.34, -half + 0.24, front + 0.56, "Z"),
    )
    pen.path("part", *glass)
    glints = (0.34, 0.24, 0.14)
    pen.strokes("fine", [((driver * x, front + 0.4), (driver * (x - 0.09), front + 0.3)) for x in glints])
    pen.line("fine", (-half, rear - 0.12), (half, rear - 0.12))
    for x in (-0.52, 0.52):
        pen.box("part", x, rear - 0.53, 0.5, 0.46, corner=0.1)
        pen.box("part", x, rear - 0.26, 0.54, 0.15, corner=0.06)
    with pen.group(class_="lap-steering-wheel"):
        wheel_x, wheel_y = driver * 0.52, rear - 1.07
        pen.circle("part", wheel_x, wheel_y, 0.2)
        pen.circle("solid", wheel_x, wheel_y, 0.055)
        ends = (wheel_x - 0.2, wheel_y), (wheel_x + 0.2, wheel_y), (wheel_x, wheel_y - 0.2)
        pen.strokes("line", [((wheel_x, wheel_y), end) for end in ends])


def _mirrors(pen: Pen, at: Layout) -> None:
    y = at.cab_front + 0.38
    for side in (-1, 1):
        pen.line("line", (side * CAB_HALF_M, y), (side * 1.36, y - 0.1))
        pen.box("part", side * 1.4, y - 0.07, 0.11, 0.26, corner=0.05)


def _bonnet(pen: Pen, at: Layout) -> None:
    rear = at.cab_front + 0.2
    for side in (-1, 1):
        guard = (side * 0.6, 0.36, side * 1.2, 0.3, side * 1.2, 1.0)
        pen.path("part", "M", side * 0.6, 0.3, "C", *guard, "V", rear - 0.1, "H", side * 0.6, "Z")
    pen.path(
        "shell",
        *("M", -0.78, rear, "C", -0.78, 0.7, -0.72, 0.16, -0.5, 0.16),
        *("H", 0.5, "C", 0.72, 0.16, 0.78, 0.7, 0.78, rear, "Z"),
    )
    pen.strokes("fine", [((x * 0.36, 0.34), (x * 0.5, rear - 0.2)) for x in (-1, 0, 1)])
