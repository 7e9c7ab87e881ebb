"""The list of one service over all its carts: what is on record of each, and a row to fill in beside it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.http import QueryDict

from fleet.models.carts import Cart, Meter
from people.templatetags.screen import quantity
from servicing.last_done_forms import LastDoneForm
from servicing.models.plans import ServiceDone, ServicePlan
from servicing.service_book import latest_done
from servicing.service_due import UNITS, Meters, meters_now


@dataclass(frozen=True)
class LastDoneRow:
    """One cart: `last` is its latest service on record, or None; `now` what its meters show."""

    cart: Cart
    last: ServiceDone | None
    now: str
    form: LastDoneForm


def kinds_of(plan: ServicePlan) -> list[str]:
    """The meters a service counts by."""
    return [kind for kind in UNITS if getattr(plan, kind) is not None]


def _now(cart: Cart, kinds: Sequence[str], meters: Meters) -> str:
    shown = [(meters.get((cart.pk, kind)), UNITS[kind]) for kind in kinds]
    return ", ".join(quantity(value, unit) for value, unit in shown if value is not None)


def rows_of(
    carts: Sequence[Cart], plan: ServicePlan, *, typed: QueryDict | None = None, at: datetime
) -> list[LastDoneRow]:
    """A row for each cart, in three queries."""
    kinds, last = kinds_of(plan), latest_done(carts, at=at, name=plan.name)
    meters = meters_now([cart.pk for cart in carts], at=at)
    fitted: defaultdict[UUID, set[str]] = defaultdict(set)
    now_on = Meter.objects.filter(cart__in=carts, kind__in=kinds, removed_at=None)
    for cart_id, kind in now_on.values_list("cart_id", "kind"):
        fitted[cart_id].add(kind)
    return [
        LastDoneRow(
            cart,
            last.get((cart.pk, plan.name)),
            _now(cart, kinds, meters),
            LastDoneForm(typed, cart=cart, kinds=fitted[cart.pk]),
        )
        for cart in carts
    ]
