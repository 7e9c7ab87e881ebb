"""What was agreed of fuel, washing and tyre call-outs, from the stored text of the terms. Pure.

Nothing here is charged by itself: a person decides each when the cart is back. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

# How dirty it came back, as the check "how-dirty" is answered: what its man-hour is called in the terms.
WASH_FIELDS: Mapping[str, str] = {
    "rinse": "wash_mud_price",
    "caked": "wash_mud_price",
    "clay": "wash_clay_price",
    "chemical": "wash_chemical_price",
}
DIRT_WORDS: Mapping[str, str] = {
    "rinse": "a rinse",
    "caked": "caked mud",
    "clay": "set clay",
    "chemical": "binder, oil or lime",
}
RISK_HOURS = "risk_hours"
FIELDS = (
    "fuel_price", "wash_free_hours", "wash_mud_price", "wash_clay_price", "wash_chemical_price", "tyre_call_out",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class BackTerms:
    """None, or a class of dirt that is missing: nothing was agreed of it, and the person who decides gives the price."""

    fuel_price: Decimal | None = None
    wash_free_hours: Decimal = Decimal(0)
    wash_prices: Mapping[str, Decimal] = field(default_factory=dict)
    tyre_call_out: Decimal | None = None
    has_waiver: bool = False
    # Of the waiver, each time. None: none was agreed, and the waiver takes on all of it.
    excess: Decimal | None = None
    waiver_excludes: str = ""
    # Damage is the hirer's until pick-up, at the latest so many hours after the off-hire call. None: until pick-up.
    risk_hours: int | None = None
    # False: terms from before this was asked for say nothing of it.
    says_risk: bool = False


def _amount(body: Mapping[str, Any], name: str) -> Decimal | None:
    text = body.get(name)
    return None if text in (None, "") else Decimal(str(text))


def hours_of(body: Mapping[str, Any]) -> int | None:
    """Hours after the off-hire call until which damage is the hirer's; None: until pick-up."""
    return int(body[RISK_HOURS]) if body.get(RISK_HOURS) else None


def back_terms_from(body: Mapping[str, Any]) -> BackTerms:
    """The terms of a stored text; a text from before these were asked for says nothing of them."""
    prices = {dirt: _amount(body, name) for dirt, name in WASH_FIELDS.items()}
    has_waiver = body.get("cover") == "waiver" or bool(_amount(body, "waiver_pct"))
    return BackTerms(
        fuel_price=_amount(body, "fuel_price"),
        wash_free_hours=_amount(body, "wash_free_hours") or Decimal(0),
        wash_prices={dirt: price for dirt, price in prices.items() if price is not None},
        tyre_call_out=_amount(body, "tyre_call_out"),
        has_waiver=has_waiver,
        excess=(_amount(body, "excess") or None) if has_waiver else None,
        waiver_excludes=body.get("waiver_excludes") or "" if has_waiver else "",
        risk_hours=hours_of(body),
        says_risk=RISK_HOURS in body,
    )
