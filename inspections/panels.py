"""What the cart page shows of walk-rounds: the newest, each with its record's page."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from fleet.models.carts import Cart
from inspections.models import WalkRound


def walk_rounds(cart: Cart, at: datetime) -> Mapping[str, object] | None:
    """The last eight walk-rounds of a cart, newest first. One query."""
    return {"walks": list(WalkRound.objects.for_list().filter(cart=cart, received_at__lte=at)[:8])}
