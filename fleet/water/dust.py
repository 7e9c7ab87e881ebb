"""Dust of an unpaved road, and how much of it water keeps down.

The equations are those of a US handbook for inventories: good for comparing one way of watering with another, never a
measurement of one road on one day. Outside the ranges they were made for, `out_of_range` and its like say so beside the
figure. Sizes are "pm2.5", "pm10" and "pm30" (all that floats). docs/dust.md has tables, sources and tags. Silica and what
else is in the dust is another matter: a licensed hygienist measures that.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, get_args

from fleet.water.measured import Number, above_zero, not_below_zero, outside, within

Size = Literal["pm2.5", "pm10", "pm30"]
# AP-01 to AP-03, VERIFIED-R: k in lb a vehicle mile, a, b.
INDUSTRIAL: dict[Size, tuple[float, float, float]] = {
    "pm2.5": (0.15, 0.9, 0.45),
    "pm10": (1.5, 0.9, 0.45),
    "pm30": (4.9, 0.7, 0.45),
}
# AP-04 to AP-06, VERIFIED-R: k, a, c, d, and C for exhaust, brakes and tyres.
PUBLIC: dict[Size, tuple[float, float, float, float, float]] = {
    "pm2.5": (0.18, 1, 0.2, 0.5, 0.00036),
    "pm10": (1.8, 1, 0.2, 0.5, 0.00047),
    "pm30": (6.0, 1, 0.3, 0.3, 0.00047),
}
# AP-11, VERIFIED-R: the handbook's own, where the exact figure is 281.849.
G_PER_VKT = 281.9
T_PER_SHORT_TON = 0.90718474
MOST_BY_MOISTURE_PCT = 95.0
# WE-01, MEMORY, tied by WE-04 to WE-03 (VERIFIED-R).
METRIC_FACTOR = 0.8
# WE-03, VERIFIED-R; a scan prints .00012, with which the document's own check fails.
DISTRICT_FACTOR = 0.0012
# WE-02, MEMORY: mm/h from a year's inches of pan evaporation.
PAN_MEAN, PAN_WORST = 0.0049, 0.0065


def unpaved_industrial_lb_per_vmt(*, silt_pct: Number, mean_weight_short_tons: Number, size: Size) -> float:
    """The lb of dust a vehicle mile on an industrial road: k (s/12)^a (W/3)^b (equation 1a, AP-01 to AP-03, VERIFIED-R).

    The weight is the mean of all vehicles on the road in short tons (2,000 lb), one equation for all (AP-14). ValueError for
    another size, a silt below zero or over 100, or a weight of zero or less.
    """
    k, a, b = INDUSTRIAL[_size(size)]
    silt = within(silt_pct, 0, 100, "The silt", "%")
    return float(k * (silt / 12) ** a * (above_zero(mean_weight_short_tons, "The mean weight") / 3) ** b)


def out_of_range(
    *,
    silt_pct: Number | None = None,
    mean_weight_short_tons: Number | None = None,
    speed_mph: Number | None = None,
    wheels: Number | None = None,
    moisture_pct: Number | None = None,
) -> tuple[str, ...]:
    """Sentences for what lies outside equation 1a's ranges (AP-12, VERIFIED-R); what isn't given isn't judged."""
    return (
        *outside(silt_pct, 1.8, 25.2, "A silt", "%"),
        *outside(mean_weight_short_tons, 2, 290, "A mean weight", "short tons"),
        *outside(speed_mph, 5, 43, "A mean speed", "mph"),
        *outside(wheels, 4, 17, "A mean number", "wheels"),
        *outside(moisture_pct, 0.03, 13, "A surface moisture", "%"),
    )


