"""The tables of a cart's page as they go into a file: tyres, extinguishers, papers, and every reading of its meters."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from fleet.cart_page import extinguisher_lines, paper_lines, wheel_lines
from fleet.models.carts import Cart, MeterReading
from fleet.permit_page import STANDS

Row = Sequence[object]

TYRE_HEAD = ("Position", "Place", "Tyre", "Depth, mm", "Read", "Change out at, mm", "Legal", "Stands")
EXTINGUISHER_HEAD = (
    "Serial", "Kg", "Kind", "Made", "Where", "Out of service", "Next service", "Falls due", "Due now",
)  # fmt: skip
PAPER_HEAD = ("Paper", "Number", "Whole yard", "Issued", "Good until", "Lapsed", "If it lapses", "Conditions")
PERMIT_HEAD = (
    "Number", "Stands", "How", "From", "To", "Driver", "km/h at most", "Why", "Held by", "Given", "Given by", "Ends", "Left",
    "Came", "Came to", "Withdrawn", "Withdrawn because",
)  # fmt: skip
READING_HEAD = ("Meter", "Meter fitted", "Read", "Value")


def tables_of(cart: Cart, *, on: date, at: datetime) -> tuple[tuple[str, Sequence[str], Iterator[Row]], ...]:
    """Each table by its name, its head and its rows; nothing is read before the rows are."""
    return (
        ("tyres", TYRE_HEAD, _tyres(cart)),
        ("extinguishers", EXTINGUISHER_HEAD, _extinguishers(cart, on=on)),
        ("papers", PAPER_HEAD, _papers(cart, on=on)),
        ("permits", PERMIT_HEAD, _permits(cart, at=at)),
        ("readings", READING_HEAD, _readings(cart)),
    )


def _tyres(cart: Cart) -> Iterator[Row]:
    for wheel in wheel_lines(cart):
        yield (
            wheel.code, wheel.words, wheel.tyre, wheel.depth_mm, wheel.read_at, wheel.change_out_mm, wheel.legal,
            wheel.state_words,
        )  # fmt: skip


def _extinguishers(cart: Cart, *, on: date) -> Iterator[Row]:
    for line in extinguisher_lines(cart, on=on):
        item, due = line.item, line.next
        yield (
            item.serial, item.size_kg, item.get_agent_display(), item.made_on, item.bracket, item.is_discharged,
            due.words if due else "", due.on if due else None, line.is_due,
        )  # fmt: skip


def _papers(cart: Cart, *, on: date) -> Iterator[Row]:
    for line in paper_lines(cart, on=on):
        paper = line.paper
        yield (
            paper.get_kind_display(), paper.number, line.is_yard_wide, paper.issued_on, paper.expires_on, line.is_lapsed,
            line.stops, paper.conditions,
        )  # fmt: skip


def _permits(cart: Cart, *, at: datetime) -> Iterator[Row]:
    """Every move permit it had, the newest first."""
    for one in cart.move_permits.select_related("driver", "given_by").iterator(chunk_size=500):
        yield (
            one.number, STANDS[one.state(at=at)], one.get_way_display(), one.from_words, one.to_words, one.driver_named,
            one.speed_km_h, one.reason, " ".join(one.held_by), one.given_at, one.given_by.full_name, one.expires_at,
            one.left_at, one.came_at, one.came_to_words, one.withdrawn_at, one.withdrawn_words,
        )  # fmt: skip


def _readings(cart: Cart) -> Iterator[Row]:
    """The newest first, those of meters that came off too."""
    found = MeterReading.objects.filter(meter__cart=cart).select_related("meter")
    for one in found.order_by("-read_at", "meter__kind").iterator(chunk_size=500):
        yield one.meter.get_kind_display(), one.meter.fitted_at, one.read_at, one.value
