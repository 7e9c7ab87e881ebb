"""What the meters showed at a service: which figures are wanted, and how they are kept beside the readings on record."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from fleet.actions.locks import AgainstARule
from fleet.actions.readings import derive_meter_reading, meter_at
from fleet.models.carts import Cart, MeterReading, ReadingQuestion
from fleet.readings import meter_doubt
from people.refusals import Refusal
from servicing.models.plans import ServiceDone, ServicePlan

UNITS = {"engine_hours": "engine hours", "km": "km"}
Read = dict[str, Decimal | None]


class ReadingWanted(Refusal):
    """A service counted by a meter is recorded with what that meter showed."""


def check_readings(cart: Cart, plan: ServicePlan, read: Read, done_at: datetime) -> None:
    """ReadingWanted where the plan counts by a meter that the cart had then and nobody read. Of a service from before the
    cart's meters were on record one measure is enough, and the calendar is one."""
    counts = [kind for kind in UNITS if getattr(plan, kind) is not None]
    for kind in counts:
        if read[kind] is None and meter_at(cart, kind, at=done_at) is not None:
            raise ReadingWanted(
                f"Read the {UNITS[kind]} on cart {cart.fleet_number}: the {plan.name} counts by them.",
                field=kind,
            )
    if plan.months is not None or any(read[kind] is not None for kind in counts):
        return
    metered = set(cart.meters.filter(kind__in=counts).values_list("kind", flat=True))
    if wanted := [kind for kind in counts if kind in metered]:
        what = " or ".join(UNITS[kind] for kind in wanted)
        raise ReadingWanted(
            f"Give the {what} that cart {cart.fleet_number} had at that service: the {plan.name} counts by nothing else. "
            "Where nobody knows, leave it out: it counts from the first reading on record.",
            field=wanted[0],
        )


def keep_readings(done: ServiceDone, read: Read) -> None:
    """Keep each figure as a reading of the meter then fitted; AgainstARule for one that does not fit its neighbours.

    The day a meter was put on record is often the day the cart was: an earlier figure cannot be a reading of it. It stays
    on the service alone, in that meter's count, and only has to lie below its first reading.
    """
    for kind, value in read.items():
        if value is None:
            continue
        if meter_at(done.cart, kind, at=done.done_at) is None:
            if doubt := _early_doubt(done, kind, value):
                raise AgainstARule(doubt, field=kind)
            continue
        reading = derive_meter_reading(
            cart=done.cart, kind=kind, value=value, read_at=done.done_at, source=("service_done", done.pk)
        )
        if isinstance(reading, ReadingQuestion):
            raise AgainstARule(reading.question, field=kind)


def _early_doubt(done: ServiceDone, kind: str, value: Decimal) -> str:
    first = (
        MeterReading.objects.filter(meter__cart=done.cart, meter__kind=kind, read_at__gt=done.done_at)
        .order_by("read_at", "value")
        .first()
    )
    after = (first.read_at, first.value) if first else None
    doubt = meter_doubt(kind, value, read_at=done.done_at, before=None, after=after)
    return (
        f"{doubt} Before a meter is on record here, give what that meter would have shown." if doubt else ""
    )
