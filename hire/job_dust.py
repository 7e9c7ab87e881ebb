"""The dust of a job's road as pages show it: the emission from silt, what watering keeps down, and how long one may wait between
passes. What rests on MEMORY is in hire.job_need, for the yard alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from fleet.spray_page import Working
from fleet.water import dust
from fleet.water.dust_job import emission_kg_a_day
from fleet.water.job_plan import Ends, Job, spread
from fleet.water.spraying import whole_up
from hire.dust_forms import PUBLIC
from hire.job_forms import MOST_PASSES, JobForm
from hire.job_page import Planned

L_M2_PER_GAL_YD2 = 3.785411784 / 0.83612736
MM_PER_INCH = 25.4
KM_PER_MILE = 1.609344
SIZES: tuple[tuple[dust.Size, str], ...] = (
    ("pm30", "All that floats (PM30)"),
    ("pm10", "PM10"),
    ("pm2.5", "PM2.5"),
)
NO_MEASUREMENT = "It compares ways of watering and is no measurement of one road on one day."


@dataclass(frozen=True)
class Dust:
    """cautions: what has to be read before any of the figures, a sentence each. passes: the times a day that a district's form
    wants for the target, where they are others than those planned and a day has room for them."""

    workings: Sequence[Working]
    cautions: Sequence[str]
    passes: int | None = None


def dust_of(form: JobForm, job: Job, made: Sequence[Planned]) -> Dust:
    """All that may be said to everybody, the customer too; what was not asked for is left out."""
    typed = {
        name: None if value is None else float(value)
        for name, value in form.cleaned_data.items()
        if name in DUST_INPUTS
    }
    found: list[Working] = []
    cautions: tuple[str, ...] = ()
    control = wanted = None
    if made and typed["vehicles_per_h"] is not None and typed["pan_mm"] is not None:
        control = _control(typed, job, made[0])
        found.append(_kept_down(typed, job, made[0], control))
        if typed["target_control_pct"] is not None:
            hours, wanted = _hours_between(typed, job, made[0])
            found.append(_between(typed, job, made[0], hours, wanted))
    if typed["target_control_pct"] is not None:
        found += _moisture(typed)
    if typed["silt_pct"] is not None:
        road = _road(form.cleaned_data["road_kind"], typed)
        cautions = road.cautions
        found += [_emission(road, typed), *_a_day(typed, job, road, control)]
    is_news = wanted is not None and wanted != job.passes and wanted <= MOST_PASSES
    return Dust(found, cautions, wanted if is_news else None)


DUST_INPUTS = (
    "vehicles_per_h", "pan_mm", "target_control_pct", "silt_pct", "silt_more_pct", "mean_mass_t", "mean_km_h", "mean_wheels",
    "moisture_pct", "length_m", "wet_days",
)  # fmt: skip
Typed = dict[str, Any]


def _control(typed: Typed, job: Job, one: Planned) -> float:
    return dust.district_control_pct(
        pan_in_a_year=typed["pan_mm"] / MM_PER_INCH, vehicles_per_h=typed["vehicles_per_h"],
        hours_between=job.hours_a_day / job.passes, application_gal_yd2=one.plan.rate_l_m2 / L_M2_PER_GAL_YD2,
    )  # fmt: skip


def _by_the_district(typed: Typed, one: Planned) -> list[tuple[str, str] | tuple[str, str, str]]:
    plan = one.plan
    return [
        ("Evaporation a year", f"{typed['pan_mm'] / MM_PER_INCH:.1f} in", f"{typed['pan_mm']:g} mm"),
        ("Traffic", f"{typed['vehicles_per_h']:g} an hour"),
        (f"{plan.name} lays", f"{plan.rate_l_m2 / L_M2_PER_GAL_YD2:.3f} US gal/yd²", f"{plan.rate_l_m2:.2f} L/m²"),
    ]  # fmt: skip


def _kept_down(typed: Typed, job: Job, one: Planned, control: float) -> Working:
    """What a US district's form says the passes keep down with what the first of the carts really lays."""
    said = " ".join(dust.watering_warnings(control_pct=control))
    return Working(
        "Dust kept down, about", f"{control:.0f} %",
        [*_by_the_district(typed, one), ("Between passes", f"{job.hours_a_day / job.passes:.1f} h")],
        f"100 − 0.0012 × evaporation × traffic × hours ÷ rate, never below 0. {said} {NO_MEASUREMENT}",
        "WE-03 (VERIFIED-R), a US district’s form in its own units.",
    )  # fmt: skip


