"""The places a walk-round stops at, in lap order, and which of them each wheel belongs to.

One clockwise lap seen from above: out of the cab, past the front, down the right side, round the rear, up the
left side, and last of all up to the tank top. Every screen, sheet and paper takes its order from here.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

Side = Literal["L", "R"]


@dataclass(frozen=True, slots=True)
class Station:
    """A place to stop: its key, its name on screen, and where it comes on the lap, counted from 1."""

    key: str
    label: str
    number: int


STATIONS: tuple[Station, ...] = tuple(
    Station(key, label, number)
    for number, (key, label) in enumerate(
        (
            ("cab", "Cab"),
            ("front", "Front and engine"),
            ("right_front_wheel", "Right front wheel"),
            ("right_side", "Right side"),
            ("right_rear_wheels", "Right rear wheels"),
            ("rear", "Rear"),
            ("left_rear_wheels", "Left rear wheels"),
            ("left_side", "Left side"),
            ("left_front_wheel", "Left front wheel"),
            ("tank_top", "Tank top"),
        ),
        start=1,
    )
)
STATION_KEYS: tuple[str, ...] = tuple(station.key for station in STATIONS)
_BY_KEY = {station.key: station for station in STATIONS}
_PLACE = re.compile(r"([1-9])([LR])([OI]?)")


class Axle(Protocol):
    """What is asked of an axle here: whether it steers ("steer") or is one of the others ("drive"), and duals."""

    @property
    def kind(self) -> str: ...

    @property
    def duals(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class WheelPlace:
    """A wheel code taken apart: axle from the front, counted from 1, side as seen from the driver's seat, and
    "O" outer, "I" inner, or "" for a single tyre or for the whole axle end."""

    axle: int
    side: Side
    which: str


def station(key: str) -> Station:
    """The station with this key. ValueError for a word that is none."""
    try:
        return _BY_KEY[key]
    except KeyError:
        raise ValueError(f"There is no station called {key!r}.") from None


def wheel_place(code: str) -> WheelPlace:
    """A wheel code such as "1L" or "2RO", or an axle end such as "2R", taken apart.

    ValueError for anything else. It says nothing about whether a cart has that wheel.
    """
    match = _PLACE.fullmatch(code)
    if match is None:
        raise ValueError(
            f"{code!r} is no wheel: write the axle, then L or R, then O or I on duals, as in 2LO."
        )
    return WheelPlace(int(match[1]), "L" if match[2] == "L" else "R", match[3])


def front_axle_count(axles: Sequence[Axle]) -> int:
    """How many axles stand at the front stations: the steering ones before the first that does not steer.

    At least 1. A steering axle behind a drive axle is looked at with the rear wheels, where it is.
    """
    count = 0
    for axle in axles:
        if axle.kind != "steer":
            break
        count += 1
    return max(count, 1)


def station_of_wheel(code: str, axles: Sequence[Axle]) -> str:
    """The key of the station at which this wheel (or axle end) is looked at.

    `axles` are the cart's, front to rear. ValueError when the code is none, or the cart has no such axle.
    """
    place = wheel_place(code)
    if place.axle > len(axles):
        raise ValueError(f"{code} is on axle {place.axle}, and this cart has {len(axles)}.")
    side = "left" if place.side == "L" else "right"
    return f"{side}_front_wheel" if place.axle <= front_axle_count(axles) else f"{side}_rear_wheels"


def wheel_codes(axles: Sequence[Axle]) -> tuple[str, ...]:
    """Every tyre's code, in the order the lap passes them: down the right side, then up the left.

    On duals the outer comes first: it is the one the person sees. `axles` are the cart's, front to rear.
    """
    return tuple(_lap(axles, lambda axle: ("O", "I") if axle.duals else ("",)))


def axle_ends(axles: Sequence[Axle]) -> tuple[str, ...]:
    """Every hub's code ("1R", "2R" ... "1L"), in the order the lap passes them."""
    return tuple(_lap(axles, lambda _axle: ("",)))


def wheel_codes_at(station_key: str, axles: Sequence[Axle]) -> tuple[str, ...]:
    """The tyres looked at from one station, in lap order; none at a station without wheels."""
    key = station(station_key).key
    return tuple(code for code in wheel_codes(axles) if station_of_wheel(code, axles) == key)


def axle_ends_at(station_key: str, axles: Sequence[Axle]) -> tuple[str, ...]:
    """The hubs looked at from one station, in lap order; none at a station without wheels."""
    key = station(station_key).key
    return tuple(code for code in axle_ends(axles) if station_of_wheel(code, axles) == key)


def _lap(axles: Sequence[Axle], tyres: Callable[[Axle], tuple[str, ...]]) -> Iterator[str]:
    numbered = list(enumerate(axles, start=1))
    for side, order in (("R", numbered), ("L", numbered[::-1])):
        for number, axle in order:
            for which in tyres(axle):
                yield f"{number}{side}{which}"
