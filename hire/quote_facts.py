"""What a quote rests on: what was asked, the card of the cart, and the price by the terms chosen. Reads only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from fleet.models.carts import Cart
from hire.charge_facts import card_for, cards_in_force
from hire.charges import Terms
from hire.models.bookings import Booking
from hire.models.customers import Customer
from hire.models.money import RateCard
from hire.models.pencils import Pencil
from hire.period_price import Period
from hire.public_holidays import yard_holidays
from hire.quote_price import Quoted, quoted
from hire.suiting import Enquiry
from people.yard import yard_day, yard_policy

# No cart has it: by litres alone.
ANY_CART = ""


@dataclass(frozen=True)
class Asked:
    """What a quote is written of: an offer to a caller, a pencilled cart or a booking. cart: None: chosen later."""

    enquiry: Enquiry
    cart: Cart | None = None
    customer: Customer | None = None
    place_of_work: str = ""
    pencil: Pencil | None = None
    booking: Booking | None = None

    @property
    def cart_words(self) -> str:
        return self.cart.fleet_number if self.cart else "The cart"


def of_pencil(pencil: Pencil) -> Asked:
    enquiry = Enquiry(
        pencil.period.lower, pencil.period.upper, litres=pencil.litres, gear=frozenset(pencil.gear),
        drive_axles=pencil.drive_axles, leaves_by=pencil.leaves_by, works_on=pencil.works_on,
        is_potable=pencil.water == "potable", road_litres=pencil.road_litres, is_wet=pencil.is_wet, shift=pencil.shift,
    )  # fmt: skip
    return Asked(enquiry, pencil.cart, pencil=pencil)


def of_booking(booking: Booking) -> Asked:
    return Asked(
        booking.enquiry(), customer=booking.customer, place_of_work=booking.place_of_work, booking=booking
    )


def card_asked(asked: Asked) -> RateCard | None:
    """The card of the cart, or for as many litres as were asked, in force when the hire begins."""
    cards = cards_in_force(on=yard_day(asked.enquiry.start))
    if asked.cart is None:
        return card_for(ANY_CART, asked.enquiry.litres, cards)
    return card_for(asked.cart.pk, asked.cart.tank_capacity_l, cards)


def period_asked(enquiry: Enquiry) -> Period:
    policy = yard_policy()
    return Period(
        enquiry.start, enquiry.end, policy.zone, enquiry.shift, policy.second_shift_at, enquiry.hours_a_day,
        enquiry.travel_hours,
    )  # fmt: skip


def price_asked(asked: Asked, terms: Terms, body: Mapping[str, Any]) -> Quoted:
    """The price of what was asked by terms and their text. ValueError as quoted."""
    period = period_asked(asked.enquiry)
    if terms.wet is None:
        period = replace(period, hours=period.hours * 0, travel_hours=period.travel_hours * 0)
    # A minimum hire may reach into the year after.
    holidays = yard_holidays(
        first=period.first, last=date(period.last.year + 1, 12, 31), region=body.get("holiday_region", "")
    )
    return quoted(period, terms, holidays)
