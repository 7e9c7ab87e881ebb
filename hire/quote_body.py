"""What a quote says, frozen as plain text when it is written: its paper and its page are drawn from this alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.conf import settings

from fleet.gear import GEAR
from fleet.models.carts import Cart
from hire.availability import ASKED_GEAR, builds
from hire.charge_facts import lines_text
from hire.charges import Terms
from hire.charging.money import counted, number, percent
from hire.models.agreements import GOES, LEAVES_BY, WATERS, WORKS_BY, WORKS_ON
from hire.models.money import RateCard
from hire.quote_facts import Asked
from hire.quote_price import Quoted
from hire.quote_words import (
    GATE_DECIDES,
    NO_CART_KEPT,
    PRICE_STANDS,
    every_quote_says,
    minimum_words,
    other_terms,
)
from hire.suiting import Enquiry, needs_words


@dataclass(frozen=True)
class Offer:
    """What the desk chose for one quote. typed: the fields of terms_text.FIELDS; deposit: asked, None: none; valid_until: the last
    day on which it stands; words: what else was said; not_included: printed as it is."""

    rule: str
    typed: Mapping[str, Any]
    valid_until: date
    deposit: Decimal | None = None
    words: str = ""
    not_included: str = ""


def quote_body(
    asked: Asked, offer: Offer, *, terms: Terms, text: Mapping[str, Any], found: Quoted, card: RateCard | None
) -> dict[str, Any]:
    """All that is printed, beside the columns of the quote."""
    enquiry, customer = asked.enquiry, asked.customer
    return {
        "yard": {
            "name": settings.YARD_NAME,
            "address": settings.YARD_ADDRESS,
            "contact": settings.YARD_CONTACT,
        },
        "customer": {"name": customer.name, "address": customer.address} if customer else {},
        "cart": _cart(asked.cart) if asked.cart else {},
        "asked_for": ", ".join(needs_words(enquiry, names=GEAR)),
        "goes": dict(GOES)["wet" if enquiry.is_wet else "dry"],
        "shift": dict(WORKS_BY)[enquiry.shift],
        "work": _work(enquiry),
        "hire_days": found.hire_days,
        "card": {"name": card.name, "from": card.starts_on.isoformat()} if card else {},
        "lines": lines_text(found.lines),
        "tax": percent(terms.tax_rate),
        "carriage": _carriage(terms),
        "minimum": minimum_words(terms),
        "deposit": f"{offer.deposit:.2f}" if offer.deposit else "",
        "always": [list(one) for one in every_quote_says(text, rule=offer.rule)],
        "terms": [list(one) for one in other_terms(text, rule=offer.rule)],
        "words": offer.words,
        "not_included": offer.not_included,
        "cautions": [NO_CART_KEPT, GATE_DECIDES, PRICE_STANDS],
        "asked": _on_the_forms(asked, terms),
    }


def _cart(cart: Cart) -> dict[str, Any]:
    build = builds([cart])[cart.pk]
    gear = [GEAR[kind] for kind in ASKED_GEAR if kind in build.gear - build.isolated]
    return {
        "fleet_number": cart.fleet_number,
        "make_model": cart.make_model,
        "tank_l": cart.tank_capacity_l,
        "gear": gear,
    }


def _work(enquiry: Enquiry) -> list[str]:
    words = [dict(LEAVES_BY)[enquiry.leaves_by], dict(WORKS_ON)[enquiry.works_on].lower()]
    words += [dict(WATERS)["potable"].lower()] if enquiry.is_potable else []
    if enquiry.is_wet and enquiry.hours_a_day:
        words.append(f"{number(enquiry.hours_a_day)} h a shift")
    if enquiry.is_wet and enquiry.travel_hours:
        words.append(f"{counted(enquiry.travel_hours, 'hour')} of travel a shift")
    return words


def _carriage(terms: Terms) -> str:
    """Which way the yard takes the cart for no price of its own; "" where both ways have one."""
    free = [
        what
        for what, price in (
            ("delivery", terms.carriage.delivery),
            ("collection", terms.carriage.collection),
        )
        if not price
    ]
    return " and ".join(free)


def _on_the_forms(asked: Asked, terms: Terms) -> dict[str, Any]:
    """What goes on into a promise, a booking or a pencil, by the names of their forms."""
    enquiry = asked.enquiry
    return {
        "place_of_work": asked.place_of_work,
        "litres": enquiry.litres, "road_litres": enquiry.road_litres, "gear": sorted(enquiry.gear),
        "drive_axles": enquiry.drive_axles, "leaves_by": enquiry.leaves_by, "works_on": enquiry.works_on,
        "water": "potable" if enquiry.is_potable else "any", "goes": "wet" if enquiry.is_wet else "dry",
        "shift": enquiry.shift, "days_in_week": terms.days_in_week,
    }  # fmt: skip
