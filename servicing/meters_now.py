"""Each cart's meters as they stand and how fast they run, counted through meter changes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.db.models import Max, Min

from fleet.meters import MOST_PER_DAY, Period, UsageSplit, per_calendar_day, rate_ahead, usage_split
from fleet.models.carts import Cart, Meter, MeterReading
from fleet.needs import promises
from people.yard import yard_day

KINDS = ("engine_hours", "km")
WINDOW_DAYS = 60
AHEAD_DAYS = 365
HOURS_A_DAY = 24.0


@dataclass(frozen=True)
class Stretch:
    """One meter's time on a cart. `offset`: what is added to its figures to count on from the meter before it."""

    fitted_at: datetime
    offset: Decimal


@dataclass(frozen=True)
class MeterNow:
    """One kind of meter of one cart. Figures as on the meter now fitted; None: not read.

    first_*: the earliest reading on record, in the same count. per_day None: too few readings.
    """

    value: Decimal | None = None
    read_at: datetime | None = None
    first_value: Decimal | None = None
    first_on: date | None = None
    per_day: float | None = None
    split: UsageSplit | None = None
    stretches: tuple[Stretch, ...] = ()

    def today(self, value: Decimal, read_at: datetime) -> Decimal:
        """A figure read at some time, as the meter now fitted would have shown it."""
        if not self.stretches:
            return value
        then = [one for one in self.stretches if one.fitted_at <= read_at] or [self.stretches[0]]
        return value + then[-1].offset - self.stretches[-1].offset

    def ahead(self, amount: float, *, on: date, hires: Sequence[Period]) -> tuple[float, float, float] | None:
        """The even rate a day that uses up an amount as the promised hires will, with its low and high; None: not known.

        A promised day counts as a hire day. Any other day ahead counts as a day of the last two months did on average:
        hires not booked yet will come.
        """
        if self.per_day is None:
            return None
        hire = self.split.per_hire_day if self.split else None
        rate = rate_ahead(
            amount, on=on, per_hire_day=max(hire.rate, self.per_day) if hire else self.per_day, per_idle_day=self.per_day,
            hires=hires,
        )  # fmt: skip
        spread = hire or (self.split.per_idle_day if self.split else None)
        if spread is None or not spread.rate:
            return rate, rate, rate
        # Never past the rate itself by a rounding.
        return rate, min(rate * spread.low / spread.rate, rate), max(rate * spread.high / spread.rate, rate)


@dataclass(frozen=True)
class CartMeters:
    """A cart's meters by kind (a kind it does not have is not there), and the days it is promised or was out."""

    kinds: dict[str, MeterNow] = field(default_factory=dict)
    hires: tuple[Period, ...] = ()

    def of(self, kind: str) -> MeterNow:
        return self.kinds.get(kind, MeterNow())


def _stretches(meters: list[Meter]) -> list[Stretch]:
    """Meters of one kind on one cart in the order they were fitted (least_value and most_value annotated)."""
    found, offset, last = [], Decimal(0), None
    for meter in meters:
        least, most = meter.least_value, meter.most_value  # type: ignore[attr-defined] # annotated
        if last is not None and least is not None:
            offset += last - least
        if most is not None:
            last = most
        found.append(Stretch(meter.fitted_at, offset))
    return found


def _meter(
    meters: list[Meter],
    recent: Mapping[UUID, list[tuple[datetime, Decimal]]],
    hires: tuple[Period, ...],
    *,
    on: date,
) -> MeterNow:
    stretches = _stretches(meters)
    base, now = stretches[-1].offset, meters[-1]
    most = HOURS_A_DAY if now.kind == "engine_hours" else MOST_PER_DAY
    first = next((one for one in meters if one.first_at is not None), None)  # type: ignore[attr-defined] # annotated
    points = [
        (yard_day(read_at), float(value + stretch.offset))
        for meter, stretch in zip(meters, stretches, strict=True)
        for read_at, value in recent.get(meter.pk, ())
    ]
    split = usage_split(points, on=on, hire_days=hires, window_days=WINDOW_DAYS, most_per_day=most)
    return MeterNow(
        value=now.most_value,  # type: ignore[attr-defined] # annotated
        read_at=now.last_at,  # type: ignore[attr-defined] # annotated
        first_value=first.least_value + stretches[meters.index(first)].offset - base if first else None,  # type: ignore[attr-defined]
        first_on=yard_day(first.first_at) if first else None,  # type: ignore[attr-defined] # annotated
        per_day=per_calendar_day(points, split, on=on, window_days=WINDOW_DAYS, most_per_day=most),
        split=split,
        stretches=tuple(stretches),
    )


def hire_days(carts: Iterable[Cart | UUID], *, at: datetime) -> dict[UUID, tuple[Period, ...]]:
    """The days each cart was out, or is promised, from the window's start to a year ahead."""
    span = (at - timedelta(days=WINDOW_DAYS), at + timedelta(days=AHEAD_DAYS))
    found = promises(carts, start=span[0], end=span[1], at=at)
    return {
        cart_id: tuple((yard_day(one.start), yard_day(one.end) + timedelta(days=1)) for one in pile)
        for cart_id, pile in found.items()
    }


def meters_of(carts: Sequence[Cart], *, at: datetime) -> dict[UUID, CartMeters]:
    """Meters of each cart that has any, as known at `at`, in three queries. A meter only rises, so its most is its last."""
    meters = (
        Meter.objects.filter(cart__in=carts, kind__in=KINDS, fitted_at__lte=at)
        .annotate(
            least_value=Min("readings__value"),
            most_value=Max("readings__value"),
            first_at=Min("readings__read_at"),
            last_at=Max("readings__read_at"),
        )
        .order_by("fitted_at")
    )
    piles: defaultdict[tuple[UUID, str], list[Meter]] = defaultdict(list)
    for meter in meters:
        piles[meter.cart_id, meter.kind].append(meter)
    recent: defaultdict[UUID, list[tuple[datetime, Decimal]]] = defaultdict(list)
    since = at - timedelta(days=WINDOW_DAYS)
    rows = MeterReading.objects.filter(
        meter__in=[one.pk for pile in piles.values() for one in pile], read_at__gte=since, read_at__lte=at
    )
    for meter_id, read_at, value in rows.order_by("read_at").values_list("meter", "read_at", "value"):
        recent[meter_id].append((read_at, value))
    hires = hire_days(carts, at=at)
    found: defaultdict[UUID, dict[str, MeterNow]] = defaultdict(dict)
    for (cart_id, kind), pile in piles.items():
        found[cart_id][kind] = _meter(pile, recent, hires.get(cart_id, ()), on=yard_day(at))
    return {cart_id: CartMeters(kinds, hires.get(cart_id, ())) for cart_id, kinds in found.items()}
