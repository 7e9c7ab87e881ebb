"""Whether a tread read before a cart left is young enough to charge a cut tyre by. Pure."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from hire.charging.money import counted, number

# As old as a pre-hire check takes a reading. Common practice, no source.
READ_WITHIN = timedelta(days=14)
READ_WITHIN_KM = Decimal(1000)
WITHIN_WORDS = f"{READ_WITHIN.days} days and {number(READ_WITHIN_KM)} km"


def too_old(read_at: datetime, left_at: datetime, km_since: Decimal | None) -> str:
    """How old a reading was when the cart left, where that is too old; "": it counts. km_since: what it drove between; None where
    no odometer tells."""
    age = left_at - read_at
    told = []
    if age > READ_WITHIN:
        # A part of a day begun is a day: 14 days and a minute are no 14 days.
        told.append(f"{counted(-(-age // timedelta(days=1)), 'day')} old")
    if km_since is not None and km_since > READ_WITHIN_KM:
        told.append(f"{number(km_since)} km old")
    return " and ".join(told)
