"""The tyres a cart left with, and the tread each had: what a cut one is charged by."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal

from django.db.models import OuterRef, Subquery

from fleet.drawing import lap_cart
from fleet.lap.stations import station_of_wheel
from fleet.models.carts import Cart, MeterReading
from fleet.models.wheels import TreadReading, TyreFitting
from fleet.tread_limits import withdrawal_limit
from hire.charging.back import Tyre
from hire.charging.out_reading import READ_WITHIN, too_old
from hire.models.agreements import Line
from people.yard import yard_day, yard_policy


def tyres_that_left(line: Line) -> Mapping[str, tuple[Tyre, ...]]:
    """By station, the tyres that were on the cart when it was handed over, each with its last depth read by then and how
    old that was. A cart whose axles are not on record has none."""
    left = line.handed_over_at
    last = TreadReading.objects.filter(fitting=OuterRef("pk"), read_at__lte=left).order_by("-read_at")
    fittings = (
        TyreFitting.objects.filter(wheel_position__cart=line.cart_id, period__contains=left)
        .annotate(
            left_with_mm=Subquery(last.values("depth_mm")[:1]),
            was_read_at=Subquery(last.values("read_at")[:1]),
        )
        .select_related("tyre", "wheel_position")
        .order_by("wheel_position__axle", "wheel_position__code")
    )
    try:
        axles = lap_cart(Cart.objects.for_drawing().get(pk=line.cart_id)).axles
    except ValueError:
        return {}
    found: defaultdict[str, list[Tyre]] = defaultdict(list)
    odometer = _odometer(line)
    for fitting in fittings:
        found[station_of_wheel(fitting.wheel_position.code, axles)].append(_tyre(fitting, left, odometer))
    return {station: tuple(tyres) for station, tyres in found.items()}


# By odometer, when it was read and what it showed, in order.
Odometer = Mapping[object, Sequence[tuple[datetime, Decimal]]]


def _odometer(line: Line) -> Odometer:
    """The odometers of its cart over the time in which a tread may have been read, the reading before that among them."""
    left = line.handed_over_at
    if left is None:
        return {}
    rows = MeterReading.objects.filter(meter__cart=line.cart_id, meter__kind="km", read_at__lte=left)
    before = rows.filter(read_at__lt=left - READ_WITHIN).order_by("meter", "-read_at").distinct("meter")
    since = rows.filter(read_at__gte=left - READ_WITHIN)
    found: defaultdict[object, list[tuple[datetime, Decimal]]] = defaultdict(list)
    for row in (*before, *since.order_by("read_at", "value")):
        found[row.meter_id].append((row.read_at, row.value))
    return found


def _km_since(read_at: datetime, odometer: Odometer) -> Decimal | None:
    """What it drove from a moment until it left; None where no odometer tells."""
    driven = [
        rows[-1][1] - next((value for at, value in reversed(rows) if at <= read_at), rows[0][1])
        for rows in odometer.values()
    ]
    return sum(driven, Decimal(0)) if driven else None


def _tyre(fitting: TyreFitting, left: datetime | None, odometer: Odometer) -> Tyre:
    policy, position, tyre = yard_policy(), fitting.wheel_position, fitting.tyre
    limit = withdrawal_limit(
        rule_set=policy.rule_set,
        position="steer" if position.steers else "other",
        yard_mm=policy.tread_steer_mm if position.steers else policy.tread_other_mm,
    )
    read, read_at = getattr(fitting, "left_with_mm", None), getattr(fitting, "was_read_at", None)
    return Tyre(
        code=position.code,
        where=position.words,
        new_mm=tyre.new_depth_mm,
        # A gauge may show a little over the new depth on record; nobody pays for more than a new tyre.
        out_mm=None if read is None else min(read, tyre.new_depth_mm),
        change_out_mm=limit.depth_mm,
        cost=tyre.cost,
        read_on=yard_day(read_at) if read_at else None,
        old=too_old(read_at, left, _km_since(read_at, odometer)) if read_at and left else "",
    )
