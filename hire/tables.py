"""The hire desk's tables as they go into a file: a head, and a row for each thing, every page of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from hire.models import Customer, Line
from hire.screens import line_rows
from people.templatetags.screen import VERDICT_WORDS

Row = Sequence[object]

CUSTOMER_HEAD = ("Customer", "Contact", "Phone", "Email", "Address", "No new hires")
HIRE_HEAD = (
    "Agreement", "Place of work", "Order number", "Cart", "Promised from", "Promised until", "Left", "Back", "Cancelled",
    "Why cancelled",
)  # fmt: skip
PAST_HEAD = ("Cart", "Agreement", "Customer", "Place of work", "Left", "Back")
DAY_HEAD = (
    "Part", "Cart", "Agreement", "Customer", "Place of work", "Order number", "Leaves", "Left", "Expected back",
    "Right to go", "Why",
)  # fmt: skip


def customer_table(customers: Iterable[Customer]) -> Iterator[Row]:
    for one in customers:
        yield one.name, one.contact_name, one.phone, one.email, one.address, one.is_stopped


def hire_table(lines: Iterable[Line]) -> Iterator[Row]:
    """A customer's hires, a row for each cart of an agreement."""
    for line in lines:
        about, promised = line.agreement, line.promised
        yield (
            about.number, about.place_of_work, about.order_number, line.cart.fleet_number, promised.lower, promised.upper,
            line.handed_over_at, line.back_at, line.cancelled_at, line.cancelled_why,
        )  # fmt: skip


def past_table(lines: Iterable[Line]) -> Iterator[Row]:
    for line in lines:
        about = line.agreement
        yield (
            line.cart.fleet_number, about.number, about.customer.name, about.place_of_work, line.handed_over_at, line.back_at,
        )  # fmt: skip


def day_table(parts: Mapping[str, Iterable[Line]], *, at: datetime) -> Iterator[Row]:
    """The parts of the day sheet one after the other; a cart that has not left is judged as it is on the sheet."""
    placed = [(part, line) for part, lines in parts.items() for line in lines]
    judged = line_rows([line for _, line in placed if line.handed_over_at is None], at=at)
    answers = {row.line.pk: (VERDICT_WORDS.get(row.state, ""), row.sentence) for row in judged}
    for part, line in placed:
        about, promised = line.agreement, line.promised
        yield (
            part, line.cart.fleet_number, about.number, about.customer.name, about.place_of_work, about.order_number,
            promised.lower, line.handed_over_at, promised.upper, *answers.get(line.pk, ("", "")),
        )  # fmt: skip
