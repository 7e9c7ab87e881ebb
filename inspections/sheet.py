"""The sheet for one cart and one purpose: which checks are asked, where, in what order, and what they take.

Built from an edition's checks and the cart's facts alone, so that the same edition and cart always give the same
sheet, and a signed walk-round can be set beside the sheet it answers.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from fleet.lap.stations import STATION_KEYS, wheel_place
from inspections.check import Check
from inspections.limits import Limit
from inspections.vocabulary import CEILINGS, GRADE_KEYS, PURPOSE_KEYS, RULE_SETS, WHEEL_STATIONS

Placed = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Places:
    """Where the things of a cart that are asked one by one are: pairs of what it is and the station it is at.

    tyres: wheel position codes ("2LO"); hubs: axle ends ("2L"); extinguishers: serials; emergency_stops: numbers.
    Each in the order it is to be asked at its station. ValueError with a sentence for an unknown station, a wheel
    at a station without wheels, or one thing twice.
    """

    tyres: Placed = ()
    hubs: Placed = ()
    extinguishers: Placed = ()
    emergency_stops: Placed = ()

    def __post_init__(self) -> None:
        for placed, stations in (
            (self.tyres, WHEEL_STATIONS),
            (self.hubs, WHEEL_STATIONS),
            (self.extinguishers, STATION_KEYS),
            (self.emergency_stops, STATION_KEYS),
        ):
            for name, station in placed:
                if station not in stations:
                    raise ValueError(f"{name} can’t be at “{station}”: use one of {', '.join(stations)}.")
            if len({name for name, _ in placed}) != len(placed):
                raise ValueError("One tyre, hub, extinguisher or emergency stop is given twice.")

    def at(self, each: str, station: str) -> tuple[str, ...]:
        """The places of one kind at a station; for the kind "" the station itself, as one place without a name."""
        if not each:
            return ("",)
        kinds = {
            "tyre": self.tyres,
            "hub": self.hubs,
            "extinguisher": self.extinguishers,
            "emergency_stop": self.emergency_stops,
        }
        return tuple(name for name, where in kinds[each] if where == station)


@dataclass(frozen=True, slots=True)
class Item:
    """One look: a check, the place it is asked about ("" for the station itself) and the limit it is judged by."""

    check: Check
    place: str
    place_label: str
    limit: Limit | None


@dataclass(frozen=True, slots=True)
class Stop:
    """One stay at a station: the looks taken there before walking on."""

    walk_pass: int
    station: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The looks in walking order. `minutes` is whole, rounded up; `values` counts those that take a reading."""

    purpose: str
    items: tuple[Item, ...]
    looks: int
    minutes: int
    values: int

    @property
    def over_ceiling(self) -> int:
        """How many looks more than the yard wants on a sheet for this purpose; 0 when it fits."""
        return max(0, self.looks - CEILINGS[self.purpose])

    def at(self, station: str) -> tuple[Item, ...]:
        """Everything asked at one station, over all passes."""
        return tuple(item for item in self.items if item.check.station == station)

    def stops(self) -> tuple[Stop, ...]:
        """The stays in walking order. A station comes again in each pass, and for what its pass keeps till last."""
        stays: list[list[Item]] = []
        for item in self.items:
            if stays and _stay(stays[-1][-1]) == _stay(item):
                stays[-1].append(item)
            else:
                stays.append([item])
        return tuple(Stop(stay[0].check.walk_pass, stay[0].check.station, tuple(stay)) for stay in stays)


def build_sheet(
    checks: Iterable[Check],
    *,
    facts: frozenset[str],
    places: Places,
    purpose: str,
    rule_set: str,
    tread_limits: Mapping[str, Limit],
) -> Sheet:
    """The sheet: every check asked for the purpose that fits the cart, once for each place it is asked about.

    checks: an edition's, in file order. facts: the cart's gear keys and other facts. tread_limits: the change-out
    depth of each tyre position, in mm. Order: pass; what its pass keeps till last after the rest; station along the
    lap; the worst grade first; file order; place order. ValueError for an unknown purpose or rule set, or a tyre
    without a tread limit.
    """
    if purpose not in PURPOSE_KEYS:
        raise ValueError(f"“{purpose}” is not a purpose: use one of {', '.join(PURPOSE_KEYS)}.")
    if rule_set not in RULE_SETS:
        raise ValueError(f"“{rule_set}” is not a rule set: use one of {', '.join(RULE_SETS)}.")
    asked = [check for check in checks if purpose in check.asked and check.fits(facts)]
    asked.sort(key=_walking_order)
    items = tuple(item for check in asked for item in _items(check, places, rule_set, tread_limits))
    minutes = sum((item.check.minutes for item in items), Decimal(0))
    return Sheet(
        purpose=purpose,
        items=items,
        looks=len(items),
        minutes=math.ceil(minutes),
        values=sum(item.check.takes_a_value for item in items),
    )


def place_label(each: str, place: str) -> str:
    """A place as a person says it: "axle 2 left, outer", "extinguisher 4471", "stop 1"; "" for the station itself."""
    if each in ("tyre", "hub"):
        wheel = wheel_place(place)
        which = {"O": ", outer", "I": ", inner", "": ""}[wheel.which]
        return f"axle {wheel.axle} {'left' if wheel.side == 'L' else 'right'}{which}"
    return {"extinguisher": f"extinguisher {place}", "emergency_stop": f"stop {place}", "": ""}[each]


def _items(check: Check, places: Places, rule_set: str, tread_limits: Mapping[str, Limit]) -> Iterator[Item]:
    for place in places.at(check.each, check.station):
        limit = check.limit_for(rule_set)
        if check.limit_from == "tread":
            if place not in tread_limits:
                raise ValueError(f"There is no change-out depth for the tyre at {place}.")
            limit = tread_limits[place]
        yield Item(check, place, place_label(check.each, place), limit)


def _walking_order(check: Check) -> tuple[int, bool, int, int]:
    station, grade = STATION_KEYS.index(check.station), GRADE_KEYS.index(check.grade)
    return (check.walk_pass, check.last, station, grade)


def _stay(item: Item) -> tuple[int, bool, str]:
    return (item.check.walk_pass, item.check.last, item.check.station)
