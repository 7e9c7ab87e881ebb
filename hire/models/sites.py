"""What customers' sites ask of a cart, and the times a cart was turned away."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from fleet.gear import GEAR
from fleet.models.equipment import DOCUMENT_KINDS
from hire.models.agreements import Line
from hire.models.customers import Customer
from hire.site_rules import Asked
from hire.site_text import asked_from
from people.rows import SealedRow

FAILED = [
    ("gear", "Gear was missing or not as asked"),
    ("paper", "A paper was missing, lapsed or too old"),
    ("limit", "Tread, noise, axles or an extinguisher"),
    ("other", "Something else"),
]
WHOSE_COST = [("yard", "Ours"), ("customer", "The customer’s"), ("open", "Not settled yet")]


class TurnedAway(SealedRow):
    """A site did not let the cart in, written once."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="turned_away")
    at = models.DateTimeField()
    failed = models.CharField(max_length=5, choices=FAILED)
    gear = models.CharField(max_length=24, choices=list(GEAR.items()), blank=True)
    paper = models.CharField(max_length=14, choices=DOCUMENT_KINDS, blank=True)
    words = models.CharField(max_length=240)
    told_by_words = models.CharField(max_length=120)
    whose_cost = models.CharField(max_length=8, choices=WHOSE_COST)
    done_words = models.CharField(max_length=240)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["-at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(recorded_at__gte=models.F("at")),
                name="hire_turnedaway_has_happened",
                violation_error_message="A cart turned away is written down once it has happened.",
            ),
            models.CheckConstraint(
                condition=models.Q(failed="gear", paper="") & ~models.Q(gear="")
                | models.Q(failed="paper", gear="") & ~models.Q(paper="")
                | models.Q(failed__in=["limit", "other"], gear="", paper=""),
                name="hire_turnedaway_names_what_failed",
                violation_error_message="Say which gear or which paper it was.",
            ),
        ]

    def __str__(self) -> str:
        return f"turned away: {self.words}"


class SiteSetQuerySet(models.QuerySet["SiteSet"]):
    def in_force(self) -> SiteSetQuerySet:
        """The newest issue of each site."""
        return self.order_by("customer_id", "site_key", "-issue").distinct("customer_id", "site_key")


class SiteSet(SealedRow):
    """What one site of a customer asks, one issue of it: a change is a new issue, and the earlier text stands."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="site_sets")
    # Blank: every site of theirs that has no set of its own.
    site = models.CharField(max_length=120, blank=True)
    # The site as it is compared with an agreement's place of work (hire.site_rules.site_key).
    site_key = models.CharField(max_length=120, blank=True)
    issue = models.PositiveSmallIntegerField()
    # As hire.site_text reads it.
    body = models.JSONField(encoder=DjangoJSONEncoder)
    why = models.CharField(max_length=240)
    turned_away = models.ForeignKey(TurnedAway, null=True, on_delete=models.PROTECT, related_name="site_sets")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[SiteSetQuerySet] = SiteSetQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["site_key", "-issue"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["customer", "site_key", "issue"],
                name="hire_siteset_issue_once",
                violation_error_message="Somebody wrote this issue of the set already. Look at it first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, issue {self.issue}"

    @property
    def name(self) -> str:
        return self.site or "Every other site"

    def asked(self) -> Asked:
        return asked_from(self.body)
