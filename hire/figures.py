"""What a cart, or a class of carts, did over a period: how much it was out, how often it failed, how soon it was mended,
what it cost. Periods and spans are half-open instants; a span's end of None is still running.

The figures compare carts and show where money goes. None of them says that a cart is fit to go out today.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from servicing.reliability import (
    MeanTime,
    availability,
    mean_time_between,
    mean_time_to_repair,
    operational_availability,
)

Span = tuple[datetime, datetime | None]
Point = tuple[datetime, float]

HOUR = timedelta(hours=1)
# Tanks are told apart by bands of this width. Common practice, no source.
BAND_L = 4000


@dataclass(frozen=True, slots=True)
class Inputs:
    """What one cart did in the period. Meters are None where nobody read them; cost is None where nothing is recorded."""

    fleet_hours: float = 0.0
    hire_hours: float = 0.0
    down_hours: float = 0.0
    engine_hours: float | None = None
    km: float | None = None
    told: int = 0
    second_looks: int = 0
    second_look_hours: float = 0.0
    repairs: int = 0
    repair_hours: float = 0.0
    cost: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Figures:
    """One row of figures. Shares are 0 to 1; a figure is None where it is undefined; `unread` counts carts without hours."""

    carts: int
    unread: int
    fleet_days: float
    hire_days: float
    utilisation: float | None
    engine_hours: float | None
    km: float | None
    told: int
    between: MeanTime
    to_second_look: MeanTime
    to_repair: MeanTime
    down_hours: float
    could_work: float | None
    without_waits: float | None
    cost: Decimal | None
    cost_per_hour: Decimal | None
    cost_per_1000_km: Decimal | None


def reckon(parts: Sequence[Inputs]) -> Figures:
    """The figures of one cart ([its inputs]) or of a class (one each).

    A class is reckoned from its sums, so that a cart out all year weighs more than one out a day. Defects and costs of a
    cart whose meter nobody read stay out of what is divided by that meter.
    """
    read = [part for part in parts if part.engine_hours is not None]
    hours = sum(part.engine_hours or 0.0 for part in read)
    km_read = [part for part in parts if part.km is not None]
    km = sum(part.km or 0.0 for part in km_read)
    fleet, down = sum(part.fleet_hours for part in parts), sum(part.down_hours for part in parts)
    out = sum(part.hire_hours for part in parts)
    between = mean_time_between(operating_hours=hours, failures=sum(part.told for part in read))
    to_repair = mean_time_to_repair(
        repair_hours=sum(part.repair_hours for part in parts), repairs=sum(part.repairs for part in parts)
    )
    return Figures(
        carts=len(parts),
        unread=len(parts) - len(read),
        fleet_days=fleet / 24,
        hire_days=out / 24,
        utilisation=out / fleet if fleet else None,
        engine_hours=hours if read else None,
        km=km if km_read else None,
        told=sum(part.told for part in parts),
        between=between,
        to_second_look=mean_time_to_repair(
            repair_hours=sum(part.second_look_hours for part in parts),
            repairs=sum(part.second_looks for part in parts),
        ),
        to_repair=to_repair,
        down_hours=down,
        could_work=operational_availability(up_hours=max(fleet - down, 0.0), down_hours=down)
        if fleet
        else None,
        without_waits=_inherent(between, to_repair),
        cost=_cost(parts),
        cost_per_hour=_per(_cost(read), hours),
        cost_per_1000_km=_per(_cost(km_read), km / 1000),
    )


def _inherent(between: MeanTime, to_repair: MeanTime) -> float | None:
    if between.hours == 0 and to_repair.hours == 0:
        return None
    return availability(mean_time_between_hours=between.hours, mean_time_to_repair_hours=to_repair.hours)


def _cost(parts: Iterable[Inputs]) -> Decimal | None:
    known = [part.cost for part in parts if part.cost is not None]
    return sum(known, Decimal(0)) if known else None


def _per(cost: Decimal | None, amount: float) -> Decimal | None:
    return cost / Decimal(str(amount)) if cost is not None and amount else None


def metered(
    *,
    before: Point | None,
    first: Point | None,
    last: Point | None,
    after: Point | None,
    start: datetime,
    end: datetime,
) -> float | None:
    """What one meter gained in [start, end), from the readings about its edges.

    before: the last reading at or before start; first: the next after it; last: the last at or before end; after: the next
    after that. An edge between two readings takes its share of their gain by time, so that periods side by side add up. An
    edge with readings on one side only takes the nearest. None when fewer than two readings tell of the period.
    """
    opens = _value_at(start, before, first)
    closes = _value_at(end, last, after)
    if opens is None or closes is None or opens[0] >= closes[0]:
        return None
    return closes[1] - opens[1]


def _value_at(edge: datetime, before: Point | None, after: Point | None) -> Point | None:
    if before is None or after is None:
        return before or after
    share = (edge - before[0]) / (after[0] - before[0])
    return edge, before[1] + share * (after[1] - before[1])


def hours_in(spans: Iterable[Span], *, start: datetime, end: datetime) -> float:
    """Hours of [start, end) that lie in at least one of the spans."""
    total, covered = timedelta(0), start
    for opens, closes in sorted(spans, key=lambda span: span[0]):
        until = end if closes is None else min(closes, end)
        since = max(opens, covered)
        if until > since:
            total, covered = total + (until - since), until
    return total / HOUR


def without(span: Span, cuts: Iterable[Span]) -> list[Span]:
    """What is left of a span when the cuts are taken out of it."""
    left: list[Span] = []
    opens, closes = span
    for cut_opens, cut_closes in sorted(cuts, key=lambda cut: cut[0]):
        if cut_opens > opens:
            ends = cut_opens if closes is None else min(cut_opens, closes)
            left.append((opens, ends))
        if cut_closes is None:
            return left
        opens = max(opens, cut_closes)
    if closes is None or closes > opens:
        left.append((opens, closes))
    return [(since, until) for since, until in left if until is None or until > since]


def class_words(*, axles: int | None, capacity_l: int) -> str:
    """The class a yard would say: "3-axle, 12,000–16,000 L". A tank on a band's edge belongs to the band above."""
    low = capacity_l // BAND_L * BAND_L
    tank = f"{low:,}–{low + BAND_L:,} L" if low else f"under {BAND_L:,} L"
    return f"{axles}-axle, {tank}" if axles else f"axles not recorded, {tank}"
