"""What the cart page shows of hires: the one it is out on, what is promised, and the last few."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from fleet.models.carts import Cart
from hire.models.agreements import Line


def hires(cart: Cart, at: datetime) -> Mapping[str, object] | None:
    """Unfinished hires by their promised start, and the last three that ended. Two queries."""
    lines = Line.objects.for_list().filter(cart=cart)
    return {
        "unfinished": list(lines.unfinished().order_by("promised")[:6]),
        "past": list(lines.filter(back_at__lte=at).order_by("-back_at")[:3]),
    }