def unpaved_public_lb_per_vmt(
    *, silt_pct: Number, mean_speed_mph: Number, moisture_pct: Number, size: Size
) -> float:
    """The lb of dust a vehicle mile on a public road of mostly light vehicles: k (s/12)^a (S/30)^d / (M/0.5)^c - C
    (equation 1b, AP-10, AP-04 to AP-06, VERIFIED-R). Never below zero.

    ValueError for another size, a silt outside 0..100, a speed below zero, or a moisture of zero or less.
    """
    k, a, c, d, rest = PUBLIC[_size(size)]
    silt = within(silt_pct, 0, 100, "The silt", "%") / 12
    speed = not_below_zero(mean_speed_mph, "The mean speed") / 30
    moisture = above_zero(moisture_pct, "The surface moisture") / 0.5
    return float(max(k * silt**a * speed**d / moisture**c - rest, 0.0))


def public_out_of_range(
    *,
    silt_pct: Number | None = None,
    mean_speed_mph: Number | None = None,
    moisture_pct: Number | None = None,
) -> tuple[str, ...]:
    """Sentences for what lies outside equation 1b's ranges (AP-13, VERIFIED-R)."""
    return (
        *outside(silt_pct, 1.8, 35, "A silt", "%"),
        *outside(mean_speed_mph, 10, 55, "A mean speed", "mph"),
        *outside(moisture_pct, 0.03, 13, "A surface moisture", "%"),
    )


def mean_weight_short_tons(vehicles: Sequence[tuple[Number, Number]]) -> float:
    """The mean weight on a road: (passes, short tons) of each kind (AP-14, VERIFIED-R). ValueError without a pass, or a
    weight of zero or less."""
    passes = [not_below_zero(count, "The passes") for count, _ in vehicles]
    weights = [above_zero(weight, "A weight") for _, weight in vehicles]
    every = above_zero(sum(passes), "The passes of all vehicles")
    return sum(count * weight for count, weight in zip(passes, weights, strict=True)) / every


def g_per_vkt(lb_per_vmt: Number) -> float:
    """Grams a vehicle kilometre (AP-11, VERIFIED-R). ValueError below zero."""
    return not_below_zero(lb_per_vmt, "The dust") * G_PER_VKT


def with_wet_days(*, lb_per_vmt: Number, wet_days: Number) -> float:
    """The year's mean of an emission with so many days of at least 0.254 mm of rain, of 365 (equation 2, AP-15, VERIFIED-R).
    ValueError below zero, or for days outside 0..365."""
    return (
        not_below_zero(lb_per_vmt, "The dust")
        * (365 - within(wet_days, 0, 365, "The wet days", "days"))
        / 365
    )


def moisture_control_pct(*, moisture_ratio: Number) -> float:
    """Per cent of dust kept down, by wet over dry surface moisture: 0 up to 1, 75 at 2, 95 from 5 on, straight between
    (ME-01 to ME-04, VERIFIED-R). ValueError below zero."""
    ratio = not_below_zero(moisture_ratio, "The moisture ratio")
    if ratio <= 2:
        return max(75 * (ratio - 1), 0.0)
    return min(75 + 20 / 3 * (ratio - 2), MOST_BY_MOISTURE_PCT)


def moisture_out_of_range(*, moisture_ratio: Number) -> tuple[str, ...]:
    """Sentences for a moisture ratio outside the figure's 1 to 5 (ME-01, ME-03, VERIFIED-R)."""
    return outside(moisture_ratio, 1, 5, "A moisture ratio")


def watering_control_pct(
    *, evaporation_mm_h: Number, vehicles_per_h: Number, hours_between: Number, application_l_m2: Number
) -> float:
    """Mean per cent of dust kept down between two passes: 100 - 0.8 p d t / i, never below 0 (WE-01, MEMORY, cross-checked by
    WE-04 and WE-03, VERIFIED-R; WE-11). ValueError for a rate of zero or less, or anything else below zero."""
    dried = METRIC_FACTOR * _drying(evaporation_mm_h, vehicles_per_h)
    dried *= not_below_zero(hours_between, "The hours between passes")
    return max(100 - dried / above_zero(application_l_m2, "The rate"), 0.0)


def watering_warnings(*, control_pct: Number) -> tuple[str, ...]:
    """The sentence for a control of 0 (WE-11, design). ValueError outside 0..100."""
    if within(control_pct, 0, 100, "The control", "%") > 0:
        return ()
    return ("The water will not last until the next pass: go round sooner, or lay more.",)


