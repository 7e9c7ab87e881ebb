"""Services that come round: planned, recorded as done, struck out, and booked for a workshop day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.models.carts import Cart
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import MANAGERS, WORKSHOP
from people.yard import yard_day
from servicing.models.plans import ServiceDone, ServicePlan, Visit
from servicing.service_book import plans_in_force, plans_of, reckon_services
from servicing.service_readings import check_readings, keep_readings

RECORDED_BY = "Services are recorded by a fitter or a manager."
PLANS_ARE = "The workshop manager or fleet manager plans services."


class NotForThisCart(Refusal):
    """That service does not come round for this cart."""

    field = "plan"


class DoneAlready(Refusal):
    """The same service, written down twice."""


class StruckAlready(Refusal):
    """Somebody struck it out already."""


class DayHasPassed(Refusal):
    """A workshop day lies ahead."""

    field = "on"


class VisitGone(Refusal):
    """The workshop day was cancelled already."""


@dataclass(frozen=True)
class PlanDetails:
    """A service as planned. engine_hours, km, months: None where it does not count by that; tolerance in hundredths."""

    name: str
    engine_hours: int | None
    km: int | None
    months: int | None
    cart: Cart | None = None
    make: str = ""
    model: str = ""
    tolerance_pct: int = 10
    stops: bool = True
    set_by: str = "maker"
    source_words: str = ""
    minutes: int = 120
    tasks: str = ""


def _facts(plan: ServicePlan, includes: Sequence[ServicePlan]) -> dict[str, object]:
    names = (
        "name",
        "make",
        "model",
        "engine_hours",
        "km",
        "months",
        "tolerance_pct",
        "stops",
        "set_by",
        "source_words",
        "tasks",
    )
    return {name: getattr(plan, name) for name in names} | {"includes": [one.name for one in includes]}


def _keep_plan(
    plan: ServicePlan, includes: Sequence[ServicePlan], event: Event, *, by: Staff, at: datetime
) -> ServicePlan:
    check_fields(plan)
    with rules_of(ServicePlan):
        plan.save()
    if plan in includes:
        raise AgainstARule("A service does not include itself.", field="includes")
    plan.includes.set(includes)
    write_journal(
        event=event,
        subject=("service_plan", plan.pk),
        chains=[cart_chain(plan.cart_id) if plan.cart_id else YARD],
        by=by,
        at=at,
        facts=_facts(plan, includes),
    )
    return plan


@transaction.atomic
def add_plan(
    *, details: PlanDetails, includes: Sequence[ServicePlan] = (), by: Staff, at: datetime
) -> ServicePlan:
    """Plan a service that comes round. NotAllowed; AgainstARule without an interval, or for a name planned already."""
    ask_role(by, MANAGERS, PLANS_ARE)
    plan = ServicePlan(**_columns(details))
    return _keep_plan(plan, includes, Event.SERVICE_PLAN_ADDED, by=by, at=at)


@transaction.atomic
def change_plan(
    *, plan: ServicePlan, details: PlanDetails, includes: Sequence[ServicePlan] = (), by: Staff, at: datetime
) -> ServicePlan:
    """Change a planned service; what was done by it stays. NotAllowed; AgainstARule as for a new one."""
    ask_role(by, MANAGERS, PLANS_ARE)
    plan = ServicePlan.objects.select_for_update(of=("self",)).get(pk=plan.pk)
    for name, value in _columns(details).items():
        setattr(plan, name, value)
    return _keep_plan(plan, includes, Event.SERVICE_PLAN_CHANGED, by=by, at=at)


def _columns(details: PlanDetails) -> dict[str, Any]:
    return {one.name: getattr(details, one.name) for one in fields(details)}


@transaction.atomic
def end_plan(*, plan: ServicePlan, by: Staff, at: datetime) -> ServicePlan:
    """End a planned service: it comes round no more, what was done by it stays. NotAllowed. Ended already, it stays so."""
    ask_role(by, MANAGERS, PLANS_ARE)
    plan = ServicePlan.objects.select_for_update(of=("self",)).get(pk=plan.pk)
    if plan.ended_on is not None:
        return plan
    plan.ended_on = yard_day(at)
    plan.save(update_fields=["ended_on"])
    plan.dues.all().delete()
    write_journal(
        event=Event.SERVICE_PLAN_ENDED,
        subject=("service_plan", plan.pk),
        chains=[cart_chain(plan.cart_id) if plan.cart_id else YARD],
        by=by,
        at=at,
        facts={"name": plan.name},
    )
    return plan


def _parts_of(done: ServiceDone, plans: Sequence[ServicePlan]) -> list[ServiceDone]:
    """The smaller services that this one includes, as done with it, but for those written down for that time already."""
    coming = {plan.name: plan for plan in plans}
    there = ServiceDone.objects.filter(cart=done.cart, done_at=done.done_at, struck_at=None)
    named = {one.name for one in done.plan.includes.all()} & coming.keys()
    named -= set(there.values_list("plan__name", flat=True))
    return [
        ServiceDone(
            cart=done.cart, plan=coming[name], done_at=done.done_at, engine_hours=done.engine_hours, km=done.km,
            by=done.by, by_words=done.by_words, within=done, recorded_at=done.recorded_at,
        )
        for name in sorted(named)
    ]  # fmt: skip


def write_down(
    done: ServiceDone, *, plans: Sequence[ServicePlan], at: datetime
) -> tuple[ServiceDone, list[ServiceDone]]:
    """Save a service of a locked cart, with those it includes and its readings. The caller reckons and writes the journal.

    plans: those in force. Refusals as of record_service.
    """
    cart, plan = done.cart, done.plan
    plans = plans_of(cart, plans)
    if plan not in plans:
        raise NotForThisCart(f"The {plan.name} does not come round for cart {cart.fleet_number}.")
    if done.done_at > at:
        raise AgainstARule(
            "A service is recorded once it is done: give a time that has passed.", field="done_at"
        )
    if yard_day(done.done_at).year < cart.build_year:
        raise AgainstARule(
            f"Cart {cart.fleet_number} was built in {cart.build_year}: give a day since then.",
            field="done_at",
        )
    read = {"engine_hours": done.engine_hours, "km": done.km}
    check_readings(cart, plan, read, done.done_at)
    if ServiceDone.objects.filter(cart=cart, plan=plan, done_at=done.done_at, struck_at=None).exists():
        raise DoneAlready(f"The {plan.name} of cart {cart.fleet_number} is on record for that time already.")
    check_fields(done)
    with rules_of(ServiceDone):
        done.save(force_insert=True)
        parts = ServiceDone.objects.bulk_create(_parts_of(done, plans))
    keep_readings(done, read)
    return done, parts


def enter_service(done: ServiceDone, parts: Sequence[ServiceDone], *, by: Staff, at: datetime) -> None:
    """The journal's entry of a service as done."""
    write_journal(
        event=Event.SERVICE_DONE,
        subject=("service_done", done.pk),
        chains=[cart_chain(done.cart_id)],
        by=by,
        at=at,
        facts={
            "name": done.plan.name, "done_at": done.done_at, "engine_hours": done.engine_hours, "km": done.km,
            "by": done.by_words, "words": done.words, "cost": done.cost, "with": [one.plan.name for one in parts],
        },
    )  # fmt: skip