def _hours_between(typed: Typed, job: Job, one: Planned) -> tuple[float, int]:
    """The longest hours between passes by the district's form, and the whole passes that fill the day."""
    hours = dust.district_hours_between(
        target_control_pct=typed["target_control_pct"], pan_in_a_year=typed["pan_mm"] / MM_PER_INCH,
        vehicles_per_h=typed["vehicles_per_h"], application_gal_yd2=one.plan.rate_l_m2 / L_M2_PER_GAL_YD2,
    )  # fmt: skip
    return hours, max(whole_up(job.hours_a_day / hours), 1)


def _between(typed: Typed, job: Job, one: Planned, hours: float, passes: int) -> Working:
    target = typed["target_control_pct"]
    return Working(
        f"Longest between passes for {target:g} %", f"{hours:.1f} h",
        [*_by_the_district(typed, one), ("In a day", f"{passes:,} times", f"planned are {job.passes}")],
        f"(100 − control) × rate ÷ (0.0012 × evaporation × traffic). {NO_MEASUREMENT}",
        "WE-03 (VERIFIED-R) turned round: COMPUTED.",
    )  # fmt: skip


def _moisture(typed: Typed) -> list[Working]:
    """How wet the surface has to be kept; none over 95 %, where the published figure ends."""
    target, dry = typed["target_control_pct"], typed["moisture_pct"]
    if target > dust.MOST_BY_MOISTURE_PCT:
        return []
    ratio = dust.moisture_ratio_for(control_pct=target)
    wet = [] if dry is None else [("Wet surface", f"{ratio * dry:.1f} % moisture", f"{dry:g} % dry")]
    return [
        Working(
            f"How wet to keep it for {target:g} %", f"{ratio:.2f} times as moist as dry",
            [("Dust to keep down", f"{target:g} %"), *wet],
            "0 % to a ratio of 1, 75 % at 2, 95 % from 5 on, straight between.",
            "ME-01 to ME-04 (VERIFIED-R) turned round: COMPUTED.",
        )
    ]  # fmt: skip


@dataclass(frozen=True)
class _Road:
    """g a vehicle kilometre of each size by the equation that is the road's."""

    g_per_vkt: dict[dust.Size, Ends]
    # Of all that floats, the mean over a year with so many days of rain.
    year: Ends | None
    inputs: Sequence[tuple[str, str] | tuple[str, str, str]]
    rule: str
    source: str
    cautions: tuple[str, ...]


def _road(kind: str, typed: Typed) -> _Road:
    silt = spread(typed["silt_pct"], pct=typed["silt_more_pct"] or 0, what="The silt")
    silt = Ends(silt.low, silt.likely, min(silt.high, 100))
    inputs: list[tuple[str, str] | tuple[str, str, str]] = [
        ("Silt", f"{silt.likely:g} %", "" if silt.low == silt.high else f"{silt.low:g} to {silt.high:g} %")
    ]
    return (_by_1b if kind == PUBLIC else _by_1a)(silt, typed, inputs)


def _by_1a(silt: Ends, typed: Typed, inputs: list[tuple[str, str] | tuple[str, str, str]]) -> _Road:
    tons, mph = typed["mean_mass_t"] / dust.T_PER_SHORT_TON, _mph(typed)
    inputs.append(("Mean mass", f"{tons:.1f} short tons", f"{typed['mean_mass_t']:g} t"))

    def lb_per_vmt(pct: float, size: dust.Size) -> float:
        return dust.unpaved_industrial_lb_per_vmt(silt_pct=pct, mean_weight_short_tons=tons, size=size)

    return _Road(
        _each(silt, lb_per_vmt),
        _year(silt, typed, lb_per_vmt),
        inputs,
        "k × (silt ÷ 12)^a × (mean mass ÷ 3)^b in lb a vehicle mile, × 281.9 for g a vehicle kilometre." + _not_judged(typed),
        "Equation 1a: AP-01 to AP-03, AP-11 (VERIFIED-R).",
        _at_both_ends(silt, lambda pct: dust.out_of_range(
            silt_pct=pct, mean_weight_short_tons=tons, speed_mph=mph, wheels=typed["mean_wheels"],
            moisture_pct=typed["moisture_pct"],
        )),
    )  # fmt: skip


def _not_judged(typed: Typed) -> str:
    """What of equation 1a's range nobody can tell, since it was not given."""
    given = {"speed": "mean_km_h", "wheels": "mean_wheels", "moisture": "moisture_pct"}
    missing = [what for what, name in given.items() if typed[name] is None]
    return f" Not held to the equation’s range, since not given: {', '.join(missing)}." if missing else ""


