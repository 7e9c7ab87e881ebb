"""One tyre and the list of them, read for their pages: what was read, against what, and what its wear comes to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any
from uuid import UUID

from django.db.models import F, OuterRef, QuerySet, Subquery
from django.shortcuts import get_object_or_404
from django.urls import reverse

from fleet.models.wheels import TreadReading, TyreFitting
from fleet.sentences import source_words
from fleet.tread_limits import TreadLimit
from people.templatetags.screen import clock_words, day_year, quantity
from people.yard import yard_day, yard_policy
from servicing.duals import TwinTyre, judge_pair, pair_words
from servicing.models.tyres import FleetWear, TyreForecast
from servicing.tyre_cost import cost_per_1000_km
from servicing.tyre_limits import limits_at
from servicing.wheel_due import OLDEST_YEARS, too_old_on

Fact = tuple[str, str] | tuple[str, str, str]
NO_FORECAST = "not known"
LAST_READ = TreadReading.objects.filter(fitting=OuterRef("pk")).order_by("-read_at")
FORECAST_RULE = (
    "A straight line through the depths over the odometer: the median slope of every pair of readings, so that one bad reading "
    "bends nothing. The least groove of a day counts. Few readings lean on what the yard’s other tyres of that axle and work do."
)
FORECAST_SOURCE = (
    "Theil and Sen’s line; limits as beside each. Gauge error, the spread of 9 in 10 and the weight of the fleet are common "
    "practice, no source."
)  # fmt: skip
FORECAST_CAUTION = (
    "It knows nothing of cuts, bulges, pressure or the work to come. Measure again before you rely on it: the tyre maker, road "
    "law, site rules and the tyre fitter stand over it."
)  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """One believed depth of a tyre; is_least marks the smallest, which is the one that counts for its replacement."""

    depth: str
    read_words: str
    is_least: bool


@dataclass(frozen=True)
class ForecastShown:
    """A stored forecast for its page: the figure large, the inputs under it, how sure in a sentence, the picture in words."""

    figure: str
    inputs: list[Fact]
    spread: str
    alt: str
    has_picture: bool


@dataclass(frozen=True)
class TyreRow:
    """One line of the list."""

    fitting: TyreFitting
    day_words: str
    spread_words: str
    depth_words: str
    wear_words: str
    is_past: bool


def fitted_tyres() -> QuerySet[TyreFitting]:
    """Every tyre on a cart with its forecast, the first to be changed out first, in one query."""
    return (
        TyreFitting.objects.filter(period__upper_inf=True, wheel_position__cart__retired_on=None)
        .select_related("tyre", "wheel_position__cart", "forecast")
        .order_by(F("forecast__on_change_out").asc(nulls_last=True), F("forecast__km_change_out").asc(nulls_last=True), "pk")
    )  # fmt: skip


def forecast_of(fitting: TyreFitting) -> TyreForecast | None:
    found: TyreForecast | None = getattr(fitting, "forecast", None)
    return found


def _why_none(row: TyreForecast) -> str:
    """Why a forecast names no km, in a few words."""
    if row.last_read_at is None:
        return "never measured"
    if row.last_km is None:
        return "km not read"
    if row.wear_mm_per_1000_km is None:
        return "too few readings"
    return "no wear seen" if row.wear_mm_per_1000_km <= 0 else NO_FORECAST


def _days(low: date | None, high: date | None) -> str:
    if low is None:
        return ""
    return f"{day_year(low)} to {day_year(high)}" if high is not None else f"from {day_year(low)}, no end"


def _km(row: TyreForecast, kind: str) -> str:
    low, high = getattr(row, f"km_{kind}_low"), getattr(row, f"km_{kind}_high")
    end = quantity(high, "km") if high is not None else "no end"
    return f"{quantity(low, 'km')} to {end}" if low is not None else ""


def tyre_rows(fittings: Iterable[TyreFitting], *, on: date) -> list[TyreRow]:
    rows = []
    for fitting in fittings:
        row = forecast_of(fitting)
        if row is None:
            rows.append(TyreRow(fitting, "not worked out yet", "", "", "", is_past=False))
            continue
        day = row.on_change_out
        at_km = "" if row.km_change_out is None else f"at {quantity(row.km_change_out, 'km')}"
        rows.append(
            TyreRow(
                fitting,
                day_year(day) if day else at_km or _why_none(row),
                _days(row.on_change_out_low, row.on_change_out_high) if day else "",
                "" if row.last_depth_mm is None else quantity(row.last_depth_mm, "mm"),
                "" if row.wear_mm_per_1000_km is None else f"{row.wear_mm_per_1000_km:.2f} mm",
                is_past=day is not None and day <= on,
            )
        )
    return rows


def _limit(label: str, limit: TreadLimit) -> Fact:
    return (
        label,
        quantity(limit.depth_mm, "mm"),
        f"{limit.as_written}, {limit.measured_where} ({source_words(limit.source)})",
    )


def _readings(fitting: TyreFitting) -> list[Reading]:
    found: list[TreadReading] = list(fitting.tread_readings.order_by("-read_at"))
    least = min((reading.depth_mm for reading in found), default=None)
    return [
        Reading(
            quantity(reading.depth_mm, "mm"),
            f"{day_year(reading.read_at)}, {clock_words(reading.read_at)}",
            reading.depth_mm == least,
        )
        for reading in found
    ]


def _fleet_fact(fleet: FleetWear | None, row: TyreForecast) -> Fact:
    if fleet is None:
        why = "its own readings stand alone" if row.basis == "readings" else "too few tyres measured yet"
        return ("The fleet’s wear", "not used", why)
    kind = "steer" if fleet.steers else "drive"
    where = {"road": " on road work", "site": " on site work"}.get(fleet.duty, "")
    return (
        "The fleet’s wear",
        f"{fleet.wear_mm_per_1000_km:.2f} ± {fleet.spread_mm_per_1000_km:.2f} mm per 1,000 km",
        f"median of {fleet.tyres_count} {kind} tyres{where}",
    )


def _inputs(row: TyreForecast) -> list[Fact]:
    last = "" if row.last_read_at is None else f"the last {day_year(row.last_read_at)}"
    wear = row.wear_mm_per_1000_km
    return [
        ("Depths read", str(row.readings_count), last),
        ("Odometer at the last", NO_FORECAST if row.last_km is None else quantity(row.last_km, "km")),
        ("Wear", NO_FORECAST if wear is None else f"{wear:.2f} mm per 1,000 km", row.get_basis_display()),
        _fleet_fact(row.fleet_wear, row),
        ("The cart runs", NO_FORECAST if row.km_per_day is None else f"{row.km_per_day:.0f} km a day", "over the last 60 days"),
        ("Change out at", quantity(row.change_out_mm, "mm"), _km(row, "change_out")),
        ("Legal", quantity(row.legal_mm, "mm"), _km(row, "legal")),
        ("Worked out", f"{day_year(row.made_at)}, {clock_words(row.made_at)}"),
    ]  # fmt: skip


def _spread(row: TyreForecast) -> str:
    if row.km_change_out is None:
        return {
            "never measured": "Nothing can be said before it is measured.",
            "km not read": "The cart’s odometer was not read about the time of the depths, so wear by the km is not known.",
            "too few readings": "Three depths at different km are wanted, or five other tyres of that axle to lean on.",
            "no wear seen": "By these readings it does not wear; a gauge may have read too deep. Measure it again.",
        }.get(_why_none(row), "")
    if row.km_change_out_high is None:
        return (
            "By the spread it need not wear down at all: the readings are too few or too close to say when."
        )
    days = _days(row.on_change_out_low, row.on_change_out_high)
    return f"9 in 10 such spreads hold the day: {_km(row, 'change_out')}" + (f", {days}." if days else ".")


def _figure(row: TyreForecast) -> str:
    if row.on_change_out is not None:
        return f"about {day_year(row.on_change_out)}"
    return _why_none(row) if row.km_change_out is None else f"at {quantity(row.km_change_out, 'km')}"


def _shown(row: TyreForecast) -> ForecastShown:
    wear = row.wear_mm_per_1000_km
    alt = f"Depth over km, {row.readings_count} readings. " + (
        f"Last {quantity(row.last_depth_mm, 'mm')} at {quantity(row.last_km, 'km')}. " if row.last_km is not None else ""
    )  # fmt: skip
    if row.km_change_out is not None and wear is not None:
        alt += (
            f"It wears {wear:.2f} mm per 1,000 km and is down to {quantity(row.change_out_mm, 'mm')} at "
            f"{quantity(row.km_change_out, 'km')}, {_km(row, 'change_out')}."
        )
    return ForecastShown(_figure(row), _inputs(row), _spread(row), alt, has_picture=row.last_km is not None)


def _cost(fitting: TyreFitting, row: TyreForecast | None) -> list[Fact]:
    cost = fitting.tyre.cost
    if cost is None:
        return [("Cost", NO_FORECAST)]
    facts: list[Fact] = [("Cost", f"{cost:,.2f}", "without tax")]
    if row is None or row.wear_mm_per_1000_km is None:
        return facts
    each = cost_per_1000_km(
        cost=cost,
        new_depth_mm=fitting.tyre.new_depth_mm,
        change_out_mm=row.change_out_mm,
        wear_mm_per_1000_km=row.wear_mm_per_1000_km,
    )
    if each is None:
        return facts
    cents = each.quantize(Decimal("0.01"), ROUND_HALF_UP)
    return [*facts, ("Cost per 1,000 km", f"{cents:,.2f}", "if it wears so from new to its change-out depth")]


def pair_said(fitting: TyreFitting) -> str:
    """What is not alike about the tyre just fitted and the one beside it on its hub, in sentences; "" when nothing is."""
    place = fitting.wheel_position
    if place.place == "single":
        return ""
    pair = list(
        TyreFitting.objects.filter(
            wheel_position__cart=place.cart_id,
            wheel_position__axle=place.axle,
            wheel_position__side=place.side,
            period__upper_inf=True,
        )
        .select_related("tyre")
        .annotate(depth_mm=Subquery(LAST_READ.values("depth_mm")[:1]))
    )
    if len(pair) != 2:
        return ""
    one, other = (
        TwinTyre(None if each.depth_mm is None else float(each.depth_mm), each.tyre.size, each.tyre.make)
        for each in pair
    )
    return pair_words(judge_pair(one, other, rule_set=yard_policy().rule_set))


def tyre_page(fitting_id: UUID, *, at: datetime) -> dict[str, Any]:
    """A tyre in its place with its depths against the limits there, and what its wear comes to. Http404."""
    found = TyreFitting.objects.select_related("tyre", "wheel_position__cart", "forecast__fleet_wear")
    fitting = get_object_or_404(found, pk=fitting_id)
    position, tyre, row = fitting.wheel_position, fitting.tyre, forecast_of(fitting)
    fitted, off, (change_out, legal) = (
        fitting.period.lower,
        fitting.period.upper,
        limits_at(steers=fitting.wheel_position.steers),
    )
    is_old = bool(tyre.made_on and position.steers and too_old_on(tyre.made_on) <= yard_day(at))
    return {
        "page_title": f"Tyre at {position.words}",
        "fitting": fitting,
        "cart": position.cart,
        "facts": [
            ("Place", f"{position.code}, {position.words}"),
            ("Tyre", f"{tyre.make} {tyre.size} {tyre.load_index}".strip(), tyre.serial),
            ("Made", day_year(tyre.made_on), f"over {OLDEST_YEARS} years old" if is_old else ""),
            ("Fitted", day_year(fitted), f"taken off {day_year(off)}" if off else ""),
            ("New depth", quantity(tyre.new_depth_mm, "mm")),
            _limit("Change out at", change_out),
            _limit("Legal", legal),
            *_cost(fitting, row),
        ],
        "readings": _readings(fitting),
        "forecast": _shown(row) if row and off is None else None,
        "pair_words": row.pair_words if row and off is None else "",
        "is_old": is_old,
        "rule": FORECAST_RULE,
        "source": FORECAST_SOURCE,
        "caution": FORECAST_CAUTION,
        "plot_url": reverse("servicing:tyre_wear", args=[fitting.pk]),
    }


TYRE_HEAD = (
    "Cart", "Place", "Tyre", "Last depth, mm", "Last read", "Wear in 1,000 km, mm", "Rests on", "Change out on",
    "Earliest", "Latest", "Change out at, km", "Legal at, km",
)  # fmt: skip


def tyre_table(fittings: Iterable[TyreFitting]) -> Iterator[tuple[object, ...]]:
    """Every tyre with its stored forecast, for a file."""
    for fitting in fittings:
        row, place = forecast_of(fitting), fitting.wheel_position
        known = (place.cart.fleet_number, place.words, str(fitting.tyre))
        if row is None:
            yield (*known, *[None] * (len(TYRE_HEAD) - len(known)))
            continue
        yield (
            *known, row.last_depth_mm, row.last_read_at, row.wear_mm_per_1000_km, row.get_basis_display(), row.on_change_out,
            row.on_change_out_low, row.on_change_out_high, row.km_change_out, row.km_legal,
        )  # fmt: skip
