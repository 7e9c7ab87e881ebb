"""The walking line round the cart and the stops on it.

The line leaves by the driver's door, meets the front and goes clockwise round the cart, an arm's length and a step
away from it, as far as the left front wheel. The tank top comes last and stands on the tank: where one climbs up
differs from cart to cart.
"""

import math
from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

from fleet.lap.body import seat
from fleet.lap.layout import HALF_WIDTH_M, Layout
from fleet.lap.parts_spray import bars_end
from fleet.lap.pen import UNITS_PER_M, Pen, Point, number, turned, units
from fleet.lap.stations import STATIONS, Station

BAND_M = 1.15
STOP_M = 0.28
_BARE_STOP_M = 0.12
_CORNER_M = 1.15


@dataclass(frozen=True)
class Walk:
    """The line's places for one cart, in metres."""

    at: Layout

    @property
    def line_x(self) -> float:
        """How far the line runs from the centre, on both sides."""
        return HALF_WIDTH_M + BAND_M

    @property
    def front_y(self) -> float:
        return -BAND_M

    @property
    def back(self) -> float:
        """The rearmost thing on the cart, spray aside."""
        return bars_end(self.at) + (0.3 if "rear_heads" in self.at.cart.gear else 0.0)

    @property
    def rear_y(self) -> float:
        return self.back + BAND_M

    @cached_property
    def stops(self) -> dict[str, Point]:
        """Where each station's stop is drawn, in lap order."""
        at, out = self.at, self.line_x
        return {
            "cab": seat(at),
            "front": (0.0, self.front_y),
            "right_front_wheel": (out, at.front_wheels_y),
            "right_side": (out, at.side_y),
            "right_rear_wheels": (out, at.rear_wheels_y),
            "rear": (0.0, self.rear_y),
            "left_rear_wheels": (-out, at.rear_wheels_y),
            "left_side": (-out, at.side_y),
            "left_front_wheel": (-out, at.front_wheels_y),
            "tank_top": (0.0, (at.tank_front + at.seam + at.lid_y - 0.23) / 2),
        }


def line(pen: Pen, walk: Walk) -> None:
    """The dashed line with an arrow head midway between stops."""
    out, front, rear, corner = walk.line_x, walk.front_y, walk.rear_y, _CORNER_M
    with pen.group(class_="lap-walk"):
        pen.path(
            "walk",
            *("M", 0, front, "H", out - corner, "A", corner, corner, "0 0 1", out, front + corner),
            *("V", rear - corner, "A", corner, corner, "0 0 1", out - corner, rear, "H", -out + corner),
            *("A", corner, corner, "0 0 1", -out, rear - corner, "V", walk.at.front_wheels_y),
        )
        for (x, y), heading in _ring_arrows(walk):
            _arrow(pen, x, y, heading)


def leaving(pen: Pen, walk: Walk) -> None:
    """Out by the driver's door to the front: drawn before the cart, so that it comes out from under the cab."""
    curve = _leaving(walk)
    with pen.group(class_="lap-walk"):
        pen.path("walk", "M", *curve[0], "C", *curve[1], *curve[2], *curve[3])
        (x, y), heading = _along(curve, 0.56)
        _arrow(pen, x, y, heading)


def _leaving(walk: Walk) -> tuple[Point, ...]:
    side = walk.at.driver
    x, y = walk.stops["cab"]
    return ((x, y), (side * 2.5, y + 0.1), (side * 2.1, walk.front_y + 0.5), (side * 0.2, walk.front_y + 0.1))


def _along(curve: tuple[Point, ...], t: float) -> tuple[Point, float]:
    """A point of a cubic curve and its heading there, in degrees clockwise from straight up."""
    a, b, c, d = curve
    u = 1 - t
    x, y = (u**3 * a[i] + 3 * u * u * t * b[i] + 3 * u * t * t * c[i] + t**3 * d[i] for i in (0, 1))
    dx, dy = (u * u * (b[i] - a[i]) + 2 * u * t * (c[i] - b[i]) + t * t * (d[i] - c[i]) for i in (0, 1))
    return (x, y), math.degrees(math.atan2(dx, -dy))