def _by_1b(silt: Ends, typed: Typed, inputs: list[tuple[str, str] | tuple[str, str, str]]) -> _Road:
    mph, moisture = _mph(typed), typed["moisture_pct"]
    inputs += [
        ("Mean speed", f"{mph:.1f} mph", f"{typed['mean_km_h']:g} km/h"),
        ("Moisture", f"{moisture:g} %"),
    ]

    def lb_per_vmt(pct: float, size: dust.Size) -> float:
        return dust.unpaved_public_lb_per_vmt(
            silt_pct=pct, mean_speed_mph=mph or 0, moisture_pct=moisture, size=size
        )

    return _Road(
        _each(silt, lb_per_vmt),
        _year(silt, typed, lb_per_vmt),
        inputs,
        "k × (silt ÷ 12)^a × (speed ÷ 30)^d ÷ (moisture ÷ 0.5)^c − C in lb a vehicle mile, × 281.9 for g a vehicle kilometre.",
        "Equation 1b: AP-04 to AP-06, AP-10, AP-11 (VERIFIED-R).",
        _at_both_ends(silt, lambda pct: dust.public_out_of_range(silt_pct=pct, mean_speed_mph=mph, moisture_pct=moisture)),
    )  # fmt: skip


def _mph(typed: Typed) -> float | None:
    return None if typed["mean_km_h"] is None else typed["mean_km_h"] / KM_PER_MILE


def _each(silt: Ends, lb_per_vmt: Callable[[float, dust.Size], float]) -> dict[dust.Size, Ends]:
    """The dust rises with the silt, so its ends are at the silt's."""
    return {
        size: Ends(*(dust.g_per_vkt(lb_per_vmt(pct, size)) for pct in (silt.low, silt.likely, silt.high)))
        for size, _ in SIZES
    }


def _year(silt: Ends, typed: Typed, lb_per_vmt: Callable[[float, dust.Size], float]) -> Ends | None:
    """The mean over a year; none where nobody said how many days it rains."""
    days = typed["wet_days"]
    if days is None:
        return None
    of_the_year = _each(
        silt, lambda pct, size: dust.with_wet_days(lb_per_vmt=lb_per_vmt(pct, size), wet_days=days)
    )
    return of_the_year["pm30"]


def _at_both_ends(silt: Ends, told: Callable[[float], tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(sentence for pct in (silt.low, silt.likely, silt.high) for sentence in told(pct))
    )


def _words(ends: Ends, unit: str) -> str:
    likely = f"{ends.likely:,.0f} {unit}"
    return likely if ends.low == ends.high else f"{likely} ({ends.low:,.0f} to {ends.high:,.0f})"


def _emission(road: _Road, typed: Typed) -> Working:
    sizes = [(words, _words(road.g_per_vkt[size], "g")) for size, words in SIZES]
    year, rule, source = [], "", ""
    if road.year is not None:
        year = [("Mean over a year", _words(road.year, "g"), f"{typed['wet_days']:.0f} days with rain")]
        rule, source = "Over a year × (365 − days with rain) ÷ 365. ", " Equation 2: AP-15 (VERIFIED-R)."
    return Working(
        "Dust of the dry road, a vehicle kilometre", _words(road.g_per_vkt["pm30"], "g"), [*road.inputs, *sizes, *year],
        f"{road.rule} {rule}The low and the high are those of the silt. Not for roads treated with chemicals (AP-17). "
        f"{' '.join(road.cautions)} {NO_MEASUREMENT}", road.source + source,
    )  # fmt: skip


def _a_day(typed: Typed, job: Job, road: _Road, control: float | None) -> list[Working]:
    """Kilograms a day of all that floats, and what is left of them; none without traffic and a length."""
    if typed["vehicles_per_h"] is None or typed["length_m"] is None:
        return []
    km = typed["vehicles_per_h"] * job.hours_a_day * typed["length_m"] / 1000
    g = road.g_per_vkt["pm30"]

    def kg(control_pct: float) -> Ends:
        return Ends(*(
            emission_kg_a_day(g_per_vkt=each, vehicle_km_a_day=km, control_pct=control_pct) for each in (g.low, g.likely, g.high)
        ))  # fmt: skip

    left = (
        []
        if control is None
        else [("Left with these passes", _words(kg(control), "kg"), f"{control:.0f} % kept down")]
    )
    return [
        Working(
            "Dust of the dry road, a day", _words(kg(0), "kg"),
            [("Vehicle kilometres", f"{km:,.0f} km", f"in {job.hours_a_day:g} h"), *left],
            "Grams a vehicle kilometre × vehicle kilometres a day, all that floats (PM30).",
            road.source + (" What is left: WE-03 (VERIFIED-R)." if left else ""),
        )
    ]  # fmt: skip
