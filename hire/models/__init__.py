"""Django finds an app's tables through this module, so it names the files that hold them."""

from hire.models import (
    agreements,
    back,
    bookings,
    breakdowns,
    customers,
    gate,
    links,
    money,
    off_hire,
    pencils,
)

__all__ = [
    "agreements",
    "back",
    "bookings",
    "breakdowns",
    "customers",
    "gate",
    "links",
    "money",
    "off_hire",
    "pencils",
]
