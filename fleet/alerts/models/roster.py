"""Who is on call when. An empty roster is no gap: then the active people of the role are told."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.db import models

from people.rows import Row


class OnCallQuerySet(models.QuerySet["OnCall"]):
    def now(self, *, at: datetime) -> OnCallQuerySet:
        """Who is on call at an instant and may sign in, first called first."""
        return self.filter(period__contains=at, person__is_active=True).order_by("place")

    def not_over(self, *, at: datetime) -> OnCallQuerySet:
        """Now and to come, in order of time."""
        return (
            self.filter(period__endswith__gt=at)
            .select_related("person", "made_by")
            .order_by("period", "place")
        )


class OnCall(Row):
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="on_call")
    # Half-open.
    period = DateTimeRangeField()
    # 1 is called first.
    place = models.PositiveSmallIntegerField(default=1)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[OnCallQuerySet] = OnCallQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            ExclusionConstraint(
                name="alerts_oncall_one_a_place",
                expressions=[("place", RangeOperators.EQUAL), ("period", RangeOperators.OVERLAPS)],
                violation_error_message="Somebody else has this place on call in that time.",
            ),
            ExclusionConstraint(
                name="alerts_oncall_one_place_each",
                expressions=[("person", RangeOperators.EQUAL), ("period", RangeOperators.OVERLAPS)],
                violation_error_message="This person is on call already in that time.",
            ),
            models.CheckConstraint(
                condition=models.Q(period__isempty=False, period__lower_inf=False, period__upper_inf=False),
                name="alerts_oncall_period_in_order",
                violation_error_message="A turn on call ends after it starts.",
            ),
            models.CheckConstraint(
                condition=models.Q(place__gte=1, place__lte=3),
                name="alerts_oncall_place_known",
                violation_error_message="Called first, second or third.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person_id} on call"
