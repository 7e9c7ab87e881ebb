"""What is on record of one cart's weights and tank, as the road fill is reckoned from it. Metres, kg and litres."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from fleet.water.mass_limits import LeastLimit, RuleSet
from fleet.water.road_law import Law
from fleet.water.tank import Tank

if TYPE_CHECKING:
    from fleet.water.tank_calibrated import CalibratedTank

FUEL_EIGHTHS = 8
# Name, least limit and the law's own (None: not known) of both groups, then of "gross".
Limits = tuple[tuple[str, LeastLimit, Law | None], ...]


@dataclass(frozen=True, slots=True)
class GroupFacts:
    """One axle group by its plates: law_key a row of the rule set's table ("" not known), metres behind the first axle, kg."""

    name: str
    law_key: str
    axles: int
    spread_m: float
    tyres: int
    tyre_load_kg: float | None
    maker_kg: float | None
    position_m: float
    tare_kg: float


@dataclass(frozen=True, slots=True)
class Weighing:
    """A weighbridge ticket: kg on the two groups, litres aboard, and what of the cart ready to work was aboard."""

    weighed_on: date
    front_kg: float
    rear_kg: float
    water_l: float
    driver_in: bool
    kit_in: bool
    fuel_eighths: int


@dataclass(frozen=True, slots=True)
class Allowances:
    """What the yard adds to a cart that was not weighed ready to work; the margin is always added."""

    people: int
    kit_kg: float
    mud_kg: float
    margin_kg: float


@dataclass(frozen=True)
class Facts:
    """All that is on record of one cart. Places in metres behind the first axle, the tank's middle (by tape) too."""

    rule_set: RuleSet
    groups: tuple[GroupFacts, GroupFacts]
    gross_plate_kg: float
    gross_key: str
    outer_length_m: float | None
    fuel_tank_l: float
    fuel_place_m: float
    cab_place_m: float
    tank: Tank | CalibratedTank
    middle_m: float
    dead_l: float
    lid_above_mm: float
    sight_zero_mm: float | None
    fill_l_min: float | None
    weighings: tuple[Weighing, ...]
    allowances: Allowances
