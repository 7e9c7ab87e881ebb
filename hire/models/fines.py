"""Who drove a cart on hire, and the fines and tolls that come for it afterwards."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models.functions import Upper

from hire.models.agreements import Line
from people.rows import Row, SealedRow

KINDS = [("fine", "Fine"), ("toll", "Toll")]
WAYS = [
    ("nominated", "The customer is named to the issuer, who turns to them"),
    ("paid", "We pay it, and the customer pays us"),
]  # fmt: skip


class DriverQuerySet(models.QuerySet["Driver"]):
    def standing(self) -> DriverQuerySet:
        return self.filter(struck_at=None)

    def at(self, moment: datetime) -> DriverQuerySet:
        """Those who had it at an instant; from included, until not."""
        return (
            self.standing()
            .filter(from_at__lte=moment)
            .filter(models.Q(until_at=None) | models.Q(until_at__gt=moment))
        )


class Driver(Row):
    """Somebody who drove a cart on a hire, as the customer told the desk. Two may drive by turns, so spells may overlap."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="drivers")
    name = models.CharField(max_length=80)
    licence = models.CharField("Licence, number and class", max_length=60)
    from_at = models.DateTimeField()
    # Null: until the cart is back.
    until_at = models.DateTimeField(null=True)
    told_by_words = models.CharField(max_length=120)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: stands.
    struck_at = models.DateTimeField(null=True)

    objects: ClassVar[DriverQuerySet] = DriverQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["from_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(until_at=None) | models.Q(until_at__gt=models.F("from_at")),
                name="hire_driver_in_order",
                violation_error_message="Somebody drives until after they began.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class FineQuerySet(models.QuerySet["Fine"]):
    def for_list(self) -> FineQuerySet:
        return self.select_related("line__agreement__customer", "line__cart", "made_by")


class Fine(SealedRow):
    """A notice by plate and time, and the hire that had the cart then."""

    kind = models.CharField(max_length=4, choices=KINDS)
    issuer = models.CharField("Who sends it", max_length=80)
    notice_number = models.CharField(max_length=40)
    plate = models.CharField(max_length=12)
    happened_at = models.DateTimeField()
    place_words = models.CharField("Where", max_length=120)
    amount = models.DecimalField(max_digits=9, decimal_places=2)
    way = models.CharField("What becomes of it", max_length=9, choices=WAYS)
    # By which the issuer wants an answer; null: it does not say.
    answer_by = models.DateField(null=True)
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="fines")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[FineQuerySet] = FineQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                Upper("issuer"), Upper("notice_number"),
                name="hire_fine_once",
                violation_error_message="This notice is written down already.",
            ),
            models.CheckConstraint(
                condition=models.Q(amount__gte=0, happened_at__lte=models.F("made_at")),
                name="hire_fine_has_been",
                violation_error_message="A notice is of something that has been, and not below zero.",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return self.notice_number
