"""What the workshop's and the watch's tests build on: photos of the day, hires to be wanted for, and a defect's steps."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from fleet.models.defects import Defect
from hire.models import Line
from tests.factories.fleet import DefectFactory, PhotoFactory
from tests.factories.hire import LineFactory

NOW = datetime(2026, 11, 30, 21, 0, tzinfo=UTC)


def fresh_photo(**kwargs):
    """A photo taken in just before NOW, long after the usual defect was told."""
    return PhotoFactory(**{"received_at": NOW - timedelta(minutes=5)} | kwargs)


def defect_of(cart, **kwargs) -> Defect:
    """A defect told two hours before NOW."""
    return DefectFactory(cart=cart, **{"told_at": NOW - timedelta(hours=2)} | kwargs)


def line_of(cart, *, starts_at: datetime, out_at: datetime | None = None, **agreement) -> Line:
    """A promise of a cart for a week; out_at: when it was handed over; the rest is said of its agreement."""
    about = {f"agreement__{name}": value for name, value in agreement.items()}
    return LineFactory(cart=cart, starts_at=starts_at, out_at=out_at, **about)
