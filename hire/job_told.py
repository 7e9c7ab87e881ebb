"""What a driver is told of a hire's job: its plan reckoned for the cart that goes, with litres, dip, gear and speed. Reads only."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from django.http import QueryDict

from fleet.dip_page import dip_at
from fleet.models.carts import Cart
from fleet.spray_page import Working, whole
from fleet.water.tank import Dip
from hire.job_forms import JobForm
from hire.job_page import Planned, ranked
from hire.models.agreements import Line
from hire.models.job_plans import JobPlan
from hire.swaps import swaps_before

NOT_READ = "The plan can’t be read any more. Plan the job anew."
NO_DIP = "The tank is not measured: no dip mark. Fill by the meter at the fill point."
Fact = tuple[str, str] | tuple[str, str, str]


@dataclass(frozen=True)
class Told:
    """one: None where the cart can't be planned with, and then why says it. cart_words: where another cart was planned with, or
    none. dip: None where the tank is not measured, or nobody is told how much to fill."""

    plan: JobPlan
    cart: Cart
    cart_words: str
    one: Planned | None = None
    why: str = ""
    dip: Dip | None = None

    @property
    def has_fill(self) -> bool:
        """Without a road fill nobody is told litres for a public road, nor what hangs on them."""
        return self.one is not None and self.one.tank.may_go

    @property
    def cautions(self) -> tuple[str, ...]:
        if self.one is None:
            return ()
        no_dip = NO_DIP if self.has_fill and self.dip is None else ""
        return tuple(one for one in (self.one.tank.caution, no_dip, *self.one.plan.warnings) if one)

    @property
    def facts(self) -> list[Fact]:
        """Key values for a phone, what is set at the water first."""
        if self.one is None:
            return []
        driver, row = self.one.plan.row.driver, self.one.plan.row
        lays = f"lays {driver.rate_l_m2:.2f} L/m² over {row.width_m:g} m"
        heads: list[Fact] = [("Heads open", self.one.opening.name)] if self.one.others else []
        at_work: list[Fact] = [
            *heads, ("Gear", f"{driver.gear} at {driver.rpm:,.0f} rpm"), ("Speed", f"{driver.speed_km_h:.1f} km/h", lays)
        ]  # fmt: skip
        if not self.has_fill:
            return at_work
        round_ = ("Round", self.one.back, f"a load lasts {row.metres_per_load:,.0f} m")
        return [*self._at_the_water(self.one), *at_work, round_]

    def _at_the_water(self, one: Planned) -> list[Fact]:
        full = "the full tank" if one.tank_l >= self.cart.tank_capacity_l else ""
        told: list[Fact] = [("In the tank", whole(one.tank_l, "L"), full)]
        if self.dip is not None:
            sight = f"{self.dip.sight_mm:,} mm on the sight tube" if self.dip.sight_mm is not None else ""
            told.append(("Dip", f"{self.dip.down_mm:,} mm down from the lid", sight))
        return told

    @property
    def workings(self) -> list[Working]:
        """None of what hangs on litres that nobody is told."""
        if self.one is None:
            return []
        if not self.has_fill:
            return [self.one.lays]
        if self.dip is None:
            return list(self.one.workings)
        return [_dip_working(self.one, self.dip), *self.one.workings]


def _dip_working(one: Planned, dip: Dip) -> Working:
    return Working(
        "Dip", f"{dip.down_mm:,} mm down", [("In the tank", whole(one.tank_l, "L"))],
        "The depth of so many litres in this tank as it was measured, on level ground, from the mark at the lid; rounded up, so "
        "never more water than reckoned.",
        "Sections 7.1 and 7.2 (VERIFIED-S), or the tank’s own table.",
    )  # fmt: skip


def plans_on(line: Line) -> list[JobPlan]:
    """The plans of a hire, also of the carts that were swapped on it; the newest first."""
    lines = [line, *(swap.line for swap in swaps_before(line))]
    return list(JobPlan.objects.of_lines(lines).select_related("line__cart", "pencil__cart", "planned_by"))


def told_of(line: Line, *, plans: list[JobPlan] | None = None, on: date) -> Told | None:
    """The newest plan of a hire by the cart that goes, with its figures of that day; None without a plan, or once it is over."""
    if line.back_at is not None or line.cancelled_at is not None:
        return None
    plan = next(iter(plans_on(line) if plans is None else plans), None)
    if plan is None:
        return None
    cart = line.cart
    words, form = _cart_words(plan, cart), JobForm(QueryDict(plan.question))
    if not form.is_valid():
        return Told(plan, cart, words, why=NOT_READ)
    job, by_road, rules = form.job(), form.cleaned_data["by_road"], line.agreement.rule_set
    found = ranked(job, [cart], by_road=by_road, on=on, rule_set=rules)
    if not found and job.heads:
        # The plan was made for other heads. What this cart does with its first is better told than nothing.
        why = " ".join(none.why for none in found.left)
        found = ranked(replace(job, heads=""), [cart], by_road=by_road, on=on, rule_set=rules)
        words = f"{words} {why}".strip()
    if not found:
        return Told(plan, cart, words, why=" ".join(none.why for none in found.left))
    [one] = found.first(1)
    return Told(plan, cart, words, one, dip=dip_at(cart, one.tank_l, on=on) if one.tank.may_go else None)


def _cart_words(plan: JobPlan, cart: Cart) -> str:
    if plan.cart is None:
        return f"Planned before the cart was chosen; these are the figures of {cart.fleet_number}."
    if plan.cart.pk == cart.pk:
        return ""
    return f"Planned for {plan.cart.fleet_number}, but {cart.fleet_number} goes: these are the figures of {cart.fleet_number}."
