"""What servicing watches day and night: extinguisher service dates. Tyres and wheel nuts are servicing.wheel_watch's."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from django.db.models import Max, Prefetch, Q, QuerySet
from django.db.models.functions import Coalesce

from fleet.alerts.rules import Condition
from fleet.models.equipment import Extinguisher, ExtinguisherService
from fleet.sentences import source_words
from people.roles import Role
from people.templatetags.screen import day_year
from people.yard import at_local, yard_day, yard_policy
from servicing.due import services_due
from servicing.extinguishers import AGENTS, DUE_WORDS, LIFE_MONTHS, counts_for, last_start


def _near_due(*, today: date, lead: timedelta) -> QuerySet[Extinguisher]:
    """Extinguishers on carts that are used, or of which some service falls due by the end of the lead time. Counted by the
    database as `due_dates` counts, so that of ten thousand only those near due are ever loaded."""
    by, regime = today + lead, yard_policy().rule_set
    counts = {
        agent: [one for one in counts_for(regime=regime, agent=agent) if one.kind != "monthly_look"]
        for agent in AGENTS
    }
    done: dict[frozenset[str], str] = {}
    is_near = Q(is_discharged=True)
    for agent, kinds in counts.items():
        for one in kinds:
            name = done.setdefault(one.counts, f"counts_from_{len(done)}")
            is_near |= Q(agent=agent) & Q(**{f"{name}__lte": last_start(by, one.months)})
    if life := LIFE_MONTHS.get(regime):
        is_near |= Q(made_on__lte=last_start(by, life))
    started = {
        name: Coalesce(
            Max("services__on", filter=Q(services__kind__in=sorted(kinds), services__on__lte=today)),
            "made_on",
        )
        for kinds, name in done.items()
    }
    aboard = Extinguisher.objects.filter(cart__isnull=False, cart__retired_on=None)
    return aboard.filter(pk__in=aboard.annotate(**started).filter(is_near).order_by().values("pk"))


def extinguishers_due(at: datetime) -> Iterator[Condition]:
    """Extinguishers on carts that are used, or whose next service falls due within the yard's lead time or is past.

    Two queries.
    """
    today, lead = yard_day(at), yard_policy().extinguisher_lead
    services = Prefetch("services", ExtinguisherService.objects.order_by("on"))
    for item in _near_due(today=today, lead=lead).select_related("cart").prefetch_related(services):
        assert item.cart is not None
        soonest = services_due(item, on=today)[0]
        left = soonest.on - today
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
            else f"{item.cart.fleet_number}: the {DUE_WORDS[soonest.kind]} of extinguisher {item.serial} {when}.",
            how_we_know="It was found so at a check and has not been serviced since."
            if item.is_discharged
            else f"Its tag and plate as recorded; interval by {source_words(soonest.source)}.",
            if_not="The cart may not leave the gate until it is serviced or swapped for a charged spare.",
            due_at=at_local(soonest.on, time.min),
            act="See its services",
        )
