"""Django finds an app's tables through this module, so it names the files that hold them."""

from hire.models import (
    agreements,
    bookings,
    breakdowns,
    customers,
    deposits,
    disputes,
    fines,
    gate,
    holidays,
    links,
    money,
    off_hire,
    pencils,
)

__all__ = [
    "agreements",
    "bookings",
    "breakdowns",
    "customers",
    "deposits",
    "disputes",
    "fines",
    "gate",
    "holidays",
    "links",
    "money",
    "off_hire",
    "pencils",
]
