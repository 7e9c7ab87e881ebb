"""What a caller's period costs by the card of each cart: dry by its best rate, wet by the dockets of its days. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from uuid import UUID

from fleet.models.carts import Cart
from hire.charge_facts import card_for, cards_in_force, estimate, hire_days
from hire.charging.days import Week
from hire.charging.wet import foreseen
from hire.models.money import RateCard
from hire.public_holidays import yard_holidays
from hire.suiting import Enquiry
from people.yard import yard_day, yard_policy


@dataclass(frozen=True)
class Price:
    """What the period costs, the hire alone, before tax: dry at the best rate of a card; wet by so many hours a day, with the sums
    that make it."""

    total: Decimal
    days: int
    card: str
    hours: Decimal | None = None
    sums: tuple[str, ...] = ()


def prices(enquiry: Enquiry, carts: Sequence[Cart]) -> dict[UUID, Price]:
    """By cart id, each card reckoned once; none where a card has no price of wet hire. One query; of wet hire another for each
    region whose holidays count."""
    cards = list(cards_in_force(on=yard_day(enquiry.start)))
    found = {cart.pk: card_for(cart.pk, cart.tank_capacity_l, cards) for cart in carts}
    used = {card.pk: card for card in found.values() if card is not None}
    by_card = (
        _wet(enquiry, used) if enquiry.is_wet else {pk: _dry(enquiry, card) for pk, card in used.items()}
    )
    return {
        cart_id: by_card[card.pk]
        for cart_id, card in found.items()
        if card is not None and card.pk in by_card
    }


def _dry(enquiry: Enquiry, card: RateCard) -> Price:
    days = hire_days(
        enquiry.start, enquiry.end, zone=yard_policy().zone, in_week=card.terms("best rate").days_in_week
    )
    return Price(estimate(days, card.body, start=yard_day(enquiry.start)), days, card.name)


def _wet(enquiry: Enquiry, cards: dict[UUID, RateCard]) -> dict[UUID, Price]:
    first, last = yard_day(enquiry.start), yard_day(enquiry.end - timedelta(microseconds=1))
    holidays: dict[str, dict[date, str]] = {}
    found = {}
    for card in cards.values():
        terms, region = card.terms("best rate"), card.body.get("holiday_region", "")
        if terms.wet is None:
            continue
        if region not in holidays:
            holidays[region] = yard_holidays(first=first, last=last, region=region)
        free = frozenset(holidays[region]) if terms.holidays_are_free else frozenset[date]()
        days = Week(terms.days_in_week, free, frozenset(), {}).between(first, last) or [first]
        worked = foreseen(days, hours=enquiry.hours_a_day, terms=terms.wet, holidays=holidays[region])
        found[card.pk] = Price(worked.total, len(days), card.name, worked.hours, worked.sums)
    return found
