"""Terms as they are offered or agreed: what was typed, checked to be terms that a hire can be charged by."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from hire.charges import Terms
from hire.terms_text import body_of, terms_from
from hire.wet_text import WET_FIELDS, WET_PRICE
from people.refusals import Refusal


class NotChargeable(Refusal):
    """The terms or the facts cannot be charged by; the sentence says what to correct."""


def checked_terms(
    typed: Mapping[str, Any], *, rule: str, shifts: int, is_wet: bool, cart: str
) -> tuple[dict[str, Any], Terms]:
    """The text to store and its terms. shifts: those of the hire, where nothing else was typed; cart: as it is spoken of.
    The prices of wet hire count only where the cart goes with an operator, and are asked for there. NotChargeable for terms
    that make no sense, and for no rate rule: it is chosen with the customer, never taken for granted."""
    if not rule:
        raise NotChargeable(
            "Choose the rate rule with the customer: nothing is taken for granted.", field="rule"
        )
    body = body_of(typed)
    body["shifts"] = body["shifts"] or str(shifts)
    if not is_wet:
        body |= dict.fromkeys(WET_FIELDS, "")
    elif not body[WET_PRICE]:
        raise NotChargeable(
            f"{cart} goes with an operator: give the price of an hour of both.", field=WET_PRICE
        )
    try:
        terms = terms_from(body, rule=rule)
    except ValueError as error:
        raise NotChargeable(str(error), field="rates") from error
    if terms.carriage.wants_km:
        raise NotChargeable(
            "Delivery is priced by the km: give the km of the way to this hire.", field="carried_km"
        )
    return body, terms
