"""Hire agreements and the carts promised on them."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from django.db import IntegrityError, connection, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.models.carts import Cart
from fleet.water.history import NEVER
from fleet.water_standing import standing_of
from hire.actions.clashes import (
    AlreadyPencilled,
    CartPromised,
    EndsBeforeItStarts,
    check_tank,
    clash_sentence,
    end_lapsed,
    end_pencil,
    pencil_sentence,
    standing_pencil,
)
from hire.actions.job_plans import plans_go_with
from hire.actions.needs import keep_needs
from hire.actions.quotes import take_quote
from hire.actions.site import expires_at, subject_of
from hire.actions.wet import NotWet, end_turns, follow_period, go_wet
from hire.models.agreements import Agreement, Line
from hire.models.customers import Customer
from hire.models.job_plans import JobPlan
from hire.models.operators import Operator
from hire.models.pencils import Pencil
from hire.models.quotes import Quote
from hire.site_where import Where, where_of_hire
from hire.suiting import ANY_CART, Needs
from hire.tank_order import met_by
from inspections.site_walkers import end_site_walkers, extend_site_walkers
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import NotAllowed, Refusal
from people.roles import DESK
from people.yard import yard_day

NUMBER_LOCK = 7_245_302


class CartNotInFleet(Refusal):
    """The cart has left the fleet."""

    field = "cart"


class NotForDrinkingWater(Refusal):
    """The hire is for potable water, and the cart's tank may not carry it."""

    field = "cart"


class CustomerStopped(Refusal):
    """No new hires for this customer until the accounts are settled."""

    field = "customer"


class AlreadyLeft(Refusal):
    """The cart has left the gate on this hire."""


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk makes and changes hire agreements.")


