"""Three unlike carts as the sheet sees them: their facts and where their wheels, extinguishers and stops are.

Invented. `typical_three_axle()` is the cart whose counts and minutes are promised in docs/checks.md.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from fleet.tread_limits import YARD_DEFAULT_MM
from inspections.check import Check
from inspections.library import library
from inspections.limits import Limit
from inspections.sheet import Places, Sheet, build_sheet

TYPICAL = frozenset(
    {
        "air_brakes", "air_dryer", "transmission_automatic", "retarder", "spring_suspension", "nut_pointers",
        "two_way_radio", "camera", "reversing_alarm", "beacon", "work_lights", "high_brake_lights",
        "battery_isolator", "first_aid_kit", "spill_kit", "chocks", "extinguisher", "emergency_stop", "rops",
        "tank_steel", "tank_spring_mounts", "tank_top_access", "sight_gauge", "hydrant_fill", "suction_fill",
        "backflow_device", "pump_shaft", "pto", "rear_heads", "side_heads", "air_heads", "dribble_bar",
        "cannon", "hose_reel", "spray_controls", "dual_tyres", "registered",
    }
)  # fmt: skip
SMALL = frozenset(
    {
        "transmission_manual", "spring_suspension", "reversing_alarm", "beacon", "first_aid_kit", "spill_kit",
        "chocks", "extinguisher", "tank_poly", "tank_rigid_mounts", "dip_gauge", "suction_fill", "air_gap_fill",
        "pump_auxiliary_engine", "rear_heads", "drop_bar", "hose_reel", "travelling_kit", "dual_tyres",
    }
)  # fmt: skip
MINE = frozenset(
    {
        "air_brakes", "transmission_automatic", "retarder", "adblue", "air_suspension", "nut_pointers",
        "auto_greaser", "two_way_radio", "camera", "reversing_alarm", "beacon", "work_lights",
        "high_brake_lights", "flag", "battery_isolator", "side_boards", "spare_wheel", "first_aid_kit",
        "spill_kit", "chocks", "fire_suppression", "extinguisher", "emergency_stop", "rops", "tank_stainless",
        "tank_spring_mounts", "tank_top_access", "sight_gauge", "hydrant_fill", "air_gap_fill", "additive_tank",
        "potable_tank", "pump_hydraulic", "rear_heads", "side_heads", "front_heads", "batter_heads",
        "air_heads", "dribble_bar", "cannon", "hose_reel", "high_pressure_outlet", "travelling_kit",
        "spray_controls", "dual_tyres",
    }
)  # fmt: skip


@dataclass(frozen=True)
class SheetCart:
    """What `build_sheet` is told of one cart."""

    facts: frozenset[str]
    places: Places
    tread_limits: Mapping[str, Limit]

    def sheet(self, purpose: str, *, rule_set: str = "au", checks: tuple[Check, ...] | None = None) -> Sheet:
        return build_sheet(
            library() if checks is None else checks,
            facts=self.facts,
            places=self.places,
            purpose=purpose,
            rule_set=rule_set,
            tread_limits=self.tread_limits,
        )


def typical_three_axle() -> SheetCart:
    """The yard's usual cart: steer and tandem on duals, sprung steel tank, shaft pump, automatic, road-registered."""
    return SheetCart(
        facts=TYPICAL,
        places=Places(
            tyres=(
                ("1R", "right_front_wheel"),
                *((code, "right_rear_wheels") for code in ("2RO", "2RI", "3RO", "3RI")),
                *((code, "left_rear_wheels") for code in ("3LO", "3LI", "2LO", "2LI")),
                ("1L", "left_front_wheel"),
            ),
            hubs=_hubs(front=1, rear=2),
            extinguishers=(("DP-4471", "left_side"),),
            emergency_stops=(("1", "cab"), ("2", "left_side")),
        ),
        tread_limits=_tread_limits(steer=("1L", "1R"), other=("2", "3"), duals=True),
    )


def small_poly_two_axle() -> SheetCart:
    """The smallest: manual, hydraulic-braked, poly tank, pump with its own engine, site use only."""
    return SheetCart(
        facts=SMALL,
        places=Places(
            tyres=(
                ("1R", "right_front_wheel"),
                ("2RO", "right_rear_wheels"),
                ("2RI", "right_rear_wheels"),
                ("2LO", "left_rear_wheels"),
                ("2LI", "left_rear_wheels"),
                ("1L", "left_front_wheel"),
            ),
            hubs=_hubs(front=1, rear=1),
            extinguishers=(("DP-0093", "cab"),),
        ),
        tread_limits=_tread_limits(steer=("1L", "1R"), other=("2",), duals=True),
    )


def mine_twin_steer() -> SheetCart:
    """The fullest: twin steer, hydraulic pump, air bags, stainless drinking-water tank, everything a mine asks for."""
    return SheetCart(
        facts=MINE,
        places=Places(
            tyres=(
                ("1R", "right_front_wheel"),
                ("2R", "right_front_wheel"),
                *((code, "right_rear_wheels") for code in ("3RO", "3RI", "4RO", "4RI")),
                *((code, "left_rear_wheels") for code in ("4LO", "4LI", "3LO", "3LI")),
                ("2L", "left_front_wheel"),
                ("1L", "left_front_wheel"),
            ),
            hubs=_hubs(front=2, rear=2),
            extinguishers=(("DP-2210", "left_side"), ("DP-2211", "cab")),
            emergency_stops=(("1", "cab"), ("2", "left_side"), ("3", "rear")),
        ),
        tread_limits=_tread_limits(steer=("1L", "1R", "2L", "2R"), other=("3", "4"), duals=True),
    )


def unlike_carts() -> dict[str, SheetCart]:
    return {
        "typical_three_axle": typical_three_axle(),
        "small_poly_two_axle": small_poly_two_axle(),
        "mine_twin_steer": mine_twin_steer(),
    }


def _hubs(*, front: int, rear: int) -> tuple[tuple[str, str], ...]:
    """Axle ends in lap order: down the right side, up the left."""
    axles = range(1, front + rear + 1)
    where = {axle: "front_wheel" if axle <= front else "rear_wheels" for axle in axles}
    right = tuple((f"{axle}R", f"right_{where[axle]}") for axle in axles)
    left = tuple((f"{axle}L", f"left_{where[axle]}") for axle in reversed(axles))
    return right + left


def _tread_limits(*, steer: tuple[str, ...], other: tuple[str, ...], duals: bool) -> dict[str, Limit]:
    """The yard's usual change-out depths, at each steer position and at each position of the other axles."""
    ends = ("LO", "LI", "RI", "RO") if duals else ("L", "R")
    depths: dict[str, Decimal] = dict.fromkeys(steer, YARD_DEFAULT_MM["steer"])
    depths |= {f"{axle}{end}": YARD_DEFAULT_MM["other"] for axle in other for end in ends}
    return {
        code: Limit(op=">=", value=depth_mm, unit="mm", grade="do_not_use")
        for code, depth_mm in depths.items()
    }
