"""The stored forecast of every tyre on a cart, made in the worker from all readings at once; pages and readiness read rows."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import UUID

import numpy as np
from django.db import connection, transaction
from django.db.models import Q

from fleet.duty import duties
from fleet.meters import Period, per_calendar_day, usage_split
from fleet.models.wheels import TreadReading, TyreFitting
from people.yard import yard_day, yard_policy
from servicing.duals import TwinTyre, judge_pair, pair_words
from servicing.fleet_wear import KM_READ, KM_SPAN, Kind, TyreWear, keep_rates, kept_rates, rate_for, rates
from servicing.meters_now import hire_days
from servicing.models.tyres import FleetWear, TyreForecast
from servicing.odometer import Odometer, odometers
from servicing.tread_many import Floats, TreadForecasts, WearFits, fit_many, forecast_fits
from servicing.tyre_limits import limits_at

# Tyres taken off longer ago say little of today's work and rubber. Ours.
FLEET_MEMORY = timedelta(days=730)
# No day is named further off: by then the cart does other work.
FAR_DAYS = 3650
BATCH = 1000
# Any fixed number: a cart's tyres made again while the fleet's are made wait their turn.
FORECAST_LOCK = 7_245_311


@dataclass(frozen=True)
class Tyre:
    """A fitting with its readings in order of time, each with the km then where they are known."""

    fitting: TyreFitting
    is_on: bool
    depths: list[tuple[datetime, Decimal, float | None]]

    @property
    def with_km(self) -> list[tuple[float, float]]:
        return [(km, float(depth)) for _, depth, km in self.depths if km is not None]

    @property
    def steers(self) -> bool:
        return self.fitting.wheel_position.steers


def _tyres(*, at: datetime, cart_id: UUID | None, carts: Mapping[UUID, Odometer]) -> list[Tyre]:
    """Tyres on carts now and, for the fleet's wear, those taken off not long ago. Two queries."""
    fittings = TyreFitting.objects.select_related("tyre", "wheel_position")
    if cart_id is None:
        fittings = fittings.filter(
            Q(period__upper_inf=True, wheel_position__cart__retired_on=None)
            | Q(period__endswith__gt=at - FLEET_MEMORY)
        )
    else:
        fittings = fittings.filter(wheel_position__cart=cart_id, period__upper_inf=True)
    rows = list(fittings)
    depths: defaultdict[UUID, list[tuple[datetime, Decimal]]] = defaultdict(list)
    read = TreadReading.objects.filter(fitting__in=fittings.values("pk")).order_by("read_at")
    for fitting_id, read_at, depth in read.values_list("fitting_id", "read_at", "depth_mm"):
        depths[fitting_id].append((read_at, depth))
    found = []
    for row in rows:
        odometer = carts.get(row.wheel_position.cart_id)
        known = [(when, depth, odometer.at(when) if odometer else None) for when, depth in depths[row.pk]]
        found.append(Tyre(row, row.period.upper is None, known))
    return found


def _fits(tyres: Sequence[Tyre]) -> tuple[WearFits, Floats]:
    """The lines of the tyres, and the km between their first and last reading."""
    rows = [tyre.with_km for tyre in tyres]
    most = max([len(row) for row in rows] + [1])
    km, depth = np.full((len(rows), most), np.nan), np.full((len(rows), most), np.nan)
    for number, row in enumerate(rows):
        for place, (at_km, deep) in enumerate(row):
            km[number, place], depth[number, place] = at_km, deep
    spans = np.array([max(km for km, _ in row) - min(km for km, _ in row) if row else 0.0 for row in rows])
    return fit_many(km=km, depth_mm=depth), spans


