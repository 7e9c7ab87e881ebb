"""What servicing watches day and night: extinguisher service dates. Tyres and wheel nuts are servicing.wheel_watch's."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time, timedelta

from django.db.models import Prefetch

from fleet.alerts.rules import Condition
from fleet.models.equipment import Extinguisher, ExtinguisherService
from fleet.sentences import source_words
from people.roles import Role
from people.templatetags.screen import day_year
from people.yard import at_local, yard_day, yard_policy
from servicing.due import services_due
from servicing.extinguishers import KIND_WORDS


def extinguishers_due(at: datetime) -> Iterator[Condition]:
    """Extinguishers on carts that are used, or whose next service falls due within the yard's lead time or is past.

    Two queries.
    """
    today = yard_day(at)
    services = Prefetch("services", ExtinguisherService.objects.order_by("on"))
    for item in (
        Extinguisher.objects.filter(cart__isnull=False, cart__retired_on=None)
        .select_related("cart")
        .prefetch_related(services)
    ):
        if item.cart is None:
            continue
        soonest = services_due(item, on=today)[0]
        left = soonest.on - today
        if left > yard_policy().extinguisher_lead and not item.is_discharged:
            continue
        overdue = left <= timedelta(0)
        when = f"{'fell' if overdue else 'falls'} due on {day_year(soonest.on)}"
        yield Condition(
            subject_kind="extinguisher",
            subject_id=item.pk,
            cart_id=item.cart_id,
            rank="stop"
            if overdue or item.is_discharged
            else "today"
            if left <= timedelta(days=7)
            else "soon",
            for_role=Role.WORKSHOP_MANAGER,
            what=f"{item.cart.fleet_number}: extinguisher {item.serial} is used or out of the green."
            if item.is_discharged
            else f"{item.cart.fleet_number}: the {KIND_WORDS[soonest.kind]} of extinguisher {item.serial} {when}.",
            how_we_know="It was found so at a check and has not been serviced since."
            if item.is_discharged
            else f"Its tag and plate as recorded; interval by {source_words(soonest.source)}.",
            if_not="The cart may not leave the gate until it is serviced or swapped for a charged spare.",
            due_at=at_local(soonest.on, time.min),
        )
