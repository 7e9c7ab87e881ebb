"""A job's plan as pages show it: which carts and how many, two of them side by side, each figure with its working."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from fleet.models.carts import Cart
from fleet.models.spraying import figures_of
from fleet.road_fill import NONE_OUTSIDE, road_fill_of
from fleet.spray_page import TableRow, Working, l_min, whole
from fleet.water.job_plan import CartPlan, Job, back_words, plan_cart
from fleet.water.job_plan_many import Plans, plan_many
from fleet.water.road import NoFigure, RoadFill
from fleet.water.spray_sheet import Opening, SheetRow, fill_min, sheet_rows
from fleet.water.spray_sheet import SpraySheet as Figures
from fleet.water.spraying import out_of_range
from hire.models.job_plans import JobPlan

COUNTING = "Counting (COMPUTED); that a cart does whole rounds only is common practice, no source."
ON_SITE = "On site alone: a full tank may be too heavy for a public road. A weighbridge decides."
SURGES = "A part load moves: brake early, and slow down before bends and slopes."
CAUTION = (
    "A plan counts, it does not see the road. The site’s rules, the driver’s eye and the weather stand over it; too much water "
    "makes a road slippery. A weighbridge decides what a cart may carry on a public road."
)


@dataclass(frozen=True)
class InTank:
    """Litres in a tank as it leaves the water, and why so many. caution: a sentence for the driver, or ""; may_go: False where the
    way is a public road and no road fill is on record."""

    litres: float
    why: str
    caution: str = ""
    may_go: bool = True


@dataclass(frozen=True)
class Planned:
    """One cart's plan with what its pages say of it."""

    cart: Cart
    sheet: Figures
    plan: CartPlan
    tank: InTank
    table: Sequence[TableRow]
    # The same with the cart's other choices of heads.
    others: Sequence[tuple[Opening, Sequence[TableRow]]]
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
    def opening(self) -> Opening:
        return self.plan.opening


@dataclass(frozen=True)
class NoPlan:
    """A cart that can't be planned with, and why."""

    cart: Cart
    why: str


def ends(plan: CartPlan, what: str) -> str:
    """5 (4 to 6), or 5 alone where low and high are the same."""
    low, likely, high = (float(getattr(day, what)) for day in (plan.low, plan.likely, plan.high))
    return f"{likely:,.0f}" if low == high else f"{likely:,.0f} ({low:,.0f} to {high:,.0f})"


@dataclass(frozen=True)
class Ranked:
    """The carts that can do a job, best first; those that can't, with why. The figures are of all of them at once: what is shown of
    one is planned by itself."""

    job: Job
    plans: Plans
    # Places in `plans`, best first; `asked` as `plans.place` counts.
    order: Sequence[int]
    asked: Sequence[tuple[Cart, Figures, InTank]]
    left: Sequence[NoPlan]

    def __len__(self) -> int:
        return len(self.order)

    def first(self, count: int) -> list[Planned]:
        return [self._planned(n) for n in self.order[:count]]

    def named(self, name: str) -> Planned | None:
        wanted = name.strip().casefold()
        found = (n for n in self.order if self._of(n)[0].fleet_number.casefold() == wanted)
        return next((self._planned(n) for n in found), None)

    def _of(self, n: int) -> tuple[Cart, Figures, InTank]:
        return self.asked[int(self.plans.place[n])]

    def _planned(self, n: int) -> Planned:
        return _planned(self.job, *self._of(n))

    def table(self) -> Iterator[Sequence[object]]:
        """Every cart under PLAN_HEAD."""
        plans = self.plans
        for n in self.order:
            cart, sheet, tank = self._of(n)
            gear, rpm = divmod(int(plans.row[n]), len(sheet.rpms))
            low, likely, high = plans.low, plans.likely, plans.high
            opening = sheet.opening(self.job.heads)
            yield (
                cart.fleet_number, tank.litres, float(plans.load_l[n]), opening.name, sheet.gears[gear].name, sheet.rpms[rpm],
                round(float(plans.speed_km_h[n]), 2), round(float(plans.rate_l_m2[n]), 3),
                round(float(likely.cycle_min[n]), 1), int(likely.loads[n]), int(low.loads[n]), int(high.loads[n]),
                int(likely.carts[n]), int(low.carts[n]), int(high.carts[n]), round(float(likely.litres[n])),
                int(likely.loads_each[n]), None,
            )  # fmt: skip
        for none in self.left:
            yield (none.cart.fleet_number, *[None] * 16, none.why)


