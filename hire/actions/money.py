"""Rate cards, the terms agreed for a hire, charges beside it, and the dockets made of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db import connection, transaction

from fleet.models.carts import Cart
from hire.actions.deposits import record_deposit, standing_deposit
from hire.actions.terms import NotChargeable, checked_terms
from hire.charge_facts import (
    charge_ends_at,
    charges_to,
    docket_body,
    dockets_of,
    due_through,
    shifts_charged,
    terms_of,
)
from hire.docket_words import beside_the_lines
from hire.models.agreements import Agreement, Line
from hire.models.disputes import DisputeOutcome
from hire.models.money import AgreedTerms, BesideCharge, Docket, RateCard
from hire.models.operators import WetHire
from hire.swaps import line_now, lines_together
from hire.terms_text import body_of, terms_from
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import NotAllowed, Refusal
from people.roles import DESK, MANAGERS
from people.say import say_all
from people.yard import yard_day

NUMBER_LOCK = 7_245_304


class NoTermsAgreed(Refusal):
    """Nothing is charged before the rate is agreed."""


class StillToCome(Refusal):
    """A docket charges days that have been."""


class NothingToCharge(Refusal):
    """A docket up to that day would say nothing new."""


class ChargedBeyond(Refusal):
    """A docket before charged later days; one up to a day before would credit what was hired."""

    field = "through"


class StruckAlready(Refusal):
    """The charge is struck out already."""


def _check_desk(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk agrees rates and makes dockets.")


class GivenUpAlready(Refusal):
    """What was given up of the charge would be credited twice."""


@transaction.atomic
def set_card(
    *,
    name: str,
    cart: Cart | None,
    litres_from: int,
    typed: Mapping[str, Any],
    starts_on: date,
    by: Staff,
    at: datetime,
) -> RateCard:
    """Set the prices for a cart, or for carts from so many litres, from a day on; the card in force ends that day.

    typed: the fields of terms_text.FIELDS, rates as {days: price}. NotAllowed; NotChargeable for prices that make no sense or a
    day before the card in force began.
    """
    if not by.has_role(MANAGERS | DESK):
        raise NotAllowed("The hire desk and managers set prices.")
    body = body_of(typed)
    try:
        terms_from(body, rule="best rate")
    except ValueError as error:
        raise NotChargeable(str(error), field="rates") from error
    old = (
        RateCard.objects.select_for_update(of=("self",))
        .filter(cart=cart, litres_from=litres_from, ends_on=None)
        .first()
    )
    if old is not None:
        if starts_on < old.starts_on:
            raise NotChargeable(
                f"The card in force began on {old.starts_on:%-d %b %Y}. Start the new prices after it.",
                field="starts_on",
            )
        old.ends_on = starts_on
        old.save(update_fields=["ends_on"])
    card = RateCard(
        name=name, cart=cart, litres_from=litres_from, body=body, starts_on=starts_on, made_at=at, made_by=by
    )
    card.save(force_insert=True)
    write_journal(
        event=Event.RATES_SET, subject=("rate_card", card.pk), chains=[YARD], by=by, at=at,
        facts={"name": name, "cart": cart.fleet_number if cart else "", "litres_from": litres_from, "starts_on": starts_on} | body,
    )  # fmt: skip
    return card


@transaction.atomic
def end_card(*, card: RateCard, by: Staff, at: datetime) -> RateCard:
    """End a card today. What was agreed by it stands. NotAllowed. Ended already, it stays so."""
    if not by.has_role(MANAGERS | DESK):
        raise NotAllowed("The hire desk and managers set prices.")
    card = RateCard.objects.select_for_update(of=("self",)).get(pk=card.pk)
    if card.ends_on is None:
        card.ends_on = max(yard_day(at), card.starts_on)
        card.save(update_fields=["ends_on"])
        write_journal(
            event=Event.RATES_ENDED, subject=("rate_card", card.pk), chains=[YARD], by=by, at=at, facts={"name": card.name}
        )  # fmt: skip
    return card


@transaction.atomic
def agree_terms(
    *, line: Line, rule: str, typed: Mapping[str, Any], card_name: str = "", words: str = "", by: Staff, at: datetime
) -> AgreedTerms:  # fmt: skip
    """Write down what was agreed for one cart's hire; a later agreement counts from then on for all of it.

    The prices of wet hire count only where the cart goes with an operator, and are asked for there. NotAllowed; NotChargeable for
    terms that make no sense, or a hire that is cancelled.
    """
    _check_desk(by)
    line = Line.objects.locked(line.pk)
    if line.cancelled_at is not None:
        raise NotChargeable(f"{line} is cancelled: there is nothing to agree.")
    # What a docket charged stays as charged: shifts that were changed since are charged beside it.
    shifts = shifts_charged(line) or line.agreement.shifts_a_day
    is_wet = WetHire.objects.filter(line=line).exists()
    body, _ = checked_terms(typed, rule=rule, shifts=shifts, is_wet=is_wet, cart=line.cart.fleet_number)
    agreed = AgreedTerms(
        line=line, rule=rule, body=body, card_name=card_name, words=words, agreed_at=at, agreed_by=by
    )
    agreed.save(force_insert=True)
    _write(Event.TERMS_AGREED, line, {"rule": rule, "card": card_name, "words": words} | body, by=by, at=at)
    return agreed


@transaction.atomic
def charge_beside(
    *, line: Line, what: str, quantity: Decimal, unit: str, unit_price: Decimal, words: str = "", is_taxed: bool = True, by: Staff,
    at: datetime,
) -> BesideCharge:  # fmt: skip
    """Charge something beside the hire. is_taxed: tax falls on it, which an accountant says.

    NotAllowed; NotChargeable for nothing, below zero, or a hire that never left.
    """
    _check_desk(by)
    line = Line.objects.locked(line.pk)
    if line.handed_over_at is None:
        raise NotChargeable(f"{line.cart.fleet_number} has not left on {line.agreement.number}.")
    if quantity <= 0 or unit_price < 0:
        raise NotChargeable("Give a quantity above zero and a price of zero or more.", field="quantity")
    beside = BesideCharge(
        line=line,
        what=what,
        quantity=quantity,
        unit=unit,
        unit_price=unit_price,
        words=words,
        is_taxed=is_taxed,
        told_at=at,
        told_by=by,
    )
    beside.save(force_insert=True)
    facts = {"what": what, "quantity": quantity, "unit": unit, "unit_price": unit_price, "words": words}
    facts |= {} if is_taxed else {"is_taxed": False}
    _write(Event.BESIDE_CHARGED, line, facts, by=by, at=at)
    return beside


@transaction.atomic
def strike_beside(*, beside: BesideCharge, why: str, by: Staff, at: datetime) -> BesideCharge:
    """Charge it no longer; a docket that had it is put right by the next one. NotAllowed; StruckAlready; GivenUpAlready."""
    _check_desk(by)
    Line.objects.select_for_update(of=("self",)).get(pk=beside.line_id)
    beside = BesideCharge.objects.select_for_update(of=("self",)).get(pk=beside.pk)
    if beside.struck_at is not None:
        raise StruckAlready(f"{beside.what} is struck out already.")
    key = f"beside {beside.pk}"
    if DisputeOutcome.objects.filter(dispute__line_key=key, given_up__gt=0).exists():
        raise GivenUpAlready(
            f"{beside.what} was given up in a dispute, wholly or in part, and is credited so. Decide it by a dispute again."
        )
    beside.struck_at, beside.struck_why = at, why
    beside.save(update_fields=["struck_at", "struck_why"])
    line = Line.objects.for_list().get(pk=beside.line_id)
    _write(Event.BESIDE_STRUCK, line, {"what": beside.what, "why": why}, by=by, at=at)
    return beside


@transaction.atomic
def make_docket(
    *, line: Line, through: date | None = None, set_off: Decimal | None = None, by: Staff, at: datetime
) -> Docket:
    """Make a docket of a hire up to a day (None: to its end, or to today while it is on hire). Written once; its file follows.
    set_off: so much of the deposit is set off against it, and printed on it.

    NotAllowed; NoTermsAgreed; NotChargeable; StillToCome; ChargedBeyond; NothingToCharge; and what record_deposit refuses.
    """
    _check_desk(by)
    if through is not None and through > line.agreement.day(at):
        raise StillToCome(
            f"{through:%-d %b %Y} is still to come, and a docket charges days that have been. Give today or a day before it.",
            field="through",
        )
    # A cart that was swapped is charged on with the one that took its place.
    line = Line.objects.locked(line_now(line).pk)
    lines = lines_together(line)
    _check_through(lines, through)
    agreed = terms_of(line)
    if agreed is None:
        raise NoTermsAgreed(
            f"No rate is agreed for {line.cart.fleet_number} on {line.agreement.number}. Agree it first."
        )
    try:
        found = charges_to(line, agreed, through=through or due_through(line, at=at))
    except ValueError as error:
        raise NotChargeable(str(error), field="through") from error
    if not found.lines:
        raise NothingToCharge(f"Nothing new is charged up to {found.through:%-d %b %Y}.", field="through")
    out = [one for one in lines if one.handed_over_at]
    # Its carts share one deposit: whoever takes of it meanwhile is waited for, so that what is printed as held is.
    Agreement.objects.select_for_update(no_key=True).get(pk=line.agreement_id)
    deposit = standing_deposit(line.agreement)
    docket = Docket(
        # A cart that has not left may be called back, and what was charged stays with the hire.
        line=out[-1], number=_next_number(at), through=found.through,
        body=say_all(
            docket_body(found) | beside_the_lines(out, agreed, found.total, deposit=deposit, set_off=set_off), but=("key",)
        ),
        net=found.net, tax=found.tax, total=found.total, is_last=found.is_last, made_at=at, made_by=by,
    )  # fmt: skip
    docket.save(force_insert=True)
    if set_off:
        words = f"With {docket.number}"
        record_deposit(
            agreement=line.agreement, kind="set_off", amount=set_off, words=words, docket=docket, by=by, at=at
        )
    enqueue(kind="hire.docket_file", subject_id=docket.pk, at=at)
    facts = {
        "number": docket.number,
        "through": docket.through,
        "net": docket.net,
        "tax": docket.tax,
        "total": docket.total,
    }
    _write(Event.DOCKET_MADE, line, facts, by=by, at=at)
    return docket


def _check_through(lines: Sequence[Line], through: date | None) -> None:
    """A day before those charged already is no end of a docket, unless the hire ended by then. ChargedBeyond."""
    last = dockets_of(lines).order_by("-through").first()
    if through is None or last is None or through >= last.through:
        return
    end = charge_ends_at(lines[-1])
    if end is None or through < end.astimezone(ZoneInfo(lines[-1].agreement.time_zone)).date():
        raise ChargedBeyond(
            f"{last.number} charged up to {last.through:%-d %b %Y} already. Give that day or a later one, or leave it blank."
        )


def _next_number(at: datetime) -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NUMBER_LOCK])
    year = yard_day(at).year
    last = Docket.objects.filter(number__startswith=f"D{year}-").order_by("-number").first()
    return f"D{year}-{int(last.number.split('-')[1]) + 1 if last else 1:05d}"


def _write(event: Event, line: Line, facts: Mapping[str, Any], *, by: Staff, at: datetime) -> None:
    write_journal(
        event=event, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id), YARD], by=by, at=at,
        facts={"agreement": line.agreement.number} | dict(facts),
    )  # fmt: skip
