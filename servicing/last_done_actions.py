"""One service written down for many carts at once, from the yard's own list: all of it, or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.db.models import prefetch_related_objects

from fleet.actions.locks import ask_role
from fleet.models.carts import Cart
from people.models import Staff
from people.refusals import Refusal
from people.roles import WORKSHOP
from people.templatetags.screen import day_year
from people.yard import at_local, yard_day
from servicing.models.plans import ServiceDone, ServicePlan
from servicing.service_actions import RECORDED_BY, DoneAlready, enter_service, write_down
from servicing.service_book import plans_in_force, reckon_services

NOON = time(12)
FROM_THE_LIST = "From the yard’s list: the day was given, not the hour."


class SomeDoNotFit(Refusal):
    """Nothing was recorded. `refused`: what was wrong, by cart."""

    def __init__(self, refused: dict[UUID, Refusal]) -> None:
        many = len(refused) > 1
        what = f"{len(refused)} carts do not fit" if many else "1 cart does not fit"
        do = "put them right, or empty their rows" if many else "put it right, or empty its row"
        super().__init__(f"{what}. Nothing is recorded yet: {do}.")
        self.refused = refused


@dataclass(frozen=True)
class LastDone:
    """A row of the list: the day a cart's service was done, and what its meters showed; None: nobody knows."""

    cart_id: UUID
    on: date
    engine_hours: Decimal | None = None
    km: Decimal | None = None


def _moment(on: date, at: datetime) -> datetime:
    """Noon stands for a day whose hour nobody wrote down; of today no more than has passed."""
    noon = at_local(on, NOON)
    return min(noon, at) if on == yard_day(at) else noon


def _days_done(plan: ServicePlan, carts: Sequence[Cart]) -> set[tuple[UUID, date]]:
    done = ServiceDone.objects.filter(cart__in=carts, plan__name=plan.name, struck_at=None)
    return {(cart_id, yard_day(done_at)) for cart_id, done_at in done.values_list("cart_id", "done_at")}


@transaction.atomic
def record_services(
    *, plan: ServicePlan, rows: Sequence[LastDone], by_words: str = "", by: Staff, at: datetime
) -> list[ServiceDone]:
    """Record one service as done on many carts, a row a cart, each as record_service would; and reckon them anew.

    by_words: who did them, where that was not the writer. NotAllowed; SomeDoNotFit when any row is refused, DoneAlready
    for a day that has this service included: then none is recorded.
    """
    ask_role(by, WORKSHOP, RECORDED_BY)
    of_cart = {row.cart_id: row for row in rows}
    locked = Cart.objects.select_for_update(of=("self",), no_key=True)
    carts = list(locked.filter(pk__in=of_cart).order_by("pk"))
    plans, days = plans_in_force(), _days_done(plan, carts)
    prefetch_related_objects([plan], "includes")
    written, refused = [], {}
    for cart in carts:
        row = of_cart[cart.pk]
        done = ServiceDone(
            cart=cart, plan=plan, done_at=_moment(row.on, at), engine_hours=row.engine_hours, km=row.km, by=by,
            by_words=by_words.strip() or by.full_name, words=FROM_THE_LIST, recorded_at=at,
        )  # fmt: skip
        try:
            if (cart.pk, row.on) in days:
                raise DoneAlready(
                    f"The {plan.name} of cart {cart.fleet_number} on {day_year(row.on)} is on record already."
                )
            with transaction.atomic():
                written.append(write_down(done, plans=plans, at=at))
        except Refusal as no:
            refused[cart.pk] = no
    if refused:
        raise SomeDoNotFit(refused)
    reckon_services(carts=carts, at=at)
    # Carts and chains are taken in the same order, so two lists at once wait for each other and never cross.
    for done, parts in written:
        enter_service(done, parts, by=by, at=at)
    return [done for done, _ in written]