def ranked(job: Job, carts: Sequence[Cart], *, by_road: bool, on: date, rule_set: str = "") -> Ranked:
    """The job by each of the carts. rule_set: under which the hire works, as road_fill_of has it. Ten queries however many
    carts."""
    sheets = figures_of(carts)
    tanks = _tanks(carts, by_road=by_road, on=on, rule_set=rule_set)
    left = [NoPlan(cart, "No spray figures on record.") for cart in carts if cart.pk not in sheets]
    asked = [(cart, sheets[cart.pk], tanks[cart.pk]) for cart in carts if cart.pk in sheets]
    plans = plan_many(job, [sheet for _, sheet, _ in asked], tank_l=[tank.litres for _, _, tank in asked])
    can = set(plans.place.tolist())
    left += [NoPlan(one[0], _why_not(job, *one)) for n, one in enumerate(asked) if n not in can]
    order = plans.in_order([cart.fleet_number for cart, _, _ in asked]).tolist()
    return Ranked(job, plans, order, asked, left)


def _why_not(job: Job, cart: Cart, sheet: Figures, tank: InTank) -> str:
    try:
        plan_cart(job, sheet, name=cart.fleet_number, tank_l=tank.litres)
    except ValueError as error:
        return str(error)
    return ""


def _tanks(carts: Sequence[Cart], *, by_road: bool, on: date, rule_set: str) -> dict[UUID, InTank]:
    if not by_road:
        return {cart.pk: InTank(float(cart.tank_capacity_l), "The full tank.", ON_SITE) for cart in carts}
    fills = road_fill_of(carts, on=on, rule_set=rule_set)
    return {cart.pk: _by_road(cart, fills[cart.pk]) for cart in carts}


def _by_road(cart: Cart, fill: RoadFill | NoFigure) -> InTank:
    if isinstance(fill, NoFigure):
        why = f"The full tank, since there is no road fill: {fill.reason} It may be too heavy for a public road."
        return InTank(float(cart.tank_capacity_l), why, NONE_OUTSIDE, may_go=False)
    litres, why = (
        float(min(fill.litres, cart.tank_capacity_l)),
        f"The road fill, {fill.source}; a weighbridge decides.",
    )
    if litres >= cart.tank_capacity_l:
        return InTank(litres, why)
    return InTank(litres, f"{why} A part load surges.", SURGES)


def _planned(job: Job, cart: Cart, sheet: Figures, tank: InTank) -> Planned:
    plan = plan_cart(job, sheet, name=cart.fleet_number, tank_l=tank.litres)
    fill = fill_min(sheet, load_l=tank.litres)
    # What this job is driven by comes first.
    table = _table(sorted(plan.rows, key=lambda row: row != plan.row), fill)
    others = [
        (one, _table(sheet_rows(sheet, one, load_l=tank.litres), fill))
        for one in sheet.openings
        if one != plan.opening
    ]
    lays = _lays(job, plan)
    in_tank = Working(
        "In the tank", whole(tank.litres, "L"), [("Can be sprayed", whole(plan.load_l, "L"))], tank.why,
        "The cart’s own record.",
    )  # fmt: skip
    return Planned(
        cart, sheet, plan, tank, table, others, lays, [in_tank, lays, _round(plan), *_of_a_day(job, plan)]
    )


def _table(rows: Sequence[SheetRow], fill: float | None) -> list[TableRow]:
    return [
        TableRow(row, fill, next(iter(out_of_range(application_l_m2=row.driver.rate_l_m2)), ""))
        for row in rows
    ]


def _lays(job: Job, plan: CartPlan) -> Working:
    driver = plan.row.driver
    return Working(
        f"{driver.gear} at {driver.rpm:g} rpm lays", f"{driver.rate_l_m2:.2f} L/m²",
        [
            ("Wanted", f"{job.target_l_m2:g} L/m²"), ("Heads open", plan.opening.name), ("Flow", l_min(driver.flow_l_min)),
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


PLAN_HEAD = (
    "Cart", "In the tank L", "A load L", "Heads open", "Gear", "Engine rpm", "km/h", "L/m2", "Round min", "Loads a day",
    "Loads low", "Loads high", "Carts", "Carts low", "Carts high", "Litres a day", "Loads each", "Why not",
)  # fmt: skip

KEPT_HEAD = ("Whose job", "Kept with", "Kept", "By", "Question")


def kept_table(plans: Iterable[JobPlan]) -> Iterator[Sequence[object]]:
    for one in plans:
        yield one.words, one.kept_with, one.planned_at, one.planned_by.full_name, one.question