def _fleet(
    tyres: Sequence[Tyre], fits: WearFits, spans: Floats, duty: Mapping[UUID, str], *, at: datetime
) -> dict[Kind, FleetWear]:
    told = np.flatnonzero((fits.count >= KM_READ) & (spans >= KM_SPAN)).tolist()
    wears = [
        TyreWear(
            tyres[row].steers,
            duty.get(tyres[row].fitting.wheel_position.cart_id, ""),
            -1000 * float(fits.slope_mm_km[row]),
        )
        for row in told
    ]
    return keep_rates(rates(wears), at=at)


def _leans(
    tyres: Sequence[Tyre], fleet: Mapping[Kind, FleetWear], duty: Mapping[UUID, str]
) -> list[FleetWear | None]:
    """What each tyre leans on while its readings are few."""
    return [
        rate_for(fleet, steers=tyre.steers, duty=duty.get(tyre.fitting.wheel_position.cart_id, ""))
        for tyre in tyres
    ]


def _or_none(value: float) -> float | None:
    """A figure as its column holds it: NaN and no end are null."""
    return float(value) if math.isfinite(value) else None


def _day(km: float, *, now_km: float, per_day: float | None, on: date) -> date | None:
    if per_day is None or per_day <= 0 or not math.isfinite(km):
        return None
    days = math.floor((km - now_km) / per_day)
    return on + timedelta(days=days) if abs(days) <= FAR_DAYS else None


def _km_per_day(odometer: Odometer, hires: Sequence[Period], *, on: date) -> float | None:
    """Km a calendar day of the last weeks, hire and idle days by their number."""
    # An older meter's figures may lie below zero on the scale of the one fitted now; only what they rose by counts.
    lowest = min(odometer.km, default=0.0)
    readings = [(day, km - lowest) for day, km in odometer.by_day]
    return per_calendar_day(readings, usage_split(readings, on=on, hire_days=hires), on=on)


def _row(
    tyre: Tyre, *, at: datetime, odometer: Odometer | None, fleet: FleetWear | None, hires: Sequence[Period]
) -> TyreForecast:
    """The row without its forecast: what it rests on."""
    change_out, legal = limits_at(steers=tyre.steers)
    last = tyre.depths[-1] if tyre.depths else None
    known = [km for _, _, km in tyre.depths if km is not None]
    return TyreForecast(
        fitting=tyre.fitting,
        made_at=at,
        readings_count=len(tyre.depths),
        last_read_at=last[0] if last else None,
        last_depth_mm=last[1] if last else None,
        last_km=known[-1] if known else None,
        km_per_day=_km_per_day(odometer, hires, on=yard_day(at)) if odometer else None,
        fleet_wear=fleet,
        rule_set=yard_policy().rule_set,
        change_out_mm=change_out.depth_mm,
        legal_mm=legal.depth_mm,
    )


def _tell(
    row: TyreForecast,
    number: int,
    out: TreadForecasts,
    law: TreadForecasts,
    *,
    odometer: Odometer | None,
    on: date,
) -> None:
    """Put the forecast into its row, and the days where the cart's km per day are known."""
    row.basis = str(out.basis[number])
    row.wear_mm_per_1000_km = _or_none(out.wear_mm_per_1000_km[number])
    if "fleet" not in row.basis:
        row.fleet_wear = None
    ends = {"": "km_at_limit", "_low": "km_at_limit_low", "_high": "km_at_limit_high"}
    for end, name in ends.items():
        setattr(row, f"km_change_out{end}", _or_none(getattr(out, name)[number]))
        setattr(row, f"km_legal{end}", _or_none(getattr(law, name)[number]))
    if odometer is None or row.km_change_out is None:
        return
    # The cart has gone on since its odometer was last read.
    last_on = yard_day(odometer.times[-1])
    now_km = odometer.km[-1] + (row.km_per_day or 0.0) * max((on - last_on).days, 0)
    for end, name in ends.items():
        # What the line puts before the last reading was not so yet when it was read.
        km = max(float(getattr(out, name)[number]), row.last_km or -math.inf)
        setattr(row, f"on_change_out{end}", _day(km, now_km=now_km, per_day=row.km_per_day, on=on))


