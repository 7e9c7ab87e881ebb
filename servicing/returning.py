"""Faults that come back: on the same cart soon after their repair, on several carts at once, or after a temporary fix."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import CharField, Count, Exists, F, Max, Min, OuterRef, Q, Subquery
from django.db.models.functions import Cast, JSONObject
from django.utils.dateparse import parse_datetime

from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.querysets import DefectQuerySet
from people.templatetags.screen import day
from people.yard import yard_day, yard_policy
from servicing.actions.repairs import TEMPORARY_FIX

# A pattern is on at least so many carts, and on more than this share of the fleet, so that a big fleet's everyday faults
# are none. Common practice, no source.
LEAST_CARTS = 3
LEAST_SHARE = 0.1
PATTERNS_SHOWN = 3


@dataclass(frozen=True)
class CameBack:
    """The repair a fault came back after."""

    defect_id: UUID
    words: str


def _earlier_repairs() -> DefectQuerySet:
    """Of the outer query's defect: repairs of the same check and place of its cart that had their second look, not long
    before it was told. The end of a temporary fix was known, so it is no coming back."""
    within = yard_policy().returning_within
    return (
        Defect.objects.filter(
            cart=OuterRef("cart"),
            check_key=OuterRef("check_key"),
            place=OuterRef("place"),
            state="verified",
            repaired_at__lte=OuterRef("told_at"),
            repaired_at__gt=OuterRef("told_at") - within,
        )
        .exclude(check_key="")
        .exclude(pk=OuterRef("source_id"))
        .order_by("-repaired_at")
    )


def returning(defects: DefectQuerySet) -> DefectQuerySet:
    """Those of the defects that came back."""
    return defects.filter(Exists(_earlier_repairs()))


def with_return(defects: DefectQuerySet) -> DefectQuerySet:
    """The defects, each with `earlier`, for came_back."""
    last = _earlier_repairs().values(
        found=JSONObject(
            id=Cast("pk", CharField()), at=Cast("repaired_at", CharField()), by="repaired_by__full_name"
        )
    )
    return defects.annotate(earlier=Subquery(last[:1]))


def came_back(defect: Defect) -> CameBack | None:
    """What a defect loaded by with_return came back after: "Came back: repaired Mon 12 Oct by Teo Marr, told again 9 days
    later"."""
    earlier: Mapping[str, Any] | None = getattr(defect, "earlier", None)
    if not earlier:
        return None
    repaired_at = parse_datetime(earlier["at"])
    assert repaired_at is not None
    days = (yard_day(defect.told_at) - yard_day(repaired_at)).days
    later = "the same day" if days == 0 else "a day later" if days == 1 else f"{days} days later"
    return CameBack(
        UUID(earlier["id"]),
        f"Came back: repaired {day(repaired_at)} by {earlier['by']}, told again {later}",
    )


@dataclass(frozen=True)
class Pattern:
    """The same check told of on several carts."""

    check_key: str
    title: str
    carts: int
    since: datetime


def of_check(check_key: str, *, at: datetime) -> DefectQuerySet:
    """The defects a pattern counts: open, or told not long ago; not those that turned out to be no fault or another's."""
    return _counted(at).filter(check_key=check_key)


def _counted(at: datetime) -> DefectQuerySet:
    recent = Q(closed_at=None) | Q(told_at__gte=at - yard_policy().pattern_within)
    return Defect.objects.filter(recent).exclude(state__in=("no_fault_found", "same_as"))


def patterns(*, at: datetime) -> list[Pattern]:
    """What several carts have at once, most carts first. Two queries."""
    carts = Cart.objects.in_fleet(on=yard_day(at)).count()
    least = max(LEAST_CARTS, math.floor(carts * LEAST_SHARE) + 1)
    found = (
        _counted(at)
        .exclude(check_key="")
        .order_by()
        .values("check_key")
        .annotate(carts=Count("cart", distinct=True), title=Max("title"), since=Min("told_at"))
        .filter(carts__gte=least)
        .order_by("-carts", "check_key")
    )
    return [Pattern(**row) for row in found[:PATTERNS_SHOWN]]


def ended_fixes(defects: DefectQuerySet, *, on: date) -> DefectQuerySet:
    """Temporary fixes whose last day has passed and that nobody has told again."""
    told = Defect.objects.filter(source_kind=TEMPORARY_FIX, source_id=OuterRef("pk"))
    return defects.filter(~Exists(told), state="verified", fix_ends_on__lt=on).select_related("cart")


def open_fixes(defects: DefectQuerySet) -> DefectQuerySet:
    """Temporary fixes that still hold, soonest end first; and those waiting for their second look."""
    told = Defect.objects.filter(source_kind=TEMPORARY_FIX, source_id=OuterRef("pk"))
    return defects.filter(~Exists(told), fix_ends_on__isnull=False).order_by(F("fix_ends_on"))
