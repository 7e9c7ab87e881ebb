"""What the demo yard knows of its carts' weights: most measured, some weighed, one with a trailer, one not measured at all."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from functools import partial

from config.demo.story import Script, World
from config.demo.yard import CARTS, FUEL_TANKS_L, CartPlan, axle_groups, tank_size_m
from fleet.actions.weights import (
    GroupDetails,
    PlateDetails,
    TankDetails,
    TicketDetails,
    measure_tank,
    record_plates,
    record_ticket,
    strike_ticket,
)
from fleet.water.tank import Tank
from people.yard import yard_day, yard_policy

NOT_MEASURED, WITH_TRAILER, BY_TABLE = "WC-08", "WC-21", "WC-05"
# By axles: name, tyres, what one carries and the maker's rating of both groups; where the tank's middle is, fuel tanks in litres.
GROUPS = {
    "2": (("steer axle", 2, 3150, 6500), ("drive axle", 4, 2900, 10_500)),
    "3": (("steer axle", 2, 3150, 6700), ("drive axles", 8, 2900, 18_500)),
    "4": (("twin steer", 4, 3150, 13_200), ("drive axles", 8, 2900, 18_500)),
}
# The law's row of each group, by rule set; none for what its table has no row for. By axles the row of the whole, where it has one.
LAW = {
    "au": {"steer axle": "steer", "twin steer": "twin_steer", "drive axle": "single_dual", "drive axles": "tandem_dual"},
    "us": {"steer axle": "single", "twin steer": "tandem", "drive axle": "single", "drive axles": "tandem"},
    "uk": {"steer axle": "undriven", "drive axle": "driven", "drive axles": "tandem_1_3"},
}  # fmt: skip
GROSS_LAW = {"uk": {"2": "gross_2", "3": "gross_3_air", "4": "gross_4"}}
MIDDLE_M = {"2": Decimal("3.75"), "3": Decimal("4.35"), "4": Decimal("5.05")}
# Of weighed carts: litres aboard at each weighing.
WEIGHED = {
    "WC-01": (0, 4000, 8000, 12_000),
    "WC-02": (0, 3000, 6000, 9000, 12_000),
    "WC-03": (0, 4000),
    "WC-05": (0, 6000, 12_000),
    "WC-09": (0, 5000, 10_000, 14_000),
    "WC-16": (0,),
    "WC-18": (0, 3000, 6000, 7000),
    "WC-23": (0, 4000, 9000, 12_500),
}
# What a weighing lies from the line, kg on front and rear.
OFF_KG = ((20, -20), (-20, 40), (0, -40), (20, 20), (-40, 0))
# What a cart at work weighs over its published tare, kg on front and rear.
HEAVIER_KG = (390, 310)
# What a tank's material makes of the published tare, kg on each group.
MATERIAL_KG = {"steel": 0, "stainless": 60, "poly": -140, "aluminium": -90}
BRIDGE = "Thornwick public weighbridge"


def _tank(plan: CartPlan, at: datetime) -> TankDetails:
    length, width, height = tank_size_m(plan)
    is_table = plan.fleet_number == BY_TABLE
    steps = range(0, int(height * 1000) + 1, 200)
    inside = Tank("ellipse", float(length), float(width), float(height)) if is_table else None
    return TankDetails(
        measured_on=yard_day(at),
        shape="table" if is_table else plan.shape,
        length_m=None if is_table else length,
        width_m=None if is_table else width,
        height_m=None if is_table else height,
        # Metered in: somewhat under what the outer measures promise.
        dip_rows=[[mm, round(inside.volume_l(mm / 1000) * 0.985 / 10) * 10] for mm in steps]
        if inside
        else None,
        dead_l=120 if plan.axles == "2" else 180,
        lid_above_mm=110,
        sight_zero_mm=40,
        middle_m=MIDDLE_M[plan.axles],
        fill_l_min=1000 if "hydrant_fill" in plan.extra or plan.axles != "2" else 800,
        by_words="Teo Marsden",
    )


def plates(plan: CartPlan, at: datetime) -> PlateDetails:
    rule_set = yard_policy().rule_set
    groups = tuple(
        GroupDetails(
            name, LAW[rule_set].get(name, ""), group.axles, Decimal("1.35") * (group.axles - 1), tyres, load_kg, maker_kg, group.position_m,
            group.tare_kg + MATERIAL_KG[plan.material],
        )
        for (name, tyres, load_kg, maker_kg), group in zip(GROUPS[plan.axles], axle_groups(plan), strict=True)
    )  # fmt: skip
    return PlateDetails(
        from_on=yard_day(at),
        stands_on="trailer" if plan.fleet_number == WITH_TRAILER else "two_groups",
        gross_key=GROSS_LAW.get(rule_set, {}).get(plan.axles, ""),
        outer_length_m=groups[1].position_m + Decimal("0.68") * (groups[1].axles - 1),
        fuel_tank_l=FUEL_TANKS_L[plan.axles],
        fuel_place_m=Decimal("1.60"),
        cab_place_m=Decimal("0.40"),
        height_m=Decimal("3.05") if plan.axles == "2" else Decimal("3.30"),
        tickets_from_on=None,
        source_words="plate in the cab door, maker’s sheet, tyre sidewalls",
        groups=groups,
    )


def _weigh(world: World, plan: CartPlan, water_l: int, off: tuple[int, int], at: datetime) -> None:
    (first, second), tank_kg = axle_groups(plan), MATERIAL_KG[plan.material]
    share = (MIDDLE_M[plan.axles] - first.position_m) / (second.position_m - first.position_m)
    rear = float(share) * water_l

    def read(kg: float) -> int:
        return round(kg / 20) * 20

    record_ticket(
        cart=world.carts[plan.fleet_number],
        details=TicketDetails(
            weighed_at=at,
            place_words=BRIDGE,
            number=f"TW-{3100 + int(plan.fleet_number[3:]) * 10 + water_l // 1000}",
            front_kg=read(first.tare_kg + tank_kg + HEAVIER_KG[0] + water_l - rear + off[0]),
            rear_kg=read(second.tare_kg + tank_kg + HEAVIER_KG[1] + rear + off[1]),
            water_l=water_l,
            driver_in=True,
            kit_in=True,
            fuel_eighths=8 if water_l == 0 else 7,
            by_words="Wes Tonkin",
        ),
        photo=None,
        by=world.people["bruna"],
        at=at,
    )


def _strike(world: World, number: str, at: datetime) -> None:
    """The ticket at which two people sat in the cab."""
    ticket = world.carts[number].weighbridge_tickets.get(water_l=3000)
    strike_ticket(
        ticket=ticket,
        words="Two people were in the cab and one tool box on the tray.",
        by=world.people["bruna"],
        at=at,
    )


def _measure(world: World, plan: CartPlan, at: datetime) -> None:
    measure_tank(
        cart=world.carts[plan.fleet_number], details=_tank(plan, at), by=world.people["bruna"], at=at
    )


def _read_plates(world: World, plan: CartPlan, at: datetime) -> None:
    record_plates(
        cart=world.carts[plan.fleet_number], details=plates(plan, at), by=world.people["bruna"], at=at
    )


def weights(world: World, script: Script) -> None:
    for n, plan in enumerate(CARTS):
        if plan.fleet_number == NOT_MEASURED:
            continue
        script.at(world.when(-28, 9, n), partial(_measure, world, plan))
        script.at(world.when(-28, 10, n), partial(_read_plates, world, plan))
        for weighing, water_l in enumerate(WEIGHED.get(plan.fleet_number, ())):
            off = OFF_KG[(n + weighing) % len(OFF_KG)]
            script.at(world.when(-27, 9 + weighing, n), partial(_weigh, world, plan, water_l, off))
    script.at(world.when(-26, 8, 5), partial(_strike, world, "WC-02"))
