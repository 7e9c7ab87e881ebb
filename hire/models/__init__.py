"""Django finds an app's tables through this module, so it names the files that hold them."""

from hire.models import (
    agreements,
    bookings,
    breakdowns,
    customers,
    deposits,
    gate,
    holidays,
    links,
    money,
    off_hire,
    owners,
    pencils,
    runs,
)

__all__ = [
    "agreements",
    "bookings",
    "breakdowns",
    "customers",
    "deposits",
    "gate",
    "holidays",
    "links",
    "money",
    "off_hire",
    "owners",
    "pencils",
    "runs",
]
