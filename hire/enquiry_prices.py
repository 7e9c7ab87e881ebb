"""What a caller's period costs by the card of each cart: dry by its best rate, wet by the dockets of its days. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from fleet.models.carts import Cart
from hire.charge_facts import card_for, cards_in_force, estimate, hire_days
from hire.models.money import RateCard
from hire.period_price import Period, Price, wet_price
from hire.public_holidays import yard_holidays
from hire.suiting import Enquiry
from people.yard import yard_day, yard_policy


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
    return Price(estimate(days, card.body, start=yard_day(enquiry.start)), days, card=card.name)


def _wet(enquiry: Enquiry, cards: dict[UUID, RateCard]) -> dict[UUID, Price]:
    policy = yard_policy()
    period = Period(
        enquiry.start, enquiry.end, policy.zone, enquiry.shift, policy.second_shift_at, enquiry.hours_a_day,
        enquiry.travel_hours,
    )  # fmt: skip
    holidays: dict[str, dict[date, str]] = {}
    found = {}
    for card in cards.values():
        terms, region = card.terms("best rate"), card.body.get("holiday_region", "")
        if terms.wet is None:
            continue
        if region not in holidays:
            holidays[region] = yard_holidays(first=period.first, last=period.last, region=region)
        found[card.pk] = wet_price(period, terms, holidays[region], card=card.name)
    return found
