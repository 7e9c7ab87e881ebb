"""Django finds an app's tables through this module, so it names the files that hold them."""

from hire.models import (
    agreements,
    bookings,
    breakdowns,
    contacts,
    customers,
    gate,
    links,
    money,
    off_hire,
    packs,
    pencils,
    said,
    sites,
)

__all__ = [
    "agreements",
    "bookings",
    "breakdowns",
    "contacts",
    "customers",
    "gate",
    "links",
    "money",
    "off_hire",
    "packs",
    "pencils",
    "said",
    "sites",
]
