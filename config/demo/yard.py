"""The invented yard: people, customers and 24 unlike carts. Every name, make and plate is made up."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from fleet.wheel_places import GroupPlan

PASSWORD = "three wet carts at dawn"  # noqa: S105 - the demo's own, printed at every start, on loopback only

# For changing over on a shared tablet, once somebody has enrolled one.
PINS = {"teo": "480216", "isla": "905137", "wes": "739105", "ruby": "264809"}

# Sign-in name, full name, role, mobile (numbers kept for fiction).
PEOPLE = (
    ("noor", "Noor Halloran", "fleet_manager", "+61491570156"),
    ("bruna", "Bruna Kitto", "workshop_manager", "+61491570157"),
    ("teo", "Teo Marsden", "fitter", "+61491570158"),
    ("isla", "Isla Pembrey", "fitter", "+61491570159"),
    ("wes", "Wes Tonkin", "yard_hand", ""),
    ("ruby", "Ruby Anselm", "yard_hand", ""),
    ("dot", "Dot Farrugia", "hire_desk", "+61491570110"),
)

# Name, contact, phone, email, address.
CUSTOMERS = (
    ("Callabar Quarries", "Jo Renfrew", "08 5550 0311", "site@callabar.example", "Pit Road, Callabar"),
    ("Thornwick Civil", "Amir Doyle", "08 5550 0322", "plant@thornwick.example", "8 Weir Street, Thornwick"),
    (
        "Mallee Ridge Wind",
        "Petra Lund",
        "08 5550 0333",
        "hire@malleeridge.example",
        "Ridge Track, Mallee Ridge",
    ),
    ("Yarrow Shire Roads", "Col Brandt", "08 5550 0344", "works@yarrow.example", "Shire Depot, Yarrow"),
    ("Opaline Earthmoving", "Suki Vance", "08 5550 0355", "desk@opaline.example", "Lot 4, Opaline Way"),
    (
        "Greyfell Mining Services",
        "Dara Quill",
        "08 5550 0366",
        "gate@greyfell.example",
        "Mine Gate 2, Greyfell",
    ),
)

MAKES = (("Korrin", "K7"), ("Tasgard", "T640"), ("Welmar", "W3200"), ("Brindal", "B8"))

BASE_GEAR = (
    "air_brakes", "two_way_radio", "reversing_alarm", "beacon", "first_aid_kit", "chocks", "extinguisher",
    "emergency_stop", "spray_controls", "rear_heads", "suction_fill", "hydrant_fill", "sight_gauge", "work_lights",
    "tank_top_access", "spring_suspension", "pto", "battery_isolator",
)  # fmt: skip


@dataclass(frozen=True)
class CartPlan:
    """One cart of the demo: its layout ("2", "3" or "4" axles), tank, and gear beside the base."""

    fleet_number: str
    axles: str
    capacity_l: int
    shape: str
    material: str
    extra: tuple[str, ...]
    steering_side: str = "right"
    build_year: int = 2019


def _g(text: str) -> tuple[str, ...]:
    return tuple(text.split())


CARTS = (
    CartPlan("WC-01", "3", 14000, "ellipse", "steel", _g("air_dryer transmission_automatic pump_shaft cannon hose_reel dribble_bar rops camera spill_kit tank_spring_mounts nut_pointers high_brake_lights side_boards"), build_year=2018),
    CartPlan("WC-02", "3", 15000, "ellipse", "steel", _g("air_dryer transmission_automatic pump_hydraulic cannon hose_reel side_heads rops camera tank_spring_mounts nut_pointers adblue"), build_year=2021),
    CartPlan("WC-03", "2", 8000, "box", "poly", _g("transmission_manual pump_auxiliary_engine hose_reel tank_rigid_mounts"), build_year=2014),
    CartPlan("WC-04", "3", 13500, "box", "aluminium", _g("air_dryer transmission_automatic pump_shaft drop_bar side_heads camera tank_spring_mounts"), build_year=2020),
    CartPlan("WC-05", "4", 18000, "ellipse", "stainless", _g("air_dryer transmission_automatic pump_hydraulic cannon front_heads batter_heads rops camera fire_suppression retarder tank_spring_mounts adblue air_heads"), build_year=2022),
    CartPlan("WC-06", "2", 9000, "cylinder", "steel", _g("transmission_manual pump_shaft dribble_bar tank_rigid_mounts spare_wheel"), build_year=2013),
    CartPlan("WC-07", "3", 14000, "ellipse", "steel", _g("air_dryer transmission_manual pump_shaft cannon side_heads rops nut_pointers tank_spring_mounts"), build_year=2016),
    CartPlan("WC-08", "3", 12000, "ellipse", "poly", _g("transmission_automatic pump_hydraulic hose_reel high_pressure_outlet camera tank_rigid_mounts additive_tank"), build_year=2019),
    CartPlan("WC-09", "4", 20000, "ellipse", "steel", _g("air_dryer transmission_automatic pump_hydraulic cannon hose_reel front_heads rops camera retarder tank_spring_mounts auto_greaser flag"), build_year=2023),
    CartPlan("WC-10", "2", 7500, "box", "stainless", _g("transmission_manual pump_auxiliary_engine potable_tank backflow_device tank_rigid_mounts"), build_year=2017),
    CartPlan("WC-11", "3", 15000, "cylinder", "steel", _g("air_dryer transmission_automatic pump_shaft cannon dribble_bar rops camera tank_spring_mounts"), "left", 2020),
    CartPlan("WC-12", "3", 14000, "ellipse", "aluminium", _g("air_dryer transmission_automatic pump_hydraulic side_heads batter_heads camera tank_spring_mounts travelling_kit"), build_year=2021),
    CartPlan("WC-14", "2", 8500, "ellipse", "steel", _g("transmission_manual pump_shaft hose_reel tank_rigid_mounts"), build_year=2012),
    CartPlan("WC-15", "3", 13000, "box", "poly", _g("transmission_automatic pump_hydraulic drop_bar hose_reel camera air_gap_fill tank_rigid_mounts"), build_year=2018),
    CartPlan("WC-16", "3", 14500, "ellipse", "steel", _g("air_dryer transmission_automatic pump_shaft cannon hose_reel rops nut_pointers tank_spring_mounts spill_kit"), build_year=2015),
    CartPlan("WC-17", "4", 19000, "ellipse", "steel", _g("air_dryer transmission_automatic pump_hydraulic cannon front_heads batter_heads rops fire_suppression camera tank_spring_mounts"), build_year=2022),
    CartPlan("WC-18", "2", 9500, "cylinder", "stainless", _g("transmission_automatic pump_hydraulic potable_tank backflow_device hose_reel tank_rigid_mounts"), build_year=2020),
    CartPlan("WC-19", "3", 14000, "ellipse", "steel", _g("air_dryer transmission_automatic pump_shaft cannon side_heads dribble_bar rops tank_spring_mounts"), build_year=2017),
    CartPlan("WC-20", "3", 13500, "ellipse", "poly", _g("transmission_manual pump_auxiliary_engine hose_reel tank_rigid_mounts additive_tank"), build_year=2016),
    CartPlan("WC-21", "4", 18500, "box", "steel", _g("air_dryer transmission_automatic pump_hydraulic cannon rops camera retarder tank_spring_mounts high_brake_lights"), build_year=2019),
    CartPlan("WC-22", "2", 8000, "ellipse", "aluminium", _g("transmission_manual pump_shaft drop_bar tank_rigid_mounts dip_gauge"), build_year=2018),
    CartPlan("WC-23", "3", 15000, "ellipse", "steel", _g("air_dryer transmission_automatic pump_hydraulic cannon hose_reel side_heads rops camera tank_spring_mounts auto_greaser"), build_year=2024),
    CartPlan("WC-24", "3", 14000, "cylinder", "steel", _g("air_dryer transmission_automatic pump_shaft dribble_bar cannon rops tank_spring_mounts"), build_year=2011),
    CartPlan("WC-25", "2", 10000, "ellipse", "steel", _g("air_suspension transmission_automatic pump_hydraulic hose_reel camera tank_rigid_mounts"), build_year=2023),
)  # fmt: skip


# What the fuel tanks of a chassis hold, by its axles.
FUEL_TANKS_L = {"2": 200, "3": 300, "4": 400}


def axle_groups(plan: CartPlan) -> tuple[GroupPlan, ...]:
    """Axle groups of the layout. Limits are Australian general mass limits, GM-01, GM-03, GM-05 and GM-08 (VERIFIED-S)."""
    steer = GroupPlan("steer", 1, False, Decimal(0), 3900, 6000)  # noqa: FBT003 - as the dataclass orders it
    if plan.axles == "2":
        return (steer, GroupPlan("drive", 1, True, Decimal("4.30"), 2900, 9000))  # noqa: FBT003
    if plan.axles == "3":
        return (steer, GroupPlan("drive", 2, True, Decimal("5.00"), 5400, 16500))  # noqa: FBT003
    twin = GroupPlan("steer", 2, False, Decimal("0.95"), 6400, 10000)  # noqa: FBT003
    return (twin, GroupPlan("drive", 2, True, Decimal("6.20"), 5900, 16500))  # noqa: FBT003


def gross_limit_kg(plan: CartPlan) -> int:
    """GM-11 and GM-12: 15.0 t, 22.5 t and 26.5 t."""
    return {"2": 15000, "3": 22500, "4": 26500}[plan.axles]


def tank_size_m(plan: CartPlan) -> tuple[Decimal, Decimal, Decimal]:
    """Length, width and height of a tank of about the capacity."""
    width, height = {"ellipse": ("2.30", "1.60"), "box": ("2.30", "1.40"), "cylinder": ("1.80", "1.80")}[
        plan.shape
    ]
    share = Decimal(1) if plan.shape == "box" else Decimal("0.7854")
    length = Decimal(plan.capacity_l) / 1000 / (Decimal(width) * Decimal(height) * share)
    return length.quantize(Decimal("0.01")), Decimal(width), Decimal(height)
