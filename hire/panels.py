"""What the cart page shows of hires: the one it is out on, what is promised, and the last few."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from fleet.models.carts import Cart
from hire.models.agreements import Line
from hire.models.owners import HireIn


def hires(cart: Cart, at: datetime) -> Mapping[str, object] | None:
    """Unfinished hires by their promised start, and the last three that ended. Two queries."""
    lines = Line.objects.for_list().filter(cart=cart)
    return {
        "unfinished": list(lines.unfinished().order_by("promised")[:6]),
        "past": list(lines.filter(back_at__lte=at).order_by("-back_at")[:3]),
    }


def owner(cart: Cart, at: datetime) -> Mapping[str, object] | None:
    """Whose cart it is and until when, for a cart hired in; no prices, since everybody reads the cart's page. One query."""
    hire_in = HireIn.objects.for_list().filter(cart=cart, struck_at=None).order_by("-period").first()
    return None if hire_in is None else {"hire_in": hire_in}
