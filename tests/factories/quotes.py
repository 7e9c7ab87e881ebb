"""Quotes, written by the rules: quote_of() is a week of a cart for a caller, by the best rate, which stands for two weeks."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from fleet.models.carts import Cart
from hire.actions.quotes import Recipient, write_quote
from hire.models.customers import Customer
from hire.models.quotes import Quote
from hire.quote_body import Offer
from hire.quote_facts import Asked
from hire.suiting import Enquiry
from hire.terms_text import terms_from
from people.models import Staff
from people.yard import yard_day
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT
from tests.factories.money import BODY
from tests.factories.people import StaffFactory

CALLER = Recipient("Wren Aldous", "08 5550 0188", "wren@aldous.example")


def typed_of(**body: str) -> dict[str, Any]:
    """The terms of the factories' card, as a form gives them."""
    text = BODY | body
    return text | {"rates": dict(terms_from(text, rule="best rate").rates)}


def quote_of(
    *, starts_at: datetime = AT + timedelta(days=7), days: int = 7, shift: str = "day", cart: Cart | None = None,
    customer: Customer | None = None, asked: Asked | None = None, rule: str = "best rate", to: Recipient = CALLER,
    form_id: UUID | None = None, send: bool = False, deposit: Decimal | None = None, stands_days: int = 14,
    by: Staff | None = None, at: datetime = AT, **body: str,
) -> Quote:  # fmt: skip
    enquiry = Enquiry(starts_at, starts_at + timedelta(days=days - 1, hours=10), shift=shift)
    asked = asked or Asked(enquiry, cart or CartFactory(), customer, "Saltbush Road widening")
    stands = yard_day(at) + timedelta(days=stands_days)
    return write_quote(
        form_id=form_id or uuid4(), asked=asked, to=to, by=by or StaffFactory(role="hire_desk"), at=at, send=send,
        offer=Offer(rule, typed_of(**body), stands, deposit, not_included="Fuel and water."),
    )  # fmt: skip
