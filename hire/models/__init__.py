"""Django finds an app's tables through this module, so it names the files that hold them."""

from hire.models import (
    agreements,
    back,
    bookings,
    breakdowns,
    customers,
    daily,
    deposits,
    gate,
    holidays,
    links,
    money,
    off_hire,
    operators,
    owners,
    pencils,
    runs,
)

__all__ = [
    "agreements",
    "back",
    "bookings",
    "breakdowns",
    "customers",
    "daily",
    "deposits",
    "gate",
    "holidays",
    "links",
    "money",
    "off_hire",
    "operators",
    "owners",
    "pencils",
    "runs",
]
