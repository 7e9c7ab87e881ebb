"""What the forms of tank and plates start with: what is on record, else what is written down of the cart."""

from __future__ import annotations

from datetime import date
from typing import Any

from fleet.models.carts import Cart
from fleet.models.weights import TWO_GROUPS, GroupWeights, TankMeasured, WeightSheet

TANK_FIELDS = (
    "shape", "length_m", "width_m", "height_m", "dip_rows", "dead_l", "lid_above_mm", "sight_zero_mm", "middle_m", "fill_l_min",
)  # fmt: skip
SHEET_FIELDS = (
    "stands_on", "gross_key", "outer_length_m", "fuel_tank_l", "fuel_place_m", "cab_place_m", "height_m", "tickets_from_on",
    "source_words",
)  # fmt: skip
GROUP_FIELDS = (
    "name", "law_key", "axles", "spread_m", "tyres", "tyre_load_kg", "maker_kg", "position_m", "tare_kg",
)  # fmt: skip


def _of(row: TankMeasured | WeightSheet | GroupWeights, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: getattr(row, name) for name in names}


def tank_given(cart: Cart, *, on: date) -> dict[str, Any]:
    row = cart.tanks_measured.first()
    if row is not None:
        return _of(row, TANK_FIELDS) | {"measured_on": on}
    return {
        "measured_on": on,
        "shape": cart.tank_shape,
        "length_m": cart.tank_length_m,
        "width_m": cart.tank_width_m,
        "height_m": cart.tank_height_m,
    }


def plates_given(cart: Cart, *, on: date) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """What the sheet and its two groups start with."""
    row = cart.weight_sheets.prefetch_related("groups").first()
    groups: list[dict[str, Any]] = []
    if row is not None:
        groups = [_of(one, GROUP_FIELDS) for one in row.groups.all()]
    if len(groups) != 2:
        groups = [
            {
                "name": "steer axle" if one.kind == "steer" and one.axles == 1 else f"{one.kind} axles",
                "axles": one.axles,
                "spread_m": 0 if one.axles == 1 else None,
                "tyres": one.axles * (4 if one.has_duals else 2),
                "position_m": one.position_m,
                "tare_kg": one.tare_kg,
            }
            for one in cart.axle_groups.all()[:2]
        ]
    groups += [{}] * (2 - len(groups))
    sheet = (
        _of(row, SHEET_FIELDS)
        if row is not None
        else {"stands_on": TWO_GROUPS, "fuel_tank_l": cart.fuel_tank_l}
    )
    return sheet | {"from_on": on}, groups