def hours_between_passes(
    *, target_control_pct: Number, evaporation_mm_h: Number, vehicles_per_h: Number, application_l_m2: Number
) -> float:
    """The longest interval in hours that still keeps the target control on the mean: (100 - C) i / (0.8 p d) (WE-12, COMPUTED
    from WE-01). ValueError for a target below 0 or of 100 and more, or any other of zero or less."""
    target = _under_all(target_control_pct)
    above_zero(evaporation_mm_h, "The evaporation")
    above_zero(vehicles_per_h, "The traffic")
    rate = above_zero(application_l_m2, "The rate")
    return (100 - target) * rate / (METRIC_FACTOR * _drying(evaporation_mm_h, vehicles_per_h))


def district_control_pct(
    *, pan_in_a_year: Number, vehicles_per_h: Number, hours_between: Number, application_gal_yd2: Number
) -> float:
    """The same in a US district's units: 100 - 0.0012 A D T / I, never below 0 (WE-03, VERIFIED-R). A is the year's
    evaporation from a class A pan in inches, I US gallons a square yard. ValueError as `watering_control_pct`."""
    dried = DISTRICT_FACTOR * _drying(pan_in_a_year, vehicles_per_h)
    dried *= not_below_zero(hours_between, "The hours between passes")
    return max(100 - dried / above_zero(application_gal_yd2, "The rate"), 0.0)


def district_hours_between(
    *, target_control_pct: Number, pan_in_a_year: Number, vehicles_per_h: Number, application_gal_yd2: Number
) -> float:
    """The longest interval in hours that still keeps the target control by the district's form: (100 - C) I / (0.0012 A D)
    (COMPUTED from WE-03, VERIFIED-R). ValueError as `hours_between_passes`."""
    target = _under_all(target_control_pct)
    above_zero(pan_in_a_year, "The evaporation")
    above_zero(vehicles_per_h, "The traffic")
    rate = above_zero(application_gal_yd2, "The rate")
    return (100 - target) * rate / (DISTRICT_FACTOR * _drying(pan_in_a_year, vehicles_per_h))


def moisture_ratio_for(*, control_pct: Number) -> float:
    """The least wet over dry surface moisture that keeps so much down: `moisture_control_pct` the other way about (ME-01 to
    ME-04, VERIFIED-R; COMPUTED). ValueError below 0 or over 95 %, where the figure ends."""
    control = within(control_pct, 0, MOST_BY_MOISTURE_PCT, "The control by moisture", "%")
    return 1 + control / 75 if control <= 75 else 2 + (control - 75) * 3 / 20


def evaporation_mm_h(*, pan_in_a_year: Number, worst: bool = False) -> float:
    """mm/h from the year's evaporation of a class A pan in inches: the year's mean by day, or its worst season (WE-02, MEMORY:
    not for a customer's eye until the source is read). ValueError below zero."""
    return not_below_zero(pan_in_a_year, "The evaporation") * (PAN_WORST if worst else PAN_MEAN)


def measured_control_pct(*, treated: Number, untreated: Number) -> float:
    """Per cent kept down by measurement of both: (1 - treated / untreated) x 100 (DC-01, VERIFIED-S); below 0 where the
    treated road was the dustier. ValueError for an untreated of zero or less, or a treated below zero."""
    return (
        1 - not_below_zero(treated, "The dust treated") / above_zero(untreated, "The dust untreated")
    ) * 100


def _under_all(target_control_pct: Number) -> float:
    target = within(target_control_pct, 0, 100, "The target control", "%")
    if target == 100:
        raise ValueError("No watering keeps down all dust: choose a target under 100 %.")
    return target


def _drying(evaporation: Number, vehicles_per_h: Number) -> float:
    return not_below_zero(evaporation, "The evaporation") * not_below_zero(vehicles_per_h, "The traffic")


def _size(size: Size) -> Size:
    if size not in get_args(Size):
        raise ValueError(f"The dust is of size pm2.5, pm10 or pm30, not “{size}”.")
    return size
