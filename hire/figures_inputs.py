"""What the figures are reckoned from, read for every cart at once: the number of queries is the same for one cart and for all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from decimal import Decimal
from uuid import UUID

from django.db.models import Max, Min, Q, Sum

from fleet.models.carts import AxleGroup, Cart, Fitment, Meter
from fleet.models.defects import Defect
from fleet.models.standing import Hold, Limit
from hire.figures import BAND_L, HOUR, Inputs, Point, Span, class_words, hours_in, metered, without
from hire.models.agreements import Line
from people.yard import at_local, yard_day

# A repair that was sent back is not done.
MENDED = ("repaired", "verified")
NO_COSTS: Mapping[UUID, Decimal] = {}


@dataclass(frozen=True)
class Told:
    """A cart, its class, and what it did in the period."""

    cart: Cart
    class_words: str
    # Where its class stands among the others: axles, then tank.
    place: tuple[int, int]
    inputs: Inputs


@dataclass(frozen=True)
class _Used:
    engine_hours: dict[UUID, float]
    km: dict[UUID, float]
    since: dict[UUID, datetime]


def told_of(*, start: datetime, end: datetime, costs: Mapping[UUID, Decimal] = NO_COSTS) -> list[Told]:
    """Every cart that was in the fleet in [start, end), by fleet number. costs: what each cost in the period, by its id."""
    carts = Cart.objects.in_fleet(on=yard_day(start)).order_by("fleet_number", "pk")
    axles = dict(AxleGroup.objects.values_list("cart_id").annotate(Sum("axles")))
    used, work = _used(start, end), _work(start, end)
    hires, down = _hires(start, end), _down(start, end)
    since = _since(used)
    found = []
    for cart in carts:
        closes = end if cart.retired_on is None else min(end, at_local(cart.retired_on, time.min))
        opens = max(start, min(since.get(cart.pk, start), closes))
        inputs = replace(
            work.get(cart.pk, Inputs()),
            fleet_hours=hours_in([(opens, closes)], start=start, end=end),
            hire_hours=hours_in(hires.get(cart.pk, ()), start=opens, end=closes),
            down_hours=hours_in(down.get(cart.pk, ()), start=opens, end=closes),
            engine_hours=used.engine_hours.get(cart.pk),
            km=used.km.get(cart.pk),
            cost=costs.get(cart.pk),
        )
        found.append(Told(cart, *_class_of(axles.get(cart.pk), cart.tank_capacity_l), inputs))
    return found


def classes_of() -> list[str]:
    """The words of every class there is a cart of, fewest axles and smallest tank first."""
    sized = Cart.objects.annotate(axles=Sum("axle_groups__axles")).values_list("axles", "tank_capacity_l")
    found = {_class_of(axles, capacity_l) for axles, capacity_l in sized.order_by()}
    return [words for words, _ in sorted(found, key=lambda one: one[1])]


def _class_of(axles: int | None, capacity_l: int) -> tuple[str, tuple[int, int]]:
    return class_words(axles=axles, capacity_l=capacity_l), (axles or 0, capacity_l // BAND_L)


def engine_hours_of(*, start: datetime, end: datetime) -> dict[UUID, float]:
    """What each cart's engine clocks gained, by cart id; nothing of a cart of which the readings do not tell. One query."""
    return _used(start, end).engine_hours


def _used(start: datetime, end: datetime) -> _Used:
    """What the meters gained. No meter runs backwards, so the greatest value up to an instant is the last one read."""
    up_to = {"before": Q(readings__read_at__lte=start), "last": Q(readings__read_at__lte=end)}
    past = {"first": Q(readings__read_at__gt=start), "after": Q(readings__read_at__gt=end)}
    asked = {
        f"{name}_{part}": way(f"readings__{part}", filter=which)
        for way, edges in ((Max, up_to), (Min, past))
        for name, which in edges.items()
        for part in ("read_at", "value")
    }
    used = _Used(engine_hours={}, km={}, since={})
    for row in Meter.objects.values("cart_id", "kind", "fitted_at", "pk").annotate(**asked):
        _earlier(used.since, row["cart_id"], row["fitted_at"])
        kept = {"engine_hours": used.engine_hours, "km": used.km}.get(row["kind"])
        gain = metered(**{name: _point(row, name) for name in (*up_to, *past)}, start=start, end=end)
        if kept is not None and gain is not None:
            kept[row["cart_id"]] = kept.get(row["cart_id"], 0.0) + gain
    return used


