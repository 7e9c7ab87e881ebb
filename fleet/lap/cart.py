"""What the drawing is told: one cart as it stands, and the defects to pin on it.

Lengths are metres. The drawing shows gear where it usually sits; what is measured (axle places, tank length and
width, overall length) is drawn to scale.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, Protocol, get_args

from fleet.lap.stations import station

SteeringSide = Literal["left", "right"]
AxleKind = Literal["steer", "drive"]
TankShape = Literal["cylinder", "ellipse", "box"]
TankMaterial = Literal["steel", "stainless", "aluminium", "poly"]
CabKind = Literal["forward", "bonneted"]
Grade = Literal["do_not_use", "by_date", "watch"]

# Centre to centre within a group; common practice, no source, and only for the picture.
_STEER_SPACING_M = 1.85
_DRIVE_SPACING_M = 1.35


@dataclass(frozen=True, slots=True)
class LapAxle:
    """An axle: `position_m` behind the first one (which is 0), whether it steers, whether its tyres are pairs."""

    position_m: float
    kind: AxleKind
    duals: bool


@dataclass(frozen=True, slots=True)
class LapCart:
    """A cart to draw: axles from the front; `gear` the keys of what is fitted, of which the drawn ones show.

    `length_m` is bumper to rear beam. It is a least: a cart is never drawn shorter than its cab, tank and deck
    gear need, so a wrong or missing (None) length squeezes nothing. ValueError with a sentence for an unknown
    word, no axle or more than nine, axles out of order, or a length that is not above zero.
    """

    steering_side: SteeringSide
    axles: tuple[LapAxle, ...]
    tank_shape: TankShape
    tank_length_m: float
    tank_width_m: float
    tank_material: TankMaterial
    gear: frozenset[str]
    length_m: float | None = None
    cab: CabKind = "forward"

    def __post_init__(self) -> None:
        for word, kind in (
            (self.steering_side, SteeringSide),
            (self.tank_shape, TankShape),
            (self.tank_material, TankMaterial),
            (self.cab, CabKind),
        ):
            _known(word, get_args(kind))
        if not 1 <= len(self.axles) <= 9:
            raise ValueError("A cart has one to nine axles.")
        for axle in self.axles:
            _known(axle.kind, get_args(AxleKind))
        places = [axle.position_m for axle in self.axles]
        rising = all(a < b for a, b in pairwise(places))
        if not (rising and all(map(math.isfinite, places))):
            raise ValueError("Give the axles from the front, each further back than the one before.")
        for length in (
            self.tank_length_m,
            self.tank_width_m,
            1.0 if self.length_m is None else self.length_m,
        ):
            if not (math.isfinite(length) and length > 0):
                raise ValueError("Lengths and widths are in metres, above zero.")


@dataclass(frozen=True, slots=True)
class Pin:
    """A defect to pin: at `place` of `station`, if the place is a wheel code, an axle end or drawn gear; else at the
    station itself. `label` is its words, `number` what is written in the mark. ValueError for a word that is none.
    """

    station: str
    place: str
    label: str
    grade: Grade
    number: int

    def __post_init__(self) -> None:
        station(self.station)
        _known(self.grade, get_args(Grade))


class AxleGroup(Protocol):
    """A group of axles, as a cart's own record keeps it; `position_m` is the group's centre."""

    @property
    def kind(self) -> str: ...

    @property
    def axles(self) -> int: ...

    @property
    def has_duals(self) -> bool: ...

    @property
    def position_m(self) -> object: ...


def axles_of_groups(groups: Iterable[AxleGroup]) -> tuple[LapAxle, ...]:
    """Single axles from groups given front to rear, spaced as such groups usually are, the first one at 0 m.

    ValueError for a group of an unknown kind.
    """
    axles = []
    for group in groups:
        kind = _axle_kind(group.kind)
        spacing = _STEER_SPACING_M if kind == "steer" else _DRIVE_SPACING_M
        first = float(str(group.position_m)) - spacing * (group.axles - 1) / 2
        axles += [(first + spacing * number, kind, group.has_duals) for number in range(group.axles)]
    return tuple(LapAxle(round(place - axles[0][0], 3), kind, duals) for place, kind, duals in axles)


def _axle_kind(word: str) -> AxleKind:
    _known(word, get_args(AxleKind))
    return "steer" if word == "steer" else "drive"


def _known(word: str, words: Sequence[str]) -> None:
    if word not in words:
        raise ValueError(f"{word!r} is not one of: {', '.join(words)}.")