def _pairs(tyres: Sequence[Tyre]) -> dict[UUID, str]:
    """What is wrong with each dual pair, by the fitting of either tyre."""
    hubs: defaultdict[tuple[UUID, int, str], list[Tyre]] = defaultdict(list)
    for tyre in tyres:
        place = tyre.fitting.wheel_position
        if place.place != "single":
            hubs[place.cart_id, place.axle, place.side].append(tyre)
    words = {}
    for pair in hubs.values():
        if len(pair) == 2:
            one, other = (twin_of(tyre.fitting, tyre.depths[-1][1] if tyre.depths else None) for tyre in pair)
            said = pair_words(judge_pair(one, other, rule_set=yard_policy().rule_set))
            words.update(dict.fromkeys((tyre.fitting.pk for tyre in pair), said))
    return words


def twin_of(fitting: TyreFitting, depth_mm: Decimal | None) -> TwinTyre:
    return TwinTyre(None if depth_mm is None else float(depth_mm), fitting.tyre.size, fitting.tyre.make)


def _store(rows: list[TyreForecast], *, cart_id: UUID | None) -> None:
    stale = TyreForecast.objects.filter(fitting__period__upper_inf=False)
    if cart_id is not None:
        stale = stale.filter(fitting__wheel_position__cart=cart_id)
    stale.delete()
    names = [
        field.name for field in TyreForecast._meta.concrete_fields if field.name not in ("id", "fitting")
    ]
    TyreForecast.objects.bulk_create(
        rows, update_conflicts=True, unique_fields=["fitting"], update_fields=names, batch_size=BATCH
    )


@transaction.atomic
def make_tyre_forecasts(*, at: datetime, cart_id: UUID | None = None) -> int:
    """Forecast every tyre now on a cart, of the whole fleet or of one cart, and store one row each; gives how many.

    The fleet's own wear is worked out anew with the whole fleet; one cart leans on what was worked out last. The number of
    queries does not grow with the tyres but for the batches they are written in. Run again at once it writes the same.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [FORECAST_LOCK])
    carts = odometers(None if cart_id is None else [cart_id])
    tyres = _tyres(at=at, cart_id=cart_id, carts=carts)
    fits, spans = _fits(tyres)
    duty = duties()
    fleet = _fleet(tyres, fits, spans, duty, at=at) if cart_id is None else kept_rates()
    words, today = _pairs([tyre for tyre in tyres if tyre.is_on]), yard_day(at)
    leans, hires = _leans(tyres, fleet, duty), hire_days(carts, at=at)
    rows = [
        _row(
            tyre,
            at=at,
            odometer=carts.get(tyre.fitting.wheel_position.cart_id),
            fleet=rate,
            hires=hires.get(tyre.fitting.wheel_position.cart_id, ()),
        )
        for tyre, rate in zip(tyres, leans, strict=True)
    ]
    out, law = (
        forecast_fits(
            fits,
            limit_mm=np.array([float(getattr(row, name)) for row in rows]),
            prior_wear=np.array([rate.wear_mm_per_1000_km if rate else np.nan for rate in leans]),
            prior_spread=np.array([rate.spread_mm_per_1000_km if rate else np.nan for rate in leans]),
        )
        for name in ("change_out_mm", "legal_mm")
    )
    kept = []
    for number, (tyre, row) in enumerate(zip(tyres, rows, strict=True)):
        if tyre.is_on:
            _tell(row, number, out, law, odometer=carts.get(tyre.fitting.wheel_position.cart_id), on=today)
            row.pair_words = words.get(tyre.fitting.pk, "")
            kept.append(row)
    _store(kept, cart_id=cart_id)
    return len(kept)


def forecast_cart(cart_id: UUID, at: datetime) -> None:
    """The outbox's handler: one cart's tyres again, after one was changed."""
    make_tyre_forecasts(at=at, cart_id=cart_id)
