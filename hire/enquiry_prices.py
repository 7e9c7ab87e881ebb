"""What a caller's period costs by the card of each cart: dry by its best rate, with its shifts, minimum and free holidays, wet
by the dockets of its days. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from uuid import UUID

from fleet.models.carts import Cart
from hire.charge_facts import card_for, cards_in_force
from hire.models.money import RateCard
from hire.period_price import Period, Price, dry_price, wet_price
from hire.public_holidays import yard_holidays
from hire.shifts import WORKED
from hire.suiting import Enquiry
from people.yard import yard_day, yard_policy


def prices(enquiry: Enquiry, carts: Sequence[Cart]) -> dict[UUID, Price]:
    """By cart id, each card reckoned once; none where a card has no price of wet hire. One query, and another for each region
    whose holidays count."""
    cards = list(cards_in_force(on=yard_day(enquiry.start)))
    found = {cart.pk: card_for(cart.pk, cart.tank_capacity_l, cards) for cart in carts}
    used = {card.pk: card for card in found.values() if card is not None}
    by_card = _by_card(enquiry, used)
    return {
        cart_id: by_card[card.pk]
        for cart_id, card in found.items()
        if card is not None and card.pk in by_card
    }


def _by_card(enquiry: Enquiry, cards: dict[UUID, RateCard]) -> dict[UUID, Price]:
    policy = yard_policy()
    period = Period(
        enquiry.start, enquiry.end, policy.zone, enquiry.shift, policy.second_shift_at, enquiry.hours_a_day,
        enquiry.travel_hours,
    )  # fmt: skip
    # A minimum hire may reach into the year after.
    until = period.last if enquiry.is_wet else date(period.last.year + 1, 12, 31)
    holidays: dict[str, dict[date, str]] = {}
    found = {}
    for card in cards.values():
        terms, region = card.terms("best rate"), card.body.get("holiday_region", "")
        if not enquiry.is_wet:
            terms = replace(terms, shifts_a_day=len(WORKED[enquiry.shift]))
        if enquiry.is_wet and terms.wet is None:
            continue
        if region not in holidays:
            holidays[region] = yard_holidays(first=period.first, last=until, region=region)
        reckon = wet_price if enquiry.is_wet else dry_price
        found[card.pk] = replace(reckon(period, terms, holidays[region]), card=card.name)
    return found
