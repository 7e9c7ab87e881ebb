"""Quotes as they go into a file: a head, and a row for each, every page of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal

from hire.models.quotes import Quote
from hire.quote_rows import quote_state

Row = Sequence[object]
QUOTE_HEAD = (
    "Quote", "Written", "For", "Customer", "Phone", "Email", "Cart", "Place of work", "From", "Until", "Wet or dry", "Works by",
    "Rate rule", "Net", "Tax", "Total", "Stands until", "What became of it", "Written by",
)  # fmt: skip
LINE_HEAD = ("What", "Quantity", "Unit", "Price each", "Amount", "Working")


def quote_table(found: Iterable[Quote], *, on: date) -> Iterator[Row]:
    """on: the day on which they stand or have run out."""
    for one in found:
        yield (
            one.number, one.made_at, one.to_name, one.customer.name if one.customer else "", one.phone, one.email,
            one.cart.fleet_number if one.cart else "", one.place_of_work, one.period.lower, one.period.upper,
            "wet" if one.is_wet else "dry", one.get_shift_display(), one.rule, one.net, one.tax, one.total, one.valid_until,
            quote_state(one, on=on), one.made_by.full_name,
        )  # fmt: skip


def line_table(quote: Quote) -> Iterator[Row]:
    """The lines of one quote, and what they come to."""
    for one in quote.body["lines"]:
        yield (
            one["what"], Decimal(one["quantity"]), one["unit"], Decimal(one["unit_price"]), Decimal(one["amount"]), one["working"],
        )  # fmt: skip
    for what, amount in (("Net", quote.net), ("Tax", quote.tax), ("Total", quote.total)):
        yield what, None, "", None, amount, ""
