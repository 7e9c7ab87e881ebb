"""The hire desk's tables as they go into a file: a head, and a row for each thing, every page of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from decimal import Decimal

from fleet.sentences import moment_words
from hire.availability import Answer
from hire.back_undecided import Undecided
from hire.booking_carts import Proposal
from hire.copies import CopyWeek
from hire.lapsed import Lapsed
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.customers import Customer
from hire.models.money import Docket, RateCard
from hire.models.pencils import Pencil
from hire.models.sites import SiteSet
from hire.screens import booking_rows, line_rows
from hire.site_text import asked_rows
from hire.site_where import where_from, where_rows
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

CHOICE_HEAD = (
    "Customer", "Place of work", "Order number", "Leaves", "Expected back", "Asked", "Cart", "More than asked", "Lacks",
    "Lacks for the site", "Right to go", "Why", "What would free one",
)  # fmt: skip
MOVE_HEAD = (
    "Agreement", "Customer", "Place of work", "Leaves", "Expected back", "Asked", "Cart now", "Cart instead", "Why",
    "To be done again", "Lacks for the site", "Right to go", "Why not",
)  # fmt: skip
RATE_HEAD = ("Card", "Cart", "Litres from", "From", "Until", "Days", "Price")
DOCKET_HEAD = ("Docket", "Up to", "What", "Quantity", "Unit", "Price each", "Amount", "Working", "Taxed")
CHARGE_HEAD = DOCKET_HEAD
COMPARED_HEAD = (
    "Station", "Check", "Where", "As it left", "Value out", "As it came back", "Value back", "Change", "New",
)  # fmt: skip
OFFER_HEAD = (
    "Part",
    "Cart",
    "Make and model",
    "Tank L",
    "Road fill L",
    "Lacks",
    "Right to go",
    "Why",
    "Taken by",
    "Price before tax",
    "How it comes about",
    "Lacks for the site",
    "Operators",
)
COPY_HEAD = (
    "Cart", "Week from", "Customer", "Place of work", "Phone", "Shifts that owed a pre-start", "Is late", "Late from",
)  # fmt: skip
LAPSED_HEAD = (
    "Cart",
    "Shift",
    "A day off, and the cart was used",
    "Customer",
    "Place of work",
    "Phone",
    "The one before",
    "Said by",
    "Said at",
    "What was said",
)
SITE_HEAD = (
    "Site",
    "Issue",
    "What",
    "How",
    "Which",
    "Axle figures",
    "Notes",
    "Written down",
    "By",
    "How we know",
)


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


def day_table(
    parts: Mapping[str, Iterable[Line]],
    undecided: Iterable[Undecided],
    pencils: Iterable[Pencil],
    bookings: Iterable[Booking],
    *,
    at: datetime,
) -> Iterator[Row]:
    """The parts of the day sheet one after the other; a cart that has not left is judged as it is on the sheet. One that is back
    has why: what is to be decided. A cart kept for a caller has the caller for its customer, and why: until when. A booking has
    no cart, and why: what is asked of one."""
    placed = [(part, line) for part, lines in parts.items() for line in lines]
    judged = line_rows([line for _, line in placed if line.handed_over_at is None], at=at)
    answers = {row.line.pk: (VERDICT_WORDS.get(row.state, ""), row.sentence) for row in judged}
    for part, line in placed:
        about, promised = line.agreement, line.promised
        yield (
            part, line.cart.fleet_number, about.number, about.customer.name, about.place_of_work, about.order_number,
            promised.lower, line.handed_over_at, promised.upper, *answers.get(line.pk, ("", "")),
        )  # fmt: skip
    for late in undecided:
        line, about = late.line, late.line.agreement
        yield (
            "Back, to be decided", line.cart.fleet_number, about.number, about.customer.name, about.place_of_work,
            about.order_number, line.promised.lower, line.handed_over_at, line.promised.upper, "", "; ".join(late.things),
        )  # fmt: skip
    for one in pencils:
        kept = f"Kept until {moment_words(one.expires_at, at=at)}, by {one.made_by.full_name}"
        kept += ". Wet hire" if one.is_wet else ""
        kept += "" if one.shift == "day" else f". Works by {one.get_shift_display().lower()}"
        kept += f". Asked: {one.asked_words}" if one.asked_words else ""
        yield (
            "Pencilled", one.cart.fleet_number, "", one.caller_words, "", "", one.period.lower, None, one.period.upper, "", kept,
        )  # fmt: skip
    for row in booking_rows(bookings):
        wanted, span = row.booking, row.booking.period
        yield (
            "Booked, cart not chosen", "", "", wanted.customer.name, wanted.place_of_work, wanted.order_number, span.lower, None,
            span.upper, "", f"Asked: {row.asked}",
        )  # fmt: skip


def choice_table(found: Proposal) -> Iterator[Row]:
    """The carts proposed for the open bookings, in the order of the screen."""
    for one in found.choices:
        about, cart = one.booking, one.cart
        yield (
            about.customer.name, about.place_of_work, about.order_number, about.period.lower, about.period.upper, one.asked,
            cart.fleet_number if cart else "", one.more, "; ".join(one.lacks),
            "; ".join(lack.what for lack in one.site), VERDICT_WORDS.get(one.state, ""),
            one.sentence, "; ".join(one.ways),
        )  # fmt: skip


def move_table(found: Proposal) -> Iterator[Row]:
    """The promised hires that would have another cart, in the order of the screen."""
    for one in found.moves:
        line, about = one.line, one.line.agreement
        yield (
            about.number, about.customer.name, about.place_of_work, line.promised.lower, line.promised.upper, one.asked,
            line.cart.fleet_number, one.cart.fleet_number, one.why, " ".join(one.again),
            "; ".join(lack.what for lack in one.site), VERDICT_WORDS.get(one.state, ""), one.sentence,
        )  # fmt: skip


def offer_table(found: Answer) -> Iterator[Row]:
    """What a caller was answered, in the order of the screen."""
    for part, offers in (("Suits", found.suiting), ("Stopped", found.stopped), ("Taken", found.taken)):
        for one in offers:
            yield (
                part, one.cart.fleet_number, one.cart.make_model, one.cart.tank_capacity_l, one.build.road_litres,
                "; ".join(lack.what for lack in one.lacks), VERDICT_WORDS.get(one.state, ""),
                one.sentence, one.taken.words if one.taken else "", one.price.total if one.price else None,
                "; ".join(one.price.sums) if one.price else "", "; ".join(lack.what for lack in one.site),
                " ".join((one.operators.words, *one.operators.reasons)) if one.operators else "",
            )  # fmt: skip
    for cart, lacks in found.unsuited:
        lacking = "; ".join(lack.what for lack in lacks)
        yield (
            "Does not suit",
            cart.fleet_number,
            cart.make_model,
            cart.tank_capacity_l,
            None,
            lacking,
            *[""] * 7,
        )


def site_table(sets: Iterable[SiteSet]) -> Iterator[Row]:
    """What sites ask, a row for each thing of each; one that asks nothing has a row of its own."""
    for one in sets:
        asked, rows = one.asked(), asked_rows(one.asked())
        where = [(label, "", value) for label, value in where_rows(where_from(one.body))]
        for what, how, detail in [*((row.what, row.how, row.detail) for row in rows), *where] or [
            ("", "", "")
        ]:
            yield (
                one.name, one.issue, what, how, detail, asked.axles, asked.notes, one.made_at, one.made_by.full_name, one.why,
            )  # fmt: skip


def lapsed_table(rows: Iterable[Lapsed]) -> Iterator[Row]:
    """Lapsed shifts, a row for each thing said of each; one nobody spoke of has a row of its own."""
    for row in rows:
        about = row.line.agreement
        told: list[tuple[str, datetime | None, str]]
        told = [(one.said_by_words, one.said_at, one.words) for one in row.said] or [("", None, "")]
        for by, said_at, words in told:
            yield (
                row.line.cart.fleet_number, row.words, row.why, about.customer.name, about.place_of_work, about.customer.phone,
                row.last_at, by, said_at, words,
            )  # fmt: skip


def copy_table(weeks: Iterable[CopyWeek]) -> Iterator[Row]:
    for week in weeks:
        about = week.line.agreement
        yield (
            week.line.cart.fleet_number, week.on, about.customer.name, about.place_of_work, about.customer.phone, week.shifts,
            week.state == "late", week.late_at,
        )  # fmt: skip


def rate_table(cards: Iterable[RateCard]) -> Iterator[Row]:
    for card in cards:
        terms, cart = card.terms("best rate"), card.cart.fleet_number if card.cart else ""
        month = [] if terms.calendar_price is None else [("calendar month", terms.calendar_price)]
        for days, price in [*terms.lengths.items(), *month]:
            yield card.name, cart, card.litres_from, card.starts_on, card.ends_on, days, price


def _sums(docket: Docket) -> Iterator[tuple[str, Decimal]]:
    yield "Net", docket.net
    if "untaxed" in docket.body:
        yield "Of this taxed", Decimal(docket.body["taxed"])
        yield "Not taxed", Decimal(docket.body["untaxed"])
    yield "Tax", docket.tax
    yield "Total", docket.total


def charge_table(docket: Docket) -> Iterator[Row]:
    """The lines of a docket, then its net, tax and total, for an accounts program."""
    for line in docket.body["lines"]:
        yield (
            docket.number, docket.through, line["what"], Decimal(line["quantity"]), line["unit"], Decimal(line["unit_price"]),
            Decimal(line["amount"]), line["working"], line.get("is_taxed", True),
        )  # fmt: skip
    for what, amount in _sums(docket):
        yield docket.number, docket.through, what, None, "", None, amount, "", None
    for step in docket.set_off.all():
        yield (
            docket.number,
            docket.through,
            "Set off from the deposit",
            None,
            "",
            None,
            -step.amount,
            step.words,
            None,
        )


def docket_table(dockets: Iterable[Docket]) -> Iterator[Row]:
    for docket in dockets:
        yield from charge_table(docket)
