"""Taking the cart to the hire and fetching it back: so much each way, or by the km of the way, which is typed once.

Delivery is charged from the handover on, collection once the cart is back. A hire whose cart was swapped is delivered once and
collected once: bringing the other cart and fetching the broken one is the yard's own affair. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from hire.charging.extras import Item
from hire.charging.money import exact, money, number

BY = ("trip", "km")
FIELDS = ("delivery_price", "collection_price", "carried_by", "carried_km")


@dataclass(frozen=True, slots=True)
class CarriageTerms:
    """delivery, collection: a price each, None: not charged. by: one of BY. km: one way, None: not said."""

    delivery: Decimal | None = None
    collection: Decimal | None = None
    by: str = "trip"
    km: Decimal | None = None

    def __post_init__(self) -> None:
        for price in (self.delivery, self.collection):
            exact(price or 0, "The price of delivery")
        exact(self.km or 0, "The km of the way")
        if self.by not in BY:
            raise ValueError(f"A delivery is priced by trip or by km, not {self.by}.")

    @property
    def wants_km(self) -> bool:
        """Whether it is priced by the km and nobody said how many."""
        return self.by == "km" and not self.km and bool(self.delivery or self.collection)


def carriage_from(body: Mapping[str, Any]) -> CarriageTerms:
    """Of the stored text of terms; one from before this was asked for says nothing. ValueError as CarriageTerms."""
    said = {name: Decimal(str(body[name])) for name in FIELDS if name != "carried_by" and body.get(name)}
    return CarriageTerms(
        said.get("delivery_price"), said.get("collection_price"), body.get("carried_by") or "trip", said.get("carried_km")
    )  # fmt: skip


def carried(terms: CarriageTerms, *, is_back: bool) -> Iterator[Item]:
    """What is charged of it now."""
    count = Decimal(1) if terms.by == "trip" else terms.km or Decimal(0)
    ways = [("delivery", "Delivery", terms.delivery)]
    ways += [("collection", "Collection", terms.collection)] if is_back else []
    for key, what, price in ways:
        if price and count:
            yield Item(key, what, count, terms.by, price)


def carriage_words(terms: CarriageTerms) -> Iterator[tuple[str, str]]:
    for what, price in (("Delivery", terms.delivery), ("Collection", terms.collection)):
        if price:
            way = f", {number(terms.km)} km" if terms.km else ""
            yield what, money(price) if terms.by == "trip" else f"{money(price)} a km of the way{way}"
