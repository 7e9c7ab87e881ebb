"""Planning a watering job: which row of a cart's own table lays nearest the rate wanted, its round, and from these the loads,
litres and carts of a day, with a low and a high from the ranges of what went in.

Counting alone: no dust equation is in it, so that a customer may see every figure. Where passes follow from dust, the caller brings
them. docs/job-plan.md has it worked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.water.measured import Number, above_zero, not_below_zero, plain, whole, within
from fleet.water.spray_sheet import Opening, SheetRow, SpraySheet, nearest_to, pumpable_l, sheet_rows
from fleet.water.spraying import LoadCycle, load_cycle, out_of_range, whole_up

# So far off the rate wanted the nearest gear is said to be: common practice, no source.
OFF_TARGET = 0.1


@dataclass(frozen=True, slots=True)
class Ends:
    """What an input likely is, and the least and most it may be. ValueError unless 0 <= low <= likely <= high."""

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        not_below_zero(self.low, "The least of a range")
        within(self.likely, self.low, self.high, "The likely value of a range", "(its least and most)")


@dataclass(frozen=True, slots=True)
class Job:
    """A day's work: the area, how often over it, the rate wanted, the way to the water and the time there is.

    fill_l_min None: the cart's own; heads: which are open, by the name of that choice, "" each cart's first. ValueError with a
    sentence for what can't be.
    """

    area_m2: Ends
    passes: int
    target_l_m2: float
    haul_km: Ends
    haul_km_h: Ends
    other_min: Ends
    hours_a_day: float
    fill_l_min: float | None = None
    heads: str = ""

    def __post_init__(self) -> None:
        above_zero(self.area_m2.low, "The area")
        above_zero(self.haul_km_h.low, "The speed on the way")
        above_zero(self.target_l_m2, "The rate")
        whole(self.passes, 1, "A day has at least one pass, and whole ones.")
        above_zero(self.hours_a_day, "The hours a day")
        within(self.hours_a_day, 0, 24, "The hours a day", "h")
        if self.fill_l_min is not None:
            above_zero(self.fill_l_min, "The flow at the fill point")

    @property
    def days(self) -> tuple[tuple[float, float, float, float], ...]:
        """(area, km, km/h, other minutes) of the low, the likely and the high day.

        Every need rises with area, way and waiting and falls with speed, so the low takes each at its kindest and the high at its
        worst (common practice, no source).
        """
        area, km, km_h, other = self.area_m2, self.haul_km, self.haul_km_h, self.other_min
        return (
            (area.low, km.low, km_h.high, other.low),
            (area.likely, km.likely, km_h.likely, other.likely),
            (area.high, km.high, km_h.low, other.high),
        )


@dataclass(frozen=True, slots=True)
class Day:
    """A day of the job: the round, litres and whole loads of all carts, whole carts, and the loads of the busiest of them."""

    cycle: LoadCycle
    litres: float
    loads: int
    carts: int
    loads_each: int


@dataclass(frozen=True, slots=True)
class CartPlan:
    """The job done by carts of one kind: the heads open, the row of the table they drive by, what a load is, and the day."""

    name: str
    opening: Opening
    row: SheetRow
    rows: tuple[SheetRow, ...]
    load_l: float
    low: Day
    likely: Day
    high: Day
    warnings: tuple[str, ...]

    @property
    def rate_l_m2(self) -> float:
        return self.row.driver.rate_l_m2


def area_of(*, length_m: Number, width_m: Number) -> float:
    """m2 of a road. ValueError for a length or width of zero or less."""
    return above_zero(length_m, "The length") * above_zero(width_m, "The width of the road")


def spread(likely: Number, *, pct: Number, what: str) -> Ends:
    """So much more or less, in per cent. ValueError outside 0..90, or for a value below zero."""
    middle, share = not_below_zero(likely, what), within(pct, 0, 90, "More or less", "%") / 100
    return Ends(middle * (1 - share), middle, middle * (1 + share))


def fill_flow(job: Job, sheet: SpraySheet) -> float | None:
    """L/min it fills at: the lesser of the cart's and the fill point's, as far as they are known."""
    return min((flow for flow in (sheet.fill_l_min, job.fill_l_min) if flow is not None), default=None)


def plan_cart(job: Job, sheet: SpraySheet, *, name: str, tank_l: Number) -> CartPlan:
    """The job by one kind of cart. tank_l: litres in the tank as it leaves the fill point.

    ValueError where it has no such choice of heads, where a round takes longer than the day, or what can't be.
    """
    opening = sheet.opening_named(job.heads)
    if opening is None:
        can = ", ".join(f"“{one.name}”" for one in sheet.openings)
        raise ValueError(f"{name} has no choice of heads called “{job.heads}”. It has {can}.")
    rows = sheet_rows(sheet, opening, load_l=tank_l)
    row, load = nearest_to(rows, target_l_m2=job.target_l_m2), pumpable_l(sheet, load_l=tank_l)
    fill = fill_flow(job, sheet)
    if fill is None:
        raise ValueError(
            f"Nobody has timed a fill of {name}: say what the fill point gives, or time it and measure the tank anew."
        )

    def day(area: float, km: float, km_h: float, other: float) -> Day:
        cycle = load_cycle(
            load_l=load, fill_l_min=fill, haul_km=km, haul_km_h=km_h, spray_l_min=row.driver.flow_l_min,
            shift_h=job.hours_a_day, other_min=other,
        )  # fmt: skip
        if not cycle.whole_loads:
            raise ValueError(
                f"A round of {name} takes {cycle.cycle_min:,.0f} min, longer than the day of {plain(job.hours_a_day)} h: "
                "bring the water nearer."
            )
        return _day(area * row.driver.rate_l_m2 * job.passes, load, cycle)

    low, likely, high = (day(*each) for each in job.days)
    return CartPlan(
        name, opening, row, rows, load, low, likely, high, warnings=_warnings(row, job.target_l_m2)
    )


def _day(litres: float, load_l: float, cycle: LoadCycle) -> Day:
    loads = whole_up(litres / load_l)
    # A cart does whole loads in a day: what is over at its end is not a load.
    carts = whole_up(loads / cycle.whole_loads)
    return Day(cycle, litres, loads, carts, whole_up(loads / carts))


def _warnings(row: SheetRow, target: float) -> tuple[str, ...]:
    rate, said = row.driver.rate_l_m2, list(out_of_range(application_l_m2=row.driver.rate_l_m2))
    off = (rate - target) / target
    if abs(off) > OFF_TARGET:
        more = "more" if off > 0 else "less"
        said.append(
            f"No gear lays {plain(target)} L/m²: the nearest, {row.driver.gear} at {row.driver.rpm:g} rpm, lays "
            f"{abs(off) * 100:.0f} % {more}."
        )  # fmt: skip
    return tuple(said)


def in_order(plans: Sequence[CartPlan]) -> list[CartPlan]:
    """Fewest carts first, then the least litres the tanks carry in vain, then the name (common practice, no source)."""
    return sorted(
        plans,
        key=lambda plan: (plan.likely.carts, plan.likely.loads * plan.load_l - plan.likely.litres, plan.name),
    )


def back_words(plan: CartPlan) -> str:
    """For the driver: "Back every 70 min, 14 loads"."""
    each = plan.likely.loads_each
    return f"Back every {plan.likely.cycle.cycle_min:.0f} min, {each} load{'' if each == 1 else 's'}"
