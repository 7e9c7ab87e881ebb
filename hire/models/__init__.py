"""Django finds an app's tables through this module, so it names the files that hold them."""

from hire.models import (
    agreements,
    bookings,
    breakdowns,
    customers,
    gate,
    links,
    loads,
    money,
    off_hire,
    pencils,
)

__all__ = [
    "agreements",
    "bookings",
    "breakdowns",
    "customers",
    "gate",
    "job_plans",
    "links",
    "loads",
    "money",
    "off_hire",
    "pencils",
]
