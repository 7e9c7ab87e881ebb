"""What a cart's odometer showed at an instant, between its readings and across a changed meter."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby
from uuid import UUID

from fleet.models.carts import MeterReading
from people.yard import yard_day

# A depth read this long before the first km or after the last takes that km; further off its km are not known. Ours.
NEAR = timedelta(days=3)


@dataclass(frozen=True)
class Odometer:
    """km readings of one cart in order of time, on the scale of the meter it has now: an older meter's readings are moved so
    that the new one goes on where the old one stopped, and may lie below zero."""

    times: tuple[datetime, ...]
    km: tuple[float, ...]

    def at(self, moment: datetime) -> float | None:
        """The km at an instant, between two readings in step with time; None further off than NEAR from any."""
        place = bisect_left(self.times, moment)
        if place == len(self.times):
            return self.km[-1] if moment - self.times[-1] <= NEAR else None
        if place == 0:
            return self.km[0] if self.times[0] - moment <= NEAR else None
        before, after = self.times[place - 1], self.times[place]
        share = (moment - before) / (after - before)
        return self.km[place - 1] + share * (self.km[place] - self.km[place - 1])

    @property
    def by_day(self) -> list[tuple[date, float]]:
        return [(yard_day(moment), km) for moment, km in zip(self.times, self.km, strict=True)]


def _joined(rows: list[tuple[UUID, datetime, float]]) -> Odometer:
    times: list[datetime] = []
    km: list[float] = []
    shift = 0.0
    for _, of_meter in groupby(rows, key=lambda row: row[0]):
        readings = list(of_meter)
        shift = km[-1] - readings[0][2] if km else 0.0
        times.extend(read_at for _, read_at, _ in readings)
        km.extend(value + shift for _, _, value in readings)
    return Odometer(tuple(times), tuple(value - shift for value in km))


def odometers(cart_ids: Collection[UUID] | None = None) -> dict[UUID, Odometer]:
    """The odometers of carts that have km on record, by cart id; None: of all carts. One query."""
    readings = MeterReading.objects.filter(meter__kind="km")
    if cart_ids is not None:
        readings = readings.filter(meter__cart__in=cart_ids)
    by_cart: defaultdict[UUID, list[tuple[UUID, datetime, float]]] = defaultdict(list)
    for cart_id, meter_id, read_at, value in readings.order_by("meter__fitted_at", "read_at").values_list(
        "meter__cart_id", "meter_id", "read_at", "value"
    ):
        by_cart[cart_id].append((meter_id, read_at, float(value)))
    return {cart_id: _joined(rows) for cart_id, rows in by_cart.items()}
