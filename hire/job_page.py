"""A job's plan as pages show it: which carts and how many, two of them side by side, each figure with its working."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from fleet.models.carts import Cart
from fleet.models.spraying import SpraySheet
from fleet.road_fill import road_fill_of
from fleet.spray_page import TableRow, Working, l_min, whole
from fleet.water.dust import district_control_pct, watering_warnings
from fleet.water.job_plan import CartPlan, Job, back_words, in_order, plan_cart
from fleet.water.road import NoFigure, RoadFill
from fleet.water.spray_sheet import fill_min
from fleet.water.spraying import out_of_range
from hire.job_forms import FROM_MEMORY, MM_PER_INCH, JobForm, StaffJobForm
from hire.models.job_plans import JobPlan

L_M2_PER_GAL_YD2 = 3.785411784 / 0.83612736
COUNTING = "Counting (COMPUTED); that a cart does whole rounds only is common practice, no source."
CAUTION = (
    "A plan counts, it does not see the road. The site’s rules, the driver’s eye and the weather stand over it; too much water "
    "makes a road slippery. A weighbridge decides what a cart may carry on a public road."
)


@dataclass(frozen=True)
class InTank:
    """Litres in a tank as it leaves the water, and why so many. may_go: False where the way is a public road and no road fill is
    on record."""

    litres: float
    why: str
    may_go: bool = True


@dataclass(frozen=True)
class Planned:
    """One cart's plan with what its pages say of it."""

    cart: Cart
    sheet: SpraySheet
    plan: CartPlan
    tank: InTank
    table: Sequence[TableRow]
    # Of the workings, the one that hangs on no litres.
    lays: Working
    workings: Sequence[Working]

    @property
    def tank_l(self) -> float:
        return self.tank.litres

    @property
    def back(self) -> str:
        return back_words(self.plan)

    @property
    def opening(self) -> object:
        return self.sheet.openings.all()[0]


@dataclass(frozen=True)
class NoPlan:
    """A cart that can't be planned with, and why."""

    cart: Cart
    why: str


def ends(plan: CartPlan, what: str) -> str:
    """5 (4 to 6), or 5 alone where low and high are the same."""
    low, likely, high = (float(getattr(day, what)) for day in (plan.low, plan.likely, plan.high))
    return f"{likely:,.0f}" if low == high else f"{likely:,.0f} ({low:,.0f} to {high:,.0f})"


def plans_of(
    job: Job, carts: Sequence[Cart], *, by_road: bool, on: date
) -> tuple[list[Planned], list[NoPlan]]:
    """The job by each of the carts, best first, and those it can't be planned with. Nine queries however many carts."""
    sheets = {row.cart_id: row for row in SpraySheet.objects.filter(cart__in=carts).newest_each().whole()}
    tanks = _tanks(carts, by_road=by_road, on=on)
    made, left = {}, []
    for cart in carts:
        sheet = sheets.get(cart.pk)
        if sheet is None:
            left.append(NoPlan(cart, "No spray figures on record."))
            continue
        try:
            made[cart.pk] = _planned(job, cart, sheet, tanks[cart.pk])
        except ValueError as error:
            left.append(NoPlan(cart, str(error)))
    by_name = {one.plan.name: one for one in made.values()}
    return [by_name[plan.name] for plan in in_order([one.plan for one in made.values()])], left


def _tanks(carts: Sequence[Cart], *, by_road: bool, on: date) -> dict[UUID, InTank]:
    if not by_road:
        return {cart.pk: InTank(float(cart.tank_capacity_l), "The full tank.") for cart in carts}
    fills = road_fill_of(carts, on=on)
    return {cart.pk: _by_road(cart, fills[cart.pk]) for cart in carts}


def _by_road(cart: Cart, fill: RoadFill | NoFigure) -> InTank:
    if isinstance(fill, NoFigure):
        why = f"The full tank, since there is no road fill: {fill.reason} It may be too heavy for a public road."
        return InTank(float(cart.tank_capacity_l), why, may_go=False)
    why = f"The road fill, {fill.source}; a weighbridge decides. A part load surges."
    return InTank(float(min(fill.litres, cart.tank_capacity_l)), why)


def _planned(job: Job, cart: Cart, sheet: SpraySheet, tank: InTank) -> Planned:
    figures = sheet.figures()
    plan = plan_cart(job, figures, name=cart.fleet_number, tank_l=tank.litres)
    fill = fill_min(figures, load_l=tank.litres)
    table = [
        TableRow(row, fill, next(iter(out_of_range(application_l_m2=row.driver.rate_l_m2)), ""))
        for row in plan.rows
    ]
    lays = _lays(job, plan)
    in_tank = Working(
        "In the tank", whole(tank.litres, "L"), [("Can be sprayed", whole(plan.load_l, "L"))], tank.why,
        "The cart’s own record.",
    )  # fmt: skip
    return Planned(cart, sheet, plan, tank, table, lays, [in_tank, lays, _round(plan), *_of_a_day(job, plan)])


def _lays(job: Job, plan: CartPlan) -> Working:
    driver = plan.row.driver
    return Working(
        f"{driver.gear} at {driver.rpm:g} rpm lays", f"{driver.rate_l_m2:.2f} L/m²",
        [
            ("Wanted", f"{job.target_l_m2:g} L/m²"), ("Flow", l_min(driver.flow_l_min)),
            ("Speed", f"{driver.speed_km_h:.1f} km/h"),
        ],
        "The row of the cart’s own table whose rate is nearest the rate wanted; all that follows is reckoned with that row.",
        "RT-01 (COMPUTED).",
    )  # fmt: skip