def _ring_arrows(walk: Walk) -> list[tuple[Point, float]]:
    at, out, corner = walk.at, walk.line_x, _CORNER_M
    front, side, rear = at.front_wheels_y, at.side_y, at.rear_wheels_y
    end = walk.rear_y - corner
    arrows = [
        ((out * 0.4, walk.front_y), 90.0),
        ((-out * 0.4, walk.rear_y), 270.0),
        ((out * 0.4, walk.rear_y), 270.0),
    ]
    for a, b in ((front, side), (side, rear)):
        arrows += [((out, (a + b) / 2), 180.0), ((-out, (a + b) / 2), 0.0)]
    if end - rear > 1.0:
        arrows += [((out, (rear + end) / 2), 180.0), ((-out, (rear + end) / 2), 0.0)]
    return arrows


def _arrow(pen: Pen, x: float, y: float, heading: float) -> None:
    out = turned(x, y, heading)
    pen.shape("rimmed", out(0.17, 0), out(-0.13, 0.13), out(-0.06, 0), out(-0.13, -0.13))


def stops(
    pen: Pen, walk: Walk, *, here: str | None, done: Collection[str], figures: bool, all_marks: bool
) -> None:
    """The stops themselves. `all_marks` writes the marks of every state, hidden, for a style sheet to show."""
    with pen.group(class_="lap-stops"):
        for stop in STATIONS:
            _stop(
                pen,
                walk,
                stop,
                here=stop.key == here,
                done=stop.key in done,
                figures=figures,
                all_marks=all_marks,
            )


def _stop(
    pen: Pen, walk: Walk, stop: Station, *, here: bool, done: bool, figures: bool, all_marks: bool
) -> None:
    x, y = walk.stops[stop.key]
    ink, paper = pen.palette.ink, pen.palette.paper
    states = "".join(word for word, true in ((" is-here", here), (" is-done", done)) if true)
    radius = STOP_M if figures or here or done else _BARE_STOP_M
    with pen.group(class_=f"lap-stop{states}", data_station=stop.key):
        pen.title(f"{stop.number} {stop.label}")
        if here or all_marks:
            pen.element(_here_mark(x, y, ink, paper, shown=here))
        pen.element(
            _tile(
                "lap-stop-tile",
                x,
                y,
                radius,
                f'fill="{ink if here else paper}" stroke="{ink}" stroke-width="1.6"',
            )
        )
        if figures and (all_marks or not done):
            pen.element(_figure(pen, stop.number, x, y, paper if here else ink, shown=not done))
        if done or all_marks:
            pen.element(_tick(x, y, paper if here else ink, shown=done))


def _hidden(shown: bool) -> str:  # noqa: FBT001 -- there is nothing else to say it of
    return "" if shown else ' display="none"'


def _figure(pen: Pen, figure: int, x: float, y: float, ink: str, *, shown: bool) -> str:
    size = 20 if figure < 10 else 18
    return (
        f'<text class="lap-stop-number" x="{units(x)}" y="{number(y * UNITS_PER_M + size * 0.36)}" font-size="{size}" '
        f'font-weight="700" text-anchor="middle" font-family="{pen.palette.typeface}" fill="{ink}"{_hidden(shown)}>'
        f"{figure}</text>"
    )


def _tick(x: float, y: float, ink: str, *, shown: bool) -> str:
    points = ((-0.15, 0.02), (-0.04, 0.13), (0.17, -0.12))
    steps = " L ".join(f"{units(x + dx)} {units(y + dy)}" for dx, dy in points)
    return (
        f'<path class="lap-stop-tick" d="M {steps}" fill="none" stroke="{ink}" stroke-width="4"'
        f"{_hidden(shown)}/>"
    )


def _here_mark(x: float, y: float, ink: str, paper: str, *, shown: bool) -> str:
    """A second, heavy frame round the stop."""
    half, corner = STOP_M + 0.09, 0.14
    side, bend = units(2 * (half - corner)), f"{units(corner)} {units(corner)} 0 0 1 "
    turn, back = units(corner), units(-corner)
    path = (
        f"M {units(x - half + corner)} {units(y - half)} h {side} a {bend}{turn} {turn} v {side} a {bend}{back} {turn} "
        f"h -{side} a {bend}{back} {back} v -{side} a {bend}{turn} {back} Z"
    )
    return f'<path class="lap-stop-here" d="{path}" fill="{paper}" stroke="{ink}" stroke-width="2.8"{_hidden(shown)}/>'


def _tile(name: str, x: float, y: float, half: float, paint: str) -> str:
    return (
        f'<rect class="{name}" x="{units(x - half)}" y="{units(y - half)}" width="{units(2 * half)}" '
        f'height="{units(2 * half)}" rx="{units(half * 0.36)}" {paint}/>'
    )
