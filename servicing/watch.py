"""What servicing watches day and night: extinguisher service dates, and tyres due for replacement."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from django.db.models import Count, Max, Min, Prefetch, Q, QuerySet
from django.db.models.functions import Coalesce

from fleet.alerts.rules import Condition
from fleet.models.equipment import Extinguisher, ExtinguisherService
from fleet.models.wheels import TyreFitting
from fleet.sentences import day_words, source_words
from fleet.tread_limits import legal_limit, withdrawal_limit
from people.roles import Role
from people.templatetags.screen import day_year
from people.yard import at_local, yard_day, yard_policy
from servicing.due import services_due
from servicing.extinguishers import AGENTS, KIND_WORDS, counts_for, last_start

# Raised this far above the change-out depth, so that a tyre can be ordered; from field practice, no source.
EARLY_MM = Decimal("1.0")


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
            else f"{item.cart.fleet_number}: the {KIND_WORDS[soonest.kind]} of extinguisher {item.serial} {when}.",
            how_we_know="It was found so at a check and has not been serviced since."
            if item.is_discharged
            else f"Its tag and plate as recorded; interval by {source_words(soonest.source)}.",
            if_not="The cart may not leave the gate until it is serviced or swapped for a charged spare.",
            due_at=at_local(soonest.on, time.min),
            act="See its services",
        )


def tyres_due(at: datetime) -> Iterator[Condition]:
    """Tyres whose least believed depth is near or under the change-out depth; only a tyre change clears it.

    The least of all readings is used, so a gauge that reads half a millimetre more next time clears nothing. Near
    the limit two readings are wanted; under it one is enough. One query.
    """
    policy = yard_policy()
    fittings = (
        TyreFitting.objects.filter(period__upper_inf=True, wheel_position__cart__retired_on=None)
        .annotate(
            least_mm=Min("tread_readings__depth_mm"),
            count=Count("tread_readings"),
            last_at=Max("tread_readings__read_at"),
        )
        .filter(Q(least_mm__lte=max(policy.tread_steer_mm, policy.tread_other_mm, Decimal(5)) + EARLY_MM))
        .select_related("wheel_position__cart", "tyre")
    )
    for fitting in fittings:
        position, cart = fitting.wheel_position, fitting.wheel_position.cart
        place = "steer" if position.steers else "other"
        yard_mm = policy.tread_steer_mm if position.steers else policy.tread_other_mm
        change_out = withdrawal_limit(rule_set=policy.rule_set, position=place, yard_mm=yard_mm)
        legal = legal_limit(rule_set=policy.rule_set, position=place)
        depth: Decimal = fitting.least_mm
        near = depth < change_out.depth_mm + EARLY_MM and fitting.count >= 2
        if change_out.is_met_by(depth) and not near:
            continue
        rank = (
            "stop" if not legal.is_met_by(depth) else "today" if not change_out.is_met_by(depth) else "soon"
        )
        readings = f"{fitting.count} depth reading{'s' if fitting.count != 1 else ''}"
        yield Condition(
            subject_kind="tyre_fitting",
            subject_id=fitting.pk,
            cart_id=cart.pk,
            rank=rank,
            for_role=Role.WORKSHOP_MANAGER,
            what=f"{cart.fleet_number}: the tyre at {position.words} is down to {depth} mm; "
            f"change out at {change_out.depth_mm.normalize():f} mm.",
            how_we_know=f"{readings}, the last {day_words(fitting.last_at, at=at)}; "
            f"legal {legal.as_written} ({source_words(legal.source)}).",
            if_not="Under the change-out depth the cart does not leave; under the legal depth nobody may pass it.",
        )
