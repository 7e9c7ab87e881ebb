"""The operators of wet hire and their tickets."""

from __future__ import annotations

from datetime import date, datetime

from django.db import IntegrityError, transaction

from fleet.models.photos import Photo
from hire.licences import CLASSES
from hire.models.customers import Customer
from hire.models.operators import Operator, OperatorTurn, Ticket
from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK
from people.yard import yard_policy


class OperatorKnown(Refusal):
    """The operator is in the book already."""

    field = "staff"


class OperatorUnclear(Refusal):
    """Neither one of the yard's people, nor a name with a firm."""

    field = "name"


class OperatorBusy(Refusal):
    """The operator is put down for hires to come."""


class TicketUnclear(Refusal):
    """The ticket does not say what it is; the sentence says what is wanting."""


class TicketStruck(Refusal):
    """The ticket is struck out already."""


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk and the fleet manager keep the operators and their tickets.")


def _facts(operator: Operator) -> dict[str, object]:
    return {"operator": str(operator), "is_outside": operator.staff_id is None}


@transaction.atomic
def add_operator(
    *, staff: Staff | None = None, name: str = "", firm: str = "", phone: str = "", by: Staff, at: datetime
) -> Operator:
    """Put one of the yard's people in the book of operators, or an outside one; one taken out before comes back.

    NotAllowed; OperatorUnclear; OperatorKnown.
    """
    _check(by)
    name, firm = name.strip(), firm.strip()
    if staff is not None and (name or firm):
        raise OperatorUnclear("Choose one of the yard’s people, or write a name and a firm: not both.")
    if staff is None and not (name and firm):
        raise OperatorUnclear("Choose one of the yard’s people, or write a name and a firm.")
    known = Operator.objects.select_for_update(of=("self",)).filter(staff=staff)
    if staff is None:
        known = known.filter(name__iexact=name, firm__iexact=firm)
    operator = known.first()
    if operator is not None and operator.ended_at is None:
        raise OperatorKnown(f"{operator} is in the book already.", field="staff" if staff else "name")
    operator = operator or Operator(staff=staff, name=name, firm=firm, added_at=at, added_by=by)
    operator.phone, operator.ended_at = phone.strip() or operator.phone, None
    try:
        with transaction.atomic():
            operator.save()
    except IntegrityError as error:
        raise OperatorKnown("This operator was added this very moment.") from error
    write_journal(
        event=Event.OPERATOR_ADDED, subject=("operator", operator.pk), by=by, at=at, facts=_facts(operator)
    )
    return operator


@transaction.atomic
def end_operator(*, operator: Operator, by: Staff, at: datetime) -> Operator:
    """Take an operator out of the book; what they drove stays. NotAllowed; OperatorBusy. Ended already, it stays so."""
    _check(by)
    operator = Operator.objects.select_for_update(of=("self",)).select_related("staff").get(pk=operator.pk)
    if operator.ended_at is not None:
        return operator
    turn = OperatorTurn.objects.to_come(at=at).filter(operator=operator).for_list().first()
    if turn is not None:
        raise OperatorBusy(
            f"{operator} is put down with {turn.line.cart.fleet_number} on {turn.line.agreement.number}. "
            "Take them off that hire first."
        )
    operator.ended_at = at
    operator.save(update_fields=["ended_at"])
    operator.links.filter(revoked_at=None).update(revoked_at=at)
    write_journal(
        event=Event.OPERATOR_ENDED, subject=("operator", operator.pk), by=by, at=at, facts=_facts(operator)
    )
    return operator


@transaction.atomic
def record_ticket(
    *, operator: Operator, kind: str, licence_class: str = "", words: str = "", number: str = "",
    customer: Customer | None = None, site: str = "", issued_on: date | None = None, ends_on: date | None = None,
    photo: Photo | None = None, by: Staff, at: datetime,
) -> Ticket:  # fmt: skip
    """Record a licence, ticket, induction or medical; the one that lapses last counts. NotAllowed; TicketUnclear."""
    _check(by)
    is_induction = kind == "induction"
    if kind == "licence" and licence_class not in dict(CLASSES[yard_policy().rule_set]):
        raise TicketUnclear("Choose the class of the licence.", field="licence_class")
    if is_induction and customer is None:
        raise TicketUnclear("Say for whose site the induction is.", field="customer")
    if issued_on and ends_on and ends_on < issued_on:
        raise TicketUnclear("It lapses before it was issued. Correct one of the two days.", field="ends_on")
    ticket = Ticket(
        operator=operator, kind=kind, licence_class=licence_class if kind == "licence" else "", words=words.strip(),
        number=number.strip(), customer=customer if is_induction else None, site=site.strip() if is_induction else "",
        issued_on=issued_on, ends_on=ends_on, photo=photo, recorded_at=at, recorded_by=by,
    )  # fmt: skip
    ticket.save(force_insert=True)
    write_journal(
        event=Event.TICKET_RECORDED,
        subject=("operator", operator.pk),
        by=by,
        at=at,
        facts=_facts(operator)
        | {"ticket": str(ticket), "number": ticket.number, "issued_on": issued_on, "ends_on": ends_on}
        | ({"photo": photo.pk} if photo else {}),
    )
    return ticket


@transaction.atomic
def strike_ticket(*, ticket: Ticket, why: str, by: Staff, at: datetime) -> Ticket:
    """Strike out a ticket written down wrongly. NotAllowed; TicketStruck."""
    _check(by)
    ticket = Ticket.objects.select_for_update(of=("self",)).for_list().get(pk=ticket.pk)
    if ticket.struck_at is not None:
        raise TicketStruck(f"{ticket} of {ticket.operator} is struck out already.")
    ticket.struck_at, ticket.struck_why = at, why
    ticket.save(update_fields=["struck_at", "struck_why"])
    write_journal(
        event=Event.TICKET_STRUCK,
        subject=("operator", ticket.operator_id),
        by=by,
        at=at,
        facts=_facts(ticket.operator) | {"ticket": str(ticket), "number": ticket.number, "why": why},
    )
    return ticket
