"""What the workshop's and the watch's tests build on: photos of the day, hires to be wanted for, and a defect's steps."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import count

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.models.defects import Defect
from hire.models import Agreement, Customer, Line
from people.models import Staff
from tests.factories.fleet import DefectFactory, PhotoFactory
from tests.factories.people import StaffFactory

NOW = datetime(2026, 11, 30, 21, 0, tzinfo=UTC)
_numbers = count(1)


def fresh_photo(**kwargs):
    """A photo taken in just before NOW, long after the usual defect was told."""
    return PhotoFactory(**{"received_at": NOW - timedelta(minutes=5)} | kwargs)


def defect_of(cart, **kwargs) -> Defect:
    """A defect told two hours before NOW."""
    return DefectFactory(cart=cart, **{"told_at": NOW - timedelta(hours=2)} | kwargs)


def line_of(
    cart,
    *,
    starts_at: datetime,
    ends_at: datetime | None = None,
    out_at: datetime | None = None,
    by: Staff | None = None,
    **agreement,
) -> Line:
    """A promise of a cart, for a week if not said otherwise; out_at: when it was handed over."""
    number = next(_numbers)
    made = Agreement.objects.create(
        **{
            "number": f"HW-{number:05d}",
            "customer": Customer.objects.create(
                name=f"Customer {number}", contact_name="Jo Lind", phone="0400 000 001"
            ),
            "place_of_work": "Northern haul road",
            "time_zone": "Australia/Adelaide",
            "rule_set": "au",
            "made_at": starts_at - timedelta(days=20),
            "made_by": by or StaffFactory(role="hire_desk"),
        }
        | agreement
    )
    return Line.objects.create(
        agreement=made,
        cart=cart,
        promised=DateTimeTZRange(starts_at, ends_at or starts_at + timedelta(days=7), "[)"),
        handed_over_at=out_at,
    )
