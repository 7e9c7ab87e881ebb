"""The book of services: which come round for a cart, and when each falls due. Reckoned in the worker, read by everybody."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from fleet.models.carts import Cart
from fleet.querysets import CartQuerySet
from people.yard import yard_day
from servicing.intervals import Interval, Mark, add_months, next_due
from servicing.meters_now import CartMeters, MeterNow, meters_of
from servicing.models.plans import ServiceDone, ServiceDue, ServicePlan

MANY = 500
_FIELDS = [one for one in ServiceDue._meta.concrete_fields if one.name not in ("id", "cart", "plan")]
KEPT = [one.name for one in _FIELDS]
COMPARED = [one.attname for one in _FIELDS if one.name != "made_at"]


def _width(plan: ServicePlan) -> int:
    """How narrowly a plan names its carts: the narrowest of one name counts."""
    return 3 if plan.cart_id else 2 if plan.model else 1 if plan.make else 0


def _is_for(plan: ServicePlan, cart: Cart) -> bool:
    if plan.cart_id:
        return plan.cart_id == cart.pk
    return plan.make in ("", cart.make) and plan.model in ("", cart.model)


def plans_of(cart: Cart, plans: Iterable[ServicePlan]) -> list[ServicePlan]:
    """The services that come round for a cart, by name; of those with one name the narrowest."""
    found: dict[str, ServicePlan] = {}
    for plan in plans:
        if _is_for(plan, cart) and (plan.name not in found or _width(plan) > _width(found[plan.name])):
            found[plan.name] = plan
    return [found[name] for name in sorted(found)]


def plans_in_force() -> list[ServicePlan]:
    return list(ServicePlan.objects.filter(ended_on=None))


def _named(plan: ServicePlan) -> Q:
    if plan.cart_id:
        return Q(pk=plan.cart_id)
    return Q(**{name: getattr(plan, name) for name in ("make", "model") if getattr(plan, name)})


def carts_of(plan: ServicePlan, plans: Iterable[ServicePlan], *, on: date) -> CartQuerySet:
    """The carts of the fleet that a plan comes round for: plans_of, asked the other way."""
    found = Cart.objects.in_fleet(on=on).filter(_named(plan))
    for other in plans:
        if other.name == plan.name and _width(other) > _width(plan):
            found = found.exclude(_named(other))
    return found


def latest_done(
    carts: Sequence[Cart], *, at: datetime, name: str | None = None
) -> dict[tuple[UUID, str], ServiceDone]:
    """The latest service of each name (or of one) on each cart, in one query. By name: a plan made narrower goes on from
    what was done by the wider."""
    done = ServiceDone.objects.filter(cart__in=carts, struck_at=None, done_at__lte=at)
    if name is not None:
        done = done.filter(plan__name=name)
    done = (
        done.order_by("cart_id", "plan__name", "-done_at")
        .distinct("cart_id", "plan__name")
        .select_related("plan")
    )
    return {(one.cart_id, one.plan.name): one for one in done}


@dataclass(frozen=True)
class _Last:
    """What a service counts from, in the count of the meters now fitted."""

    on: date
    engine_hours: Decimal | None
    km: Decimal | None


def _last(done: ServiceDone | None, meters: CartMeters, *, on: date) -> _Last:
    hours, km = meters.of("engine_hours"), meters.of("km")
    if done is None:
        known = [one.first_on for one in (hours, km) if one.first_on]
        return _Last(min(known, default=on), hours.first_value, km.first_value)
    return _Last(
        yard_day(done.done_at),
        _then(hours, done.engine_hours, done.done_at),
        _then(km, done.km, done.done_at),
    )


def _then(meter: MeterNow, value: Decimal | None, read_at: datetime) -> Decimal | None:
    if value is not None:
        return meter.today(value, read_at)
    # Nobody wrote it down, and the cart came on record later: its first reading stands in, as where no service is known.
    # Else a service whose day alone is known would count by less than none at all.
    is_early = meter.first_on is not None and yard_day(read_at) <= meter.first_on
    return meter.first_value if is_early else None


def _line(base: Decimal | None, interval: int | None, over_pct: int = 0) -> Decimal | None:
    """Where an interval is used up, or used up and so much over, in hundredths of it."""
    return None if base is None or interval is None else base + Decimal(interval * (100 + over_pct)) / 100


def _months_lines(last: date, plan: ServicePlan) -> tuple[date | None, date | None]:
    if plan.months is None:
        return None, None
    due_on = add_months(last, plan.months)
    return due_on, due_on + timedelta(days=(due_on - last).days * plan.tolerance_pct // 100)


Rates = tuple[float | None, float | None, float | None]


def _rates(meter: MeterNow, due: Decimal | None, meters: CartMeters, *, on: date) -> Rates:
    """A meter's even rate a day from now to its line, with its low and high."""
    if due is None or meter.value is None:
        return None, None, None
    return meter.ahead(float(due - meter.value), on=on, hires=meters.hires) or (None, None, None)