@transaction.atomic
def record_service(
    *,
    cart: Cart,
    plan: ServicePlan,
    done_at: datetime,
    engine_hours: Decimal | None = None,
    km: Decimal | None = None,
    by_words: str = "",
    words: str = "",
    cost: Decimal | None = None,
    by: Staff,
    at: datetime,
) -> ServiceDone:
    """Record a service as done, with those it includes, and reckon the cart's services anew.

    by_words: who did it, where that was not the writer (an outside firm). NotAllowed; NotForThisCart; ReadingWanted when
    it counts by a meter the cart has; DoneAlready; AgainstARule for a time to come, one before the cart was built, or a
    reading that does not fit.
    """
    ask_role(by, WORKSHOP, RECORDED_BY)
    cart = lock_cart(cart)
    done = ServiceDone(
        cart=cart, plan=plan, done_at=done_at, engine_hours=engine_hours, km=km, by=by,
        by_words=by_words.strip() or by.full_name, words=words.strip(), cost=cost, recorded_at=at,
    )  # fmt: skip
    done, parts = write_down(done, plans=plans_in_force(), at=at)
    reckon_services(carts=[cart], at=at)
    enter_service(done, parts, by=by, at=at)
    return done


@transaction.atomic
def strike_service(*, done: ServiceDone, words: str, by: Staff, at: datetime) -> ServiceDone:
    """Strike out a service written down wrongly, with those it included; it stays on record and counts for nothing.

    NotAllowed; StruckAlready; AgainstARule without words.
    """
    ask_role(by, MANAGERS, "A service is struck out by the workshop manager or fleet manager.")
    cart = lock_cart(done.cart)
    done = ServiceDone.objects.select_for_update(of=("self",)).select_related("plan").get(pk=done.pk)
    if done.struck_at is not None:
        raise StruckAlready(f"This {done.plan.name} of cart {cart.fleet_number} was struck out already.")
    if not words.strip():
        raise AgainstARule("Write what was wrong with it: the record keeps both.", field="words")
    struck = {"struck_at": at, "struck_by": by, "struck_words": words.strip()}
    done.parts.filter(struck_at=None).update(**struck)
    for name, value in struck.items():
        setattr(done, name, value)
    done.save(update_fields=list(struck))
    reckon_services(carts=[cart], at=at)
    write_journal(
        event=Event.SERVICE_STRUCK,
        subject=("service_done", done.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={"name": done.plan.name, "done_at": done.done_at, "words": words.strip()},
    )
    return done


@transaction.atomic
def book_visit(
    *, cart: Cart, on: date, where: str, words: str, minutes: int = 60, by: Staff, at: datetime
) -> Visit:
    """Book a cart for the workshop, or a fitter to come to it, on a day of the yard. The same day again changes what for.

    NotAllowed; DayHasPassed; AgainstARule without words.
    """
    ask_role(by, MANAGERS, "Workshop days are booked by the workshop manager or fleet manager.")
    cart = lock_cart(cart)
    if on < yard_day(at):
        raise DayHasPassed(f"That day has passed. Choose a day to come for cart {cart.fleet_number}.")
    if not words.strip():
        raise AgainstARule("Say what it comes in for.", field="words")
    visit = Visit.objects.filter(cart=cart, on=on, cancelled_at=None).first() or Visit(
        cart=cart, on=on, booked_at=at, booked_by=by
    )
    visit.where, visit.words, visit.minutes = where, words.strip()[:240], minutes
    check_fields(visit)
    with rules_of(Visit):
        visit.save()
    write_journal(
        event=Event.VISIT_BOOKED,
        subject=("visit", visit.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={"on": on, "where": where, "words": visit.words},
    )
    return visit


@transaction.atomic
def cancel_visit(*, visit: Visit, by: Staff, at: datetime) -> Visit:
    """Cancel a workshop day. NotAllowed; VisitGone."""
    ask_role(by, MANAGERS, "Workshop days are cancelled by the workshop manager or fleet manager.")
    visit = Visit.objects.select_for_update(of=("self",)).select_related("cart").get(pk=visit.pk)
    if visit.cancelled_at is not None:
        raise VisitGone(f"The workshop day of cart {visit.cart.fleet_number} was cancelled already.")
    visit.cancelled_at, visit.cancelled_by = at, by
    visit.save(update_fields=["cancelled_at", "cancelled_by"])
    write_journal(
        event=Event.VISIT_CANCELLED,
        subject=("visit", visit.pk),
        chains=[cart_chain(visit.cart_id)],
        by=by,
        at=at,
        facts={"on": visit.on, "words": visit.words},
    )
    return visit
