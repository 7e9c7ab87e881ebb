"""The gear a cart can have fitted: one word for each, used by checks, drawings and enquiries alike."""

from collections.abc import Iterable

GEAR: dict[str, str] = {
    "air_brakes": "Air brakes",
    "air_dryer": "Air dryer",
    "transmission_manual": "Manual gearbox",
    "transmission_automatic": "Automatic gearbox",
    "retarder": "Retarder",
    "adblue": "AdBlue",
    "spring_suspension": "Spring suspension",
    "air_suspension": "Air suspension",
    "nut_pointers": "Wheel-nut pointers",
    "auto_greaser": "Automatic greaser",
    "two_way_radio": "Two-way radio",
    "camera": "Reversing camera",
    "reversing_alarm": "Reversing alarm",
    "beacon": "Beacon",
    "work_lights": "Work lights",
    "high_brake_lights": "High brake lights",
    "flag": "Flag and call sign",
    "battery_isolator": "Battery isolator",
    "side_boards": "Side boards",
    "spare_wheel": "Spare wheel",
    "first_aid_kit": "First-aid kit",
    "spill_kit": "Spill kit",
    "chocks": "Wheel chocks",
    "fire_suppression": "Fire suppression",
    "extinguisher": "Fire extinguisher",
    "emergency_stop": "Emergency stop",
    "rops": "Rollover frame",
    "tank_spring_mounts": "Spring-mounted tank",
    "tank_rigid_mounts": "Rigid-mounted tank",
    "tank_top_access": "Tank-top ladder and rails",
    "sight_gauge": "Sight gauge",
    "dip_gauge": "Dip gauge",
    "hydrant_fill": "Hydrant fill",
    "suction_fill": "Suction fill",
    "backflow_device": "Backflow device",
    "air_gap_fill": "Air-gap fill",
    "additive_tank": "Additive tank",
    "potable_tank": "Potable tank",
    "pump_shaft": "Shaft-driven pump",
    "pump_hydraulic": "Hydraulic pump",
    "pump_auxiliary_engine": "Pump with its own engine",
    "pto": "PTO",
    "rear_heads": "Rear spray heads",
    "side_heads": "Side spray heads",
    "front_heads": "Front spray heads",
    "batter_heads": "Batter heads",
    "air_heads": "Air-operated heads",
    "drop_bar": "Drop bar",
    "dribble_bar": "Dribble bar",
    "cannon": "Cannon",
    "hose_reel": "Hose reel",
    "high_pressure_outlet": "High-pressure outlet",
    "travelling_kit": "Travelling kit",
    "spray_controls": "Spray controls in the cab",
}

TANK_MATERIALS = {"steel": "Steel", "stainless": "Stainless steel", "aluminium": "Aluminium", "poly": "Poly"}

# Gear a hire may do without: it may be isolated and tagged, and the cart then goes with a limit.
MAY_BE_ISOLATED = frozenset(
    {
        "additive_tank", "auto_greaser", "batter_heads", "camera", "cannon", "dribble_bar", "drop_bar", "front_heads",
        "high_pressure_outlet", "hose_reel", "side_heads", "two_way_radio", "work_lights",
    }
)  # fmt: skip


def unknown_gear(kinds: Iterable[str]) -> list[str]:
    return sorted(set(kinds) - GEAR.keys())