def _round(plan: CartPlan) -> Working:
    cycle = plan.likely.cycle
    return Working(
        "A round", whole(cycle.cycle_min, "min"),
        [
            ("Fill", whole(cycle.fill_min, "min")), ("Both ways", whole(cycle.haul_min, "min")),
            ("Spray empty", whole(cycle.spray_min, "min")), ("Waiting and coupling", whole(cycle.other_min, "min")),
        ],
        "The four parts added. A queue at the water is not in it but in the waiting.", "Dimensional identity (COMPUTED).",
    )  # fmt: skip


def _of_a_day(job: Job, plan: CartPlan) -> list[Working]:
    day, driver, cycle = plan.likely, plan.row.driver, plan.likely.cycle
    return [
        Working(
            "Litres a day", whole(day.litres, "L"),
            [
                ("Area", whole(job.area_m2.likely, "m²")), ("Times a day", str(job.passes)),
                ("Laid", f"{driver.rate_l_m2:.2f} L/m²"),
            ],
            f"Area × times a day × rate. {ends(plan, 'litres')} L over the ranges.", COUNTING,
        ),
        Working(
            "Loads a day", ends(plan, "loads"), [("Litres a day", whole(day.litres, "L")), ("A load", whole(plan.load_l, "L"))],
            "Litres ÷ load, rounded up.", COUNTING,
        ),
        Working(
            "Carts", ends(plan, "carts"),
            [("Loads a day", str(day.loads)), ("Rounds a cart does", str(cycle.whole_loads), f"in {job.hours_a_day:g} h")],
            "Loads ÷ whole rounds a day, rounded up. The low takes area and waiting at their least and speed at its most, the high "
            "the other way about.",
            COUNTING,
        ),
    ]  # fmt: skip


def kept_down(form: JobForm, job: Job, made: Sequence[Planned]) -> Working | None:
    """What a US district's form says the passes keep down with what the first of the carts really lays: for everybody. None
    without traffic and evaporation, or a cart."""
    typed = form.cleaned_data
    if typed["vehicles_per_h"] is None or typed["pan_mm"] is None or not made:
        return None
    plan, hours = made[0].plan, job.hours_a_day / job.passes
    inches, rate = float(typed["pan_mm"]) / MM_PER_INCH, plan.rate_l_m2 / L_M2_PER_GAL_YD2
    control = district_control_pct(
        pan_in_a_year=inches, vehicles_per_h=float(typed["vehicles_per_h"]), hours_between=hours, application_gal_yd2=rate
    )  # fmt: skip
    said = " ".join(watering_warnings(control_pct=control))
    return Working(
        "Dust kept down, about", f"{control:.0f} %",
        [
            ("Evaporation a year", f"{inches:.1f} in", f"{typed['pan_mm']:f} mm"),
            ("Traffic", f"{typed['vehicles_per_h']:f} an hour"),
            ("Between passes", f"{hours:.1f} h"), (f"{plan.name} lays", f"{rate:.3f} US gal/yd²", f"{plan.rate_l_m2:.2f} L/m²"),
        ],
        f"100 − 0.0012 × evaporation × traffic × hours ÷ rate, never below 0. {said} It compares ways of watering and is no "
        "measurement of one road on one day.",
        "WE-03 (VERIFIED-R), a US district’s form in its own units.",
    )  # fmt: skip


def passes_by_dust(form: StaffJobForm, job: Job) -> Working | None:
    """How the times a day follow from a dust target: for the yard alone. None where they were typed."""
    if not form.is_by_dust:
        return None
    typed, hours = form.cleaned_data, form.hours_between()
    return Working(
        f"Times a day ({FROM_MEMORY})", str(job.passes),
        [
            ("Dust to keep down", f"{typed['target_control_pct']:f} %"), ("Evaporation", f"{typed['evaporation_mm_h']:f} mm/h"),
            ("Traffic", f"{typed['vehicles_per_h']:f} an hour"), ("Laid", f"{typed['target_l_m2']:f} L/m²"),
            ("Longest between passes", f"{hours:.2f} h", FROM_MEMORY),
        ],
        "Longest hours = (100 − control) × rate ÷ (0.8 × evaporation × traffic); passes fill the day, rounded up. Reckoned "
        "at the rate wanted: a cart that lays less has to go round sooner. For the yard alone: "
        f"the customer’s page plans with the times a day as typed, {typed['passes']}.",
        f"WE-12, COMPUTED from WE-01, which is MEMORY: {FROM_MEMORY}.",
    )  # fmt: skip


PLAN_HEAD = (
    "Cart", "In the tank L", "A load L", "Gear", "Engine rpm", "km/h", "L/m2", "Round min", "Loads a day", "Loads low",
    "Loads high", "Carts", "Carts low", "Carts high", "Litres a day", "Loads each", "Why not",
)  # fmt: skip


def plan_table(made: Iterable[Planned], left: Iterable[NoPlan]) -> Iterator[Sequence[object]]:
    for one in made:
        plan, driver = one.plan, one.plan.row.driver
        yield (
            plan.name, one.tank_l, plan.load_l, driver.gear, driver.rpm, round(driver.speed_km_h, 2), round(driver.rate_l_m2, 3),
            round(plan.likely.cycle.cycle_min, 1), plan.likely.loads, plan.low.loads, plan.high.loads, plan.likely.carts,
            plan.low.carts, plan.high.carts, round(plan.likely.litres), plan.likely.loads_each, None,
        )  # fmt: skip
    for none in left:
        yield (none.cart.fleet_number, *[None] * 15, none.why)


KEPT_HEAD = ("Whose job", "Kept with", "Kept", "By", "Question")


def kept_table(plans: Iterable[JobPlan]) -> Iterator[Sequence[object]]:
    for one in plans:
        yield one.words, one.kept_with, one.planned_at, one.planned_by.full_name, one.question
