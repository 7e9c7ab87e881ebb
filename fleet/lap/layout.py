"""Where everything of one cart lies, in metres: x to the right of the centre line, y back from the bumper."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from types import MappingProxyType

from fleet.lap.cart import LapCart
from fleet.lap.stations import front_axle_count, wheel_codes, wheel_place

HALF_WIDTH_M = 1.25
CAB_HALF_M = 1.13
BEAM_M = 0.16
# Bumper to first axle, bumper to windscreen, and to the back of the cab: usual figures, for the picture only.
_CABS = MappingProxyType({"forward": (1.38, 0.06, 1.96), "bonneted": (1.18, 1.6, 3.36)})
# How far each shape's ends bulge, and the least depth of the hatched strip at them.
_HEAD_M = MappingProxyType({"cylinder": 0.4, "ellipse": 0.17, "box": 0.0})
HATCH_M = 0.17
_TYRE_M = 1.0
_SINGLE_M, _DUAL_M, _BETWEEN_DUALS_M = 0.3, 0.27, 0.07
_DECK_GEAR = frozenset(
    {"pump_shaft", "pump_hydraulic", "pump_auxiliary_engine", "hose_reel", "high_pressure_outlet"}
)
# Gear hung on a side between the axles, with the length it takes there, from the front.
_SIDE_GEAR = (
    ("left", (("battery_isolator", 0.62), ("backflow_device", 0.28), ("hydrant_fill", 0.36))),
    ("right", (("additive_tank", 0.62), ("suction_fill", 0.4))),
)


@dataclass(frozen=True, slots=True)
class Wheel:
    """A tyre seen from above, about its centre."""

    code: str
    x: float
    y: float
    width: float
    height: float
    steers: bool


@dataclass(frozen=True)
class Layout:
    """The places of a cart's parts, each worked out once from the cart."""

    cart: LapCart

    @property
    def driver(self) -> int:
        """1 when the driver sits on the right, -1 on the left."""
        return 1 if self.cart.steering_side == "right" else -1

    @property
    def cab_front(self) -> float:
        return _CABS[self.cart.cab][1]

    @property
    def cab_rear(self) -> float:
        return _CABS[self.cart.cab][2]

    @property
    def tank_half(self) -> float:
        """Half the tank's width; a tank wider than the cart is drawn as wide as the cart."""
        return min(self.cart.tank_width_m / 2, HALF_WIDTH_M - 0.03)

    @cached_property
    def tank_front(self) -> float:
        spare = self.rear - BEAM_M - self._deck_need - self.cart.tank_length_m - self.cab_rear
        return self.cab_rear + min(max(0.58, spare), 0.85)

    @property
    def tank_rear(self) -> float:
        return self.tank_front + self.cart.tank_length_m

    @property
    def head(self) -> float:
        """How deep the tank's rounded ends are: 0 for a box."""
        return min(_HEAD_M[self.cart.tank_shape], self.cart.tank_length_m / 4)

    @property
    def seam(self) -> float:
        """How far in from each end the hatched strip reaches."""
        return max(self.head, HATCH_M)

    @property
    def lid_y(self) -> float:
        """The middle of the filling lid."""
        return self.tank_front + self.cart.tank_length_m * 0.46

    @property
    def beam(self) -> float:
        """The front face of the rear cross beam: the deck behind the tank ends here."""
        return self.rear - BEAM_M

    @cached_property
    def rear(self) -> float:
        tank = self.cab_rear + 0.58 + self.cart.tank_length_m + self._deck_need + BEAM_M
        axle = self.axle_y[-1] + self.tyre_m / 2 + 0.5
        return max(tank, axle, self.cart.length_m or 0.0)

    @property
    def _deck_need(self) -> float:
        return 1.0 if self.cart.gear & _DECK_GEAR else 0.42

    @cached_property
    def axle_y(self) -> tuple[float, ...]:
        first = _CABS[self.cart.cab][0] - self.cart.axles[0].position_m
        return tuple(first + axle.position_m for axle in self.cart.axles)

    @cached_property
    def tyre_m(self) -> float:
        """Tyre diameter: smaller only where axles stand too close for a usual one."""
        gaps = [b - a for a, b in pairwise(self.axle_y)]
        return min([_TYRE_M, *(gap - 0.12 for gap in gaps if gap > 0.5)])

    @property
    def front_axles(self) -> int:
        return front_axle_count(self.cart.axles)

    @property
    def front_wheels_y(self) -> float:
        """Where one stands to look at the front wheels of a side."""
        return _middle(self.axle_y[: self.front_axles])

    @property
    def rear_wheels_y(self) -> float:
        """Where one stands to look at the rear wheels of a side."""
        return _middle(self.axle_y[self.front_axles :] or (self.rear - 1.0,))

    @property
    def side_y(self) -> float:
        """Where one stands to look along a side."""
        return (self.front_wheels_y + self.rear_wheels_y) / 2

    @property
    def before_rear_wheels(self) -> float:
        """The front edge of the first rear tyre, or of the beam on a cart without rear axles."""
        rear_axles = self.axle_y[self.front_axles :]
        return rear_axles[0] - self.tyre_m / 2 if rear_axles else self.beam

    @cached_property
    def wheels(self) -> Mapping[str, Wheel]:
        """Every tyre by its code, in lap order."""
        return MappingProxyType({code: self._wheel(code) for code in wheel_codes(self.cart.axles)})

    def _wheel(self, code: str) -> Wheel:
        place = wheel_place(code)
        axle = self.cart.axles[place.axle - 1]
        width = _DUAL_M if axle.duals else _SINGLE_M
        inset = width / 2 + (_DUAL_M + _BETWEEN_DUALS_M if place.which == "I" else 0.0)
        side = 1 if place.side == "R" else -1
        return Wheel(
            code,
            side * (HALF_WIDTH_M - inset),
            self.axle_y[place.axle - 1],
            width,
            self.tyre_m,
            steers=axle.kind == "steer",
        )

    @cached_property
    def side_gear_y(self) -> Mapping[str, float]:
        """The middle of each side-hung part's room, first come first served in the gaps between tyres."""
        places: dict[str, float] = {}
        for _side, wanted in _SIDE_GEAR:
            at = self.tank_front + 0.16
            for key, length in wanted:
                if key in self.cart.gear:
                    at = self._clear_of_tyres(at, length)
                    places[key] = at + length / 2
                    at += length + 0.1
        return MappingProxyType(places)

    def _clear_of_tyres(self, at: float, length: float) -> float:
        reach = self.tyre_m / 2 + 0.06
        for y in self.axle_y:
            if at < y + reach and at + length > y - reach:
                at = y + reach
        return min(at, self.beam - length)


def _middle(values: Iterable[float]) -> float:
    places = tuple(values)
    return (places[0] + places[-1]) / 2