def take_turns() -> None:
    """Agreements are numbered one after the other; whoever makes several takes the turn before locking a cart."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NUMBER_LOCK])


def _next_number(at: datetime) -> str:
    take_turns()
    year = yard_day(at).year
    last = Agreement.objects.filter(number__startswith=f"H{year}-").order_by("-number").first()
    return f"H{year}-{int(last.number.split('-')[1]) + 1 if last else 1:05d}"


@transaction.atomic
def make_agreement(
    *,
    customer: Customer,
    place_of_work: str,
    leaves_by: str,
    works_on: str,
    pre_start_book: str,
    shifts_a_day: int = 1,
    is_night: bool = False,
    days_in_week: int | None = None,
    water: str = "any",
    time_zone: str = "",
    rule_set: str = "",
    holiday_region: str = "",
    order_number: str,
    cart: Cart,
    starts_at: datetime,
    ends_at: datetime,
    pencil: Pencil | None = None,
    plan: JobPlan | None = None,
    wants: Collection[str] | None = None,
    operator: Operator | None = None,
    needs: Needs = ANY_CART,
    is_this_cart: bool = False,
    quote: Quote | None = None,
    by: Staff,
    at: datetime,
) -> Line:
    """Make a hire agreement with its first cart and return that line; needs: what was asked of the cart; is_this_cart: it was asked
    for by its number.

    pencil: the cart was kept for this very caller, and is no longer; its plans of the job go with the hire, and so does plan.
    is_night: its one shift is the night's. days_in_week: 5, 6 or 7 from Monday on; None: as the yard's hires do. water: "any" or
    "potable". time_zone (a name of the tz database), rule_set, holiday_region: "", as the set of its site says, else the yard's;
    the region of another rule set the whole country's. wants, operator: as add_line has them. quote: it comes of one, and its
    terms begin as quoted. PencilOver; NotAsQuoted; UnknownZone; UnknownRegion; and what add_line refuses.
    """
    _check(by)
    _check_asked(customer, wants, operator)
    where = where_of_hire(customer, place_of_work, Where(time_zone, holiday_region, rule_set))
    agreement = Agreement(
        number=_next_number(at),
        customer=customer,
        order_number=order_number,
        place_of_work=place_of_work,
        leaves_by=leaves_by,
        works_on=works_on,
        pre_start_book=pre_start_book,
        shifts_a_day=shifts_a_day,
        is_night=is_night,
        days_in_week=days_in_week,
        water=water,
        **vars(where),
        made_at=at,
        made_by=by,
    )
    agreement.full_clean()
    agreement.save(force_insert=True)
    if pencil is not None:
        end_pencil(standing_pencil(pencil, at=at), how="promised", at=at)
    line = promise_cart(agreement, cart, starts_at, ends_at, at, is_this_cart=is_this_cart)
    more = plans_go_with(line, plan=plan, pencil=pencil, by=by, at=at) | keep_needs(line, needs)
    more |= {} if wants is None else go_wet(line, wants, operator, by=by, at=at)
    more |= {"is_this_cart": True} if is_this_cart else {}
    more |= {} if quote is None else take_quote(line, quote, by=by, at=at)
    _write(Event.AGREEMENT_MADE, line, by=by, at=at, **more)
    return line


def _check_asked(customer: Customer, wants: Collection[str] | None, operator: Operator | None) -> None:
    if operator is not None and wants is None:
        raise NotWet(
            f"{operator} is chosen and the hire is dry. Make it wet, or choose nobody.", field="operator"
        )
    if customer.is_stopped:
        raise CustomerStopped(f"{customer.name} is marked “no new hires”. Settle that with accounts first.")


def _write(event: Event, line: Line, *, by: Staff, at: datetime, **more: object) -> None:
    """The entry of a promise, in its cart's journal and the yard's."""
    write_journal(
        event=event,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id), YARD],
        by=by,
        at=at,
        facts={
            "agreement": line.agreement.number,
            "customer": line.agreement.customer.name,
            "cart": line.cart.fleet_number,
            "starts_at": line.promised.lower,
            "ends_at": line.promised.upper,
        }
        | more,
    )


def _locked(line: Line) -> Line:
    return Line.objects.locked(line.pk)


def promise_cart(
    agreement: Agreement,
    cart: Cart,
    starts_at: datetime,
    ends_at: datetime,
    at: datetime,
    *,
    is_this_cart: bool = False,
) -> Line:
    """The line of a cart promised for a period, its certificate asked for."""
    if ends_at <= starts_at:
        raise EndsBeforeItStarts("The hire ends before it starts. Correct one of the two times.")
    if cart.retired_on is not None and cart.retired_on <= yard_day(ends_at):
        raise CartNotInFleet(
            f"{cart.fleet_number} leaves the fleet on {cart.retired_on:%-d %b %Y}. Choose another cart."
        )
    # Two inserts that exclude each other wait for one another and deadlock, so desks take turns at a cart.
    Cart.objects.select_for_update(of=("self",)).get(pk=cart.pk)
    end_lapsed(cart, at=at)
    # A tank that only wants sanitising may be promised: it is held at the gate until that is done.
    if agreement.water == "potable" and (tank := standing_of(cart)).verdict == NEVER:
        raise NotForDrinkingWater(
            f"{cart.fleet_number} is not for potable water: {tank.sentence} {tank.clear_words}."
        )
    if clash := clash_sentence(cart, starts_at, ends_at, at=at):
        raise CartPromised(clash)
    check_tank(cart, agreement.water, starts_at, ends_at, at=at)
    if other := pencil_sentence(cart, starts_at, ends_at, at=at):
        raise AlreadyPencilled(other)
    promised = DateTimeTZRange(starts_at, ends_at)
    line = Line(agreement=agreement, cart=cart, promised=promised, is_this_cart=is_this_cart)
    try:
        with transaction.atomic():
            line.save(force_insert=True)
    except IntegrityError as error:
        # Somebody else's promise was committed between the look and the save: the constraint has the last word.
        raise CartPromised(
            clash_sentence(cart, starts_at, ends_at, at=at)
            or f"{cart.fleet_number} was promised to another hire this very moment. Choose another cart or period."
        ) from error
    enqueue(kind="hire.issue_certificate", subject_id=line.pk, at=at)
    return line


@transaction.atomic
def add_line(
    *,
    agreement: Agreement,
    cart: Cart,
    starts_at: datetime,
    ends_at: datetime,
    wants: Collection[str] | None = None,
    operator: Operator | None = None,
    is_this_cart: bool = False,
    by: Staff,
    at: datetime,
) -> Line:
    """Promise one more cart on an agreement. wants: wet hire, and what the site asks of the operator beside the licence; None:
    dry. operator: goes with it on the first of its shifts, for all of the hire. is_this_cart: it was asked for by its number.

    NotAllowed; NotWet; CustomerStopped; EndsBeforeItStarts; CartNotInFleet; NotForDrinkingWater; CartPromised; TankSpoilt;
    AlreadyPencilled; OperatorTaken.
    """
    _check(by)
    _check_asked(agreement.customer, wants, operator)
    line = promise_cart(agreement, cart, starts_at, ends_at, at, is_this_cart=is_this_cart)
    more: dict[str, object] = {"is_this_cart": True} if is_this_cart else {}
    more |= {} if wants is None else go_wet(line, wants, operator, by=by, at=at)
    _write(Event.LINE_ADDED, line, by=by, at=at, **more)
    return line


@transaction.atomic
def move_line(*, line: Line, starts_at: datetime, ends_at: datetime, by: Staff, at: datetime) -> Line:
    """Change a promised period. A cart already out keeps its start. NotAllowed; EndsBeforeItStarts; CartPromised;
    TankSpoilt; AlreadyPencilled."""
    _check(by)
    line = _locked(line)
    if line.cancelled_at or line.back_at:
        raise AlreadyLeft("This hire is over. Make a new agreement.")
    if line.is_out:
        starts_at = line.promised.lower
    if ends_at <= starts_at:
        raise EndsBeforeItStarts("The hire ends before it starts. Correct one of the two times.")
    Cart.objects.select_for_update(of=("self",)).get(pk=line.cart_id)
    if clash := clash_sentence(line.cart, starts_at, ends_at, at=at, but=[line.pk]):
        raise CartPromised(clash, field="ends_at")
    old = line.promised
    # What it spoils already it may go on spoiling: a cart that is out is kept for longer all the same.
    met = met_by([line.cart], line.agreement.water, old.lower, old.upper, at=at, but=[line.pk])
    so_far = [one.line.pk for one in met.get(line.cart_id, ()) if not one.is_apart]
    check_tank(
        line.cart, line.agreement.water, starts_at, ends_at, at=at, but=[line.pk, *so_far], field="ends_at"
    )
    if other := pencil_sentence(line.cart, starts_at, ends_at, at=at):
        raise AlreadyPencilled(other, field="ends_at")
    line.promised = DateTimeTZRange(starts_at, ends_at)
    try:
        with transaction.atomic():
            line.save(update_fields=["promised"])
    except IntegrityError as error:
        raise CartPromised(
            f"{line.cart.fleet_number} was promised to another hire this very moment. Choose another period."
        ) from error
    follow_period(line, old, at=at)
    extend_site_walkers(subject=subject_of(line), expires_at=expires_at(line, at=at))
    _write(Event.LINE_MOVED, line, by=by, at=at, before=[old.lower, old.upper])
    return line


@transaction.atomic
def cancel_line(*, line: Line, why: str, by: Staff, at: datetime) -> Line:
    """Cancel a promise that has not left. NotAllowed; AlreadyLeft."""
    _check(by)
    line = _locked(line)
    if line.handed_over_at is not None:
        raise AlreadyLeft(
            f"{line.cart.fleet_number} has left on this hire. Record it back in the yard instead."
        )
    if line.cancelled_at is not None:
        return line
    line.cancelled_at, line.cancelled_why = at, why
    line.save(update_fields=["cancelled_at", "cancelled_why"])
    end_turns(line, why="The hire is cancelled", at=at)
    end_site_walkers(subject=subject_of(line), by=by, at=at)
    _write(Event.LINE_CANCELLED, line, by=by, at=at, why=why)
    return line
