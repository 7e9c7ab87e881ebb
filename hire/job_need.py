"""How often a day a dust target wants the road watered, and the litres, loads and carts of it, over the ranges of what goes in. It
rests on MEMORY: for the yard alone, who decides the times a day and plans with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from fleet.spray_page import Working
from fleet.water.dust_job import JobNeed, Range, job_need
from fleet.water.job_plan import Ends, Job, spread
from fleet.water.measured import plain
from hire.job_forms import FROM_MEMORY, MOST_PASSES, StaffJobForm
from hire.job_page import Planned


@dataclass(frozen=True)
class Wanted:
    """passes: the times a day to plan with, where they are others than those planned; caution: a sentence where no day has room for
    them."""

    working: Working
    passes: int | None
    caution: str = ""


def wanted_of(form: StaffJobForm, job: Job, made: Sequence[Planned]) -> Wanted | None:
    """What a dust target wants of the first of the carts. None where it was not asked, or no cart does the job."""
    if not form.is_by_dust or not made:
        return None
    [one, *_] = made
    typed = form.cleaned_data
    weather = typed["weather_pct"] or 0
    evaporation = _range(spread(typed["evaporation_mm_h"], pct=weather, what="The evaporation"))
    traffic = _range(spread(typed["vehicles_per_h"], pct=weather, what="The traffic"))
    need = job_need(
        area_m2=_range(job.area_m2), evaporation_mm_h=evaporation, vehicles_per_h=traffic, cycle_min=_round(one),
        target_control_pct=float(typed["target_control_pct"]), application_l_m2=one.plan.rate_l_m2,
        load_l=one.plan.load_l, hours_a_day=job.hours_a_day,
    )  # fmt: skip
    passes = need.likely.passes
    caution = ""
    if passes > MOST_PASSES:
        caution = f"That much dust kept down wants {plain(passes)} passes a day: no watering does it. Lay more, or aim lower."
    is_news = passes != job.passes and not caution
    weather_given = (_given(evaporation, "mm/h"), _given(traffic, "an hour"))
    working = _working(typed["target_control_pct"], job.passes, one, need, weather_given)
    return Wanted(working, passes if is_news else None, caution)


def _range(ends: Ends) -> Range:
    return Range(ends.low, ends.likely, ends.high)


def _round(one: Planned) -> Range:
    low, likely, high = (day.cycle.cycle_min for day in (one.plan.low, one.plan.likely, one.plan.high))
    return Range(low, likely, high)


def _over(need: JobNeed, what: str, form: str = ",.0f") -> str:
    """4 (3 to 6), or 4 alone where the ends are the same."""
    low, likely, high = sorted(float(getattr(each, what)) for each in (need.low, need.likely, need.high))
    return f"{likely:{form}}" if low == high else f"{likely:{form}} ({low:{form}} to {high:{form}})"


def _given(each: Range, unit: str) -> str:
    return (
        f"{each.likely:g} {unit}"
        if each.low == each.high
        else f"{each.likely:g} {unit} ({each.low:g} to {each.high:g})"
    )


def _working(target: Decimal, planned: int, one: Planned, need: JobNeed, given: tuple[str, str]) -> Working:
    evaporation, traffic = given
    return Working(
        f"Times a day for {target:f} % ({FROM_MEMORY})", _over(need, "passes"),
        [
            ("Planned are", str(planned)), ("Evaporation", evaporation),
            ("Traffic", traffic), (f"{one.plan.name} lays", f"{one.plan.rate_l_m2:.2f} L/m²"),
            ("Longest between passes", f"{_over(need, 'hours_between', '.2f')} h", FROM_MEMORY),
            ("Litres a day", f"{_over(need, 'litres')} L"), ("Loads a day", _over(need, "loads")),
            ("Carts", _over(need, "carts")),
        ],
        "Longest hours = (100 − control) × rate ÷ (0.8 × evaporation × traffic); passes fill the day, rounded up; then as the plan "
        "counts. The low takes area, traffic, evaporation and round at their least, the high at their most. For the yard alone.",
        f"WE-12, COMPUTED from WE-01, which is MEMORY: {FROM_MEMORY}.",
    )  # fmt: skip