def reckon(
    cart: Cart, plan: ServicePlan, done: ServiceDone | None, meters: CartMeters, *, at: datetime
) -> ServiceDue:
    """One service of one cart as it stands (not saved). A measure whose meter was never read does not count; where none is
    left the answer is that it cannot be reckoned."""
    on, hours, km = yard_day(at), meters.of("engine_hours"), meters.of("km")
    last = _last(done, meters, on=on)
    by_hours = plan.engine_hours if last.engine_hours is not None and hours.value is not None else None
    by_km = plan.km if last.km is not None and km.value is not None else None
    over = plan.tolerance_pct
    row = ServiceDue(
        cart=cart, plan=plan, made_at=at, done=done, last_on=last.on, last_engine_hours=last.engine_hours, last_km=last.km,
        now_engine_hours=hours.value, now_km=km.value,
        read_at=max((one.read_at for one in (hours, km) if one.read_at), default=None),
        hours_per_day=hours.per_day, km_per_day=km.per_day,
        due_engine_hours=_line(last.engine_hours, by_hours), stop_engine_hours=_line(last.engine_hours, by_hours, over),
        due_km=_line(last.km, by_km), stop_km=_line(last.km, by_km, over), state="unknown",
    )  # fmt: skip
    if by_hours is None and by_km is None and plan.months is None:
        return row
    hourly, daily = (
        _rates(meter, line, meters, on=on)
        for meter, line in ((hours, row.due_engine_hours), (km, row.due_km))
    )
    try:
        due = next_due(
            interval=Interval(by_hours, by_km, plan.months, tolerance=Decimal(plan.tolerance_pct) / 100),
            last=Mark(last.on, last.engine_hours, last.km), now=Mark(on, hours.value, km.value),
            hours_per_day=hourly[0], hours_per_day_low=hourly[1], hours_per_day_high=hourly[2],
            km_per_day=daily[0], km_per_day_low=daily[1], km_per_day_high=daily[2],
        )  # fmt: skip
    except ValueError:
        # A reading that runs backwards: one cart's question must not stop the reckoning of the others.
        return row
    row.due_on, row.stop_on = _months_lines(last.on, plan)
    row.state, row.trigger = due.state, due.trigger or ""
    if due.on is not None:
        # Reckoned back at today's slow pace it could have been due before it was last done.
        row.on = max(due.on, last.on)
        row.on_low = min(max(due.on_low or due.on, last.on), row.on)
        row.on_high = max(due.on_high, row.on) if due.on_high else None
    return row


@transaction.atomic
def reckon_services(*, carts: Sequence[Cart], at: datetime) -> int:
    """Reckon every service of these carts anew and keep what changed; how many rows were written. Five queries and the
    writes, however many carts. Safe to run twice: the second time nothing has changed."""
    plans, meters, last = plans_in_force(), meters_of(carts, at=at), latest_done(carts, at=at)
    standing = {(row.cart_id, row.plan_id): row for row in ServiceDue.objects.filter(cart__in=carts)}
    fresh, changed = [], []
    for cart in carts:
        for plan in plans_of(cart, plans):
            row = reckon(cart, plan, last.get((cart.pk, plan.name)), meters.get(cart.pk, CartMeters()), at=at)
            kept = standing.pop((cart.pk, plan.pk), None)
            if kept is None:
                fresh.append(row)
            elif _differs(kept, row):
                row.pk = kept.pk
                changed.append(row)
    ServiceDue.objects.bulk_create(
        fresh, update_conflicts=True, unique_fields=["cart", "plan"], update_fields=KEPT
    )
    ServiceDue.objects.bulk_update(changed, KEPT, batch_size=MANY)
    ServiceDue.objects.filter(pk__in=[row.pk for row in standing.values()]).delete()
    return len(fresh) + len(changed) + len(standing)


def _differs(kept: ServiceDue, row: ServiceDue) -> bool:
    return any(getattr(kept, name) != getattr(row, name) for name in COMPARED)


def reckon_changed_cart(cart_id: UUID, at: datetime) -> None:
    """Outbox work after a meter was changed or a parked reading of one found right: its services count from there."""
    reckon_services(carts=list(Cart.objects.filter(pk=cart_id)), at=at)


def reckon_all(*, at: datetime) -> int:
    """Every cart of the fleet, some hundreds at a time."""
    ids = Cart.objects.in_fleet(on=yard_day(at)).values_list("pk", flat=True).order_by("pk")
    return sum(
        reckon_services(carts=list(Cart.objects.filter(pk__in=some)), at=at)
        for some in _in_hundreds(list(ids))
    )


def _in_hundreds(ids: Sequence[UUID]) -> Iterable[Sequence[UUID]]:
    return (ids[start : start + MANY] for start in range(0, len(ids), MANY))
