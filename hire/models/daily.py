"""The daily docket of a wet hire: what was worked, as the customer's person signed it."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.water.history import SOURCES
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.models.operators import Operator, OperatorLink
from people.models import Staff
from people.roles import DESK
from people.rows import SealedRow

HOUR = timedelta(hours=1)


class DailyDocketQuerySet(models.QuerySet["DailyDocket"]):
    def standing(self) -> DailyDocketQuerySet:
        """Replaced by no other."""
        return self.filter(replaced_by=None)

    def unsigned_first(self) -> DailyDocketQuerySet:
        """Those nobody signed, then the newest."""
        unsigned = models.ExpressionWrapper(models.Q(signature=None), models.BooleanField())
        return self.annotate(is_unsigned=unsigned).order_by("-is_unsigned", "-on", "-number")

    def visible_to(self, person: Staff) -> DailyDocketQuerySet:
        """The desk sees all; an operator of the yard their own."""
        return self if person.has_role(DESK) else self.filter(operator__staff=person)

    def for_list(self) -> DailyDocketQuerySet:
        return self.select_related(
            "line__cart", "line__agreement__customer", "operator__staff", "signature", "made_by", "replaces",
            "replaced_by",
        )  # fmt: skip


class DailyDocket(SealedRow):
    """One operator's day with a cart, written once. A change is another docket that replaces it; the signature stands beside it,
    since it may come later."""

    number = models.CharField(max_length=16, unique=True)
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="daily_dockets")
    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="daily_dockets")
    # The day it began, where the cart works.
    on = models.DateField()
    # Null, both: cancelled late, nobody worked.
    starts_at = models.DateTimeField(null=True)
    finishes_at = models.DateTimeField(null=True)
    breaks = models.DurationField(default=timedelta)
    travel_hours = models.DecimalField(max_digits=4, decimal_places=2, default=Decimal(0))
    is_night = models.BooleanField(default=False)
    # Of the hours worked, those over what the agreed rate calls a day. Null: none is agreed.
    overtime_hours = models.DecimalField(max_digits=4, decimal_places=2, null=True)
    standby_hours = models.DecimalField(max_digits=4, decimal_places=2, default=Decimal(0))
    standby_why = models.CharField(max_length=120, blank=True)
    loads = models.PositiveSmallIntegerField(default=0)
    water_words = models.CharField(max_length=240, blank=True)
    # "": nobody said.
    water_source = models.CharField(max_length=13, choices=list(SOURCES.items()), blank=True)
    fuel_l = models.DecimalField(max_digits=6, decimal_places=1, default=Decimal(0))
    cancelled_late = models.BooleanField(default=False)
    words = models.CharField(max_length=240, blank=True)
    # "": somebody signed it when it was made.
    unsigned_why = models.CharField(max_length=160, blank=True)
    replaces = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="replaced_by")
    replaces_why = models.CharField(max_length=240, blank=True)
    # When it was written down, which may be later than the day.
    made_at = models.DateTimeField()
    # Null: the operator wrote it through their link.
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    by_link = models.ForeignKey(OperatorLink, null=True, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[DailyDocketQuerySet] = DailyDocketQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["on", "number"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["-on", "-number"], name="hire_dailydocket_newest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["line", "on", "operator", "replaces"],
                nulls_distinct=False,
                name="hire_dailydocket_one_a_day",
                violation_error_message="There is a docket of this operator for this day already. Replace it instead.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    cancelled_late=True,
                    starts_at=None,
                    finishes_at=None,
                    breaks=timedelta(0),
                    standby_hours=0,
                )
                | models.Q(
                    cancelled_late=False,
                    starts_at__isnull=False,
                    finishes_at__isnull=False,
                    finishes_at__gt=models.F("starts_at") + models.F("breaks"),
                ),
                name="hire_dailydocket_worked_or_cancelled",
                violation_error_message="A docket has hours worked between start and finish, or says that it was cancelled late.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    breaks__gte=timedelta(0), travel_hours__gte=0, standby_hours__gte=0, fuel_l__gte=0
                )
                & (models.Q(overtime_hours=None) | models.Q(overtime_hours__gte=0)),
                name="hire_dailydocket_not_below_zero",
                violation_error_message="Hours and fuel are zero or more.",
            ),
            models.CheckConstraint(
                condition=models.Q(water_source__in=["", *SOURCES]),
                name="hire_dailydocket_water_known",
                violation_error_message="Choose what water it was.",
            ),
            models.CheckConstraint(
                condition=models.Q(standby_hours=0) | ~models.Q(standby_why=""),
                name="hire_dailydocket_standby_says_why",
                violation_error_message="Hours standing by say why.",
            ),
            models.CheckConstraint(
                condition=models.Q(replaces=None, replaces_why="")
                | models.Q(replaces__isnull=False) & ~models.Q(replaces_why=""),
                name="hire_dailydocket_replaces_with_why",
                violation_error_message="A docket that replaces another says why.",
            ),
            models.CheckConstraint(
                condition=models.Q(made_by=None, by_link__isnull=False)
                | models.Q(made_by__isnull=False, by_link=None),
                name="hire_dailydocket_one_writer",
                violation_error_message="A docket is written by somebody of the yard, or through the operator’s link.",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def hours(self) -> Decimal:
        """Hours worked, breaks taken off, to the hundredth."""
        if self.starts_at is None or self.finishes_at is None:
            return Decimal(0)
        return worked_hours(self.finishes_at - self.starts_at - self.breaks)

    @property
    def written_words(self) -> str:
        """Who wrote it down."""
        return self.made_by.full_name if self.made_by else f"{self.operator}, on their phone"

    @property
    def is_signed(self) -> bool:
        return hasattr(self, "signature")

    @property
    def is_replaced(self) -> bool:
        return hasattr(self, "replaced_by")


def worked_hours(span: timedelta) -> Decimal:
    return (Decimal(int(span.total_seconds())) / 3600).quantize(Decimal("0.01"))


class DailySignature(SealedRow):
    """The customer's person who signed a docket: on the operator's phone, at the desk, or through the hire's link."""

    docket = models.OneToOneField(DailyDocket, on_delete=models.PROTECT, related_name="signature")
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=5, choices=[("drawn", "Drawn"), ("typed", "Typed")])
    strokes = models.TextField(blank=True)
    at = models.DateTimeField()
    # Whose phone or screen it was: somebody's of the yard, the operator's by their link, or the customer's own by the hire's.
    held_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    operator_link = models.ForeignKey(OperatorLink, null=True, on_delete=models.PROTECT, related_name="+")
    link = models.ForeignKey(CustomerLink, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=~models.Q(name="")
                & (models.Q(kind="drawn") & ~models.Q(strokes="") | models.Q(kind="typed", strokes="")),
                name="hire_dailysignature_whole",
                violation_error_message="A signature has a name, typed or drawn.",
            ),
            models.CheckConstraint(
                condition=models.Q(held_by__isnull=False, operator_link=None, link=None)
                | models.Q(held_by=None, operator_link__isnull=False, link=None)
                | models.Q(held_by=None, operator_link=None, link__isnull=False),
                name="hire_dailysignature_one_way",
                violation_error_message="A docket is signed on one phone: the yard’s, the operator’s or the customer’s own.",
            ),
        ]

    def __str__(self) -> str:
        return f"signature of {self.docket_id}"