def _point(row: Mapping[str, object], name: str) -> Point | None:
    at, value = row[f"{name}_read_at"], row[f"{name}_value"]
    return (at, float(value)) if isinstance(at, datetime) and isinstance(value, Decimal) else None


def _since(used: _Used) -> dict[UUID, datetime]:
    """When each cart is first heard of: its earliest meter, gear or handover. Nobody writes down the day it joined."""
    since = dict(used.since)
    gear = Fitment.objects.values("cart_id").annotate(first=Min("fitted_on")).values_list("cart_id", "first")
    for cart_id, fitted_on in gear:
        _earlier(since, cart_id, _opening(fitted_on))
    left = Line.objects.filter(handed_over_at__isnull=False).values("cart_id")
    for cart_id, first in left.annotate(first=Min("handed_over_at")).values_list("cart_id", "first"):
        _earlier(since, cart_id, first)
    return since


def _opening(on: date) -> datetime:
    return at_local(on, time.min)


def _earlier(since: dict[UUID, datetime], cart_id: UUID, at: datetime) -> None:
    since[cart_id] = min(at, since.get(cart_id, datetime.max.replace(tzinfo=UTC)))


def _hires(start: datetime, end: datetime) -> dict[UUID, list[Span]]:
    out = Line.objects.filter(Q(back_at=None) | Q(back_at__gt=start), handed_over_at__lt=end)
    return _by_cart(out.values_list("cart_id", "handed_over_at", "back_at"))


def _down(start: datetime, end: datetime) -> dict[UUID, list[Span]]:
    """When each cart could not work: tagged out, or under a defect that says do not use and was not isolated."""
    running = Q(closed_at=None) | Q(closed_at__gt=start)
    isolated: dict[UUID, list[Span]] = defaultdict(list)
    for defect_id, opens, closes in Limit.objects.filter(set_at__lt=end).values_list(
        "defect_id", "set_at", "lifted_at"
    ):
        isolated[defect_id].append((opens, closes))
    stopping = Defect.objects.filter(running, grade="do_not_use", told_at__lt=end)
    held = Hold.objects.filter(Q(lifted_at=None) | Q(lifted_at__gt=start), placed_at__lt=end)
    spans = _by_cart(held.values_list("cart_id", "placed_at", "lifted_at"))
    for pk, cart_id, told_at, closed_at in stopping.values_list("pk", "cart_id", "told_at", "closed_at"):
        spans[cart_id] += without((told_at, closed_at), isolated.get(pk, ()))
    return spans


def _by_cart(rows: Iterable[tuple[UUID, datetime | None, datetime | None]]) -> dict[UUID, list[Span]]:
    spans: dict[UUID, list[Span]] = defaultdict(list)
    for cart_id, opens, closes in rows:
        assert opens is not None, "every span asked for has begun"
        spans[cart_id].append((opens, closes))
    return spans


def _work(start: datetime, end: datetime) -> dict[UUID, Inputs]:
    """Defects told, second looks given and repairs done in the period.

    A defect that was closed without a repair (no fault found) is no failure, so it is not among those told.
    """

    def in_period(at: datetime | None) -> bool:
        return at is not None and start <= at < end

    any_of = [
        Q(**{f"{name}__gte": start, f"{name}__lt": end}) for name in ("told_at", "verified_at", "repaired_at")
    ]
    defects = Defect.objects.filter(any_of[0] | any_of[1] | any_of[2]).annotate(
        started_at=Min("steps__at", filter=Q(steps__after_state="in_repair"))
    )
    work: dict[UUID, Inputs] = defaultdict(Inputs)
    fields = ("cart_id", "state", "told_at", "closed_at", "verified_at", "repaired_at", "started_at")
    for row in defects.values(*fields):
        was = work[row["cart_id"]]
        told, started = row["told_at"], row["started_at"]
        if in_period(told) and (row["closed_at"] is None or row["state"] == "verified"):
            was = replace(was, told=was.told + 1)
        if in_period(row["verified_at"]):
            hours = was.second_look_hours + (row["verified_at"] - told) / HOUR
            was = replace(was, second_looks=was.second_looks + 1, second_look_hours=hours)
        if in_period(row["repaired_at"]) and started is not None and row["state"] in MENDED:
            hours = was.repair_hours + max((row["repaired_at"] - started) / HOUR, 0.0)
            was = replace(was, repairs=was.repairs + 1, repair_hours=hours)
        work[row["cart_id"]] = was
    return work
