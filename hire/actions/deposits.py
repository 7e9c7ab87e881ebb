"""Deposits: asked for, taken, given back, set off against a docket."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from hire.deposits import Deposit, deposit_of
from hire.models.agreements import Agreement
from hire.models.deposits import DepositEntry
from hire.models.money import Docket
from people.journal.actions import YARD, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK

EVENTS = {
    "asked": Event.DEPOSIT_ASKED,
    "taken": Event.DEPOSIT_TAKEN,
    "given_back": Event.DEPOSIT_GIVEN_BACK,
    "set_off": Event.DEPOSIT_SET_OFF,
}


class MoreThanHeld(Refusal):
    """More would leave the deposit than is held."""

    field = "amount"


class MoreThanDue(Refusal):
    """More would be set off than is left to pay on the docket."""

    field = "amount"


class WrongDocket(Refusal):
    """What is set off names a docket of the same agreement."""

    field = "docket"


def standing_deposit(agreement: Agreement) -> Deposit:
    return deposit_of(agreement.deposit.order_by("made_at").values_list("kind", "amount"))


def left_to_pay(docket: Docket) -> Decimal:
    """The docket's total less what was set off against it; whether the rest is paid, the accounts know."""
    return docket.total - sum((each.amount for each in docket.set_off.all()), Decimal(0))


@transaction.atomic
def record_deposit(
    *, agreement: Agreement, kind: str, amount: Decimal, words: str, docket: Docket | None = None, by: Staff, at: datetime
) -> DepositEntry:  # fmt: skip
    """Write down a step of a deposit. kind: as hire.deposits has it; "set_off" names a docket of the agreement.

    NotAllowed; MoreThanHeld; MoreThanDue; WrongDocket.
    """
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk takes deposits and gives them back.")
    # Two who give back at once take turns here, so that each sees what the other left.
    agreement = Agreement.objects.select_for_update(of=("self",)).get(pk=agreement.pk)
    _check(agreement, kind, amount, docket)
    entry = DepositEntry(
        agreement=agreement, kind=kind, amount=amount, words=words, docket=docket, made_at=at, made_by=by
    )
    entry.save(force_insert=True)
    facts = {"agreement": agreement.number, "amount": amount, "words": words}
    write_journal(
        event=EVENTS[kind], subject=("agreement", agreement.pk), chains=[YARD], by=by, at=at,
        facts=facts | ({"docket": docket.number} if docket else {}),
    )  # fmt: skip
    return entry


def _check(agreement: Agreement, kind: str, amount: Decimal, docket: Docket | None) -> None:
    if amount <= 0:
        raise MoreThanHeld("Give an amount above zero.", field="amount")
    held = standing_deposit(agreement).held
    if kind in ("given_back", "set_off") and amount > held:
        rest = f"Give {held:,.2f} or less." if held else "There is nothing to give."
        raise MoreThanHeld(f"{held:,.2f} of the deposit of {agreement.number} is held. {rest}", held=held)
    if kind != "set_off":
        if docket is not None:
            raise WrongDocket("Only what is set off names a docket. Leave it blank.")
        return
    if docket is None or docket.line.agreement_id != agreement.pk:
        raise WrongDocket(f"Choose a docket of {agreement.number} to set the deposit off against.")
    if amount > left_to_pay(docket):
        raise MoreThanDue(
            f"{max(left_to_pay(docket), Decimal(0)):,.2f} is left to pay on {docket.number}. Set that off or less."
        )
