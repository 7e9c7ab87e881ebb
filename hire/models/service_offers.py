"""Services offered to a cart that is out on hire, how the customer answered, and offers struck out. What was written stays."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar
from uuid import UUID

from django.conf import settings
from django.db import models

from hire.models.agreements import Line
from hire.models.links import CustomerLink
from people.rows import SealedRow
from servicing.models.plans import ServicePlan


class ServiceOfferQuerySet(models.QuerySet["ServiceOffer"]):
    def standing(self) -> ServiceOfferQuerySet:
        return self.filter(strike=None)

    def of_carts_out(self, carts: Iterable[UUID]) -> ServiceOfferQuerySet:
        return self.standing().filter(
            line__cart__in=list(carts), line__handed_over_at__isnull=False, line__back_at=None
        )

    def for_list(self) -> ServiceOfferQuerySet:
        return self.select_related(
            "line__cart", "line__agreement__customer", "plan", "made_by", "answer__made_by", "answer__link", "strike__made_by"
        )  # fmt: skip


class ServiceOffer(SealedRow):
    """A service that falls due on hire, offered on site: to whom, for when, and what the site has to let in."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="service_offers")
    plan = models.ForeignKey(ServicePlan, on_delete=models.PROTECT, related_name="+")
    # Which offer of this service this is: another one follows once the one before is answered or struck out.
    nth = models.PositiveSmallIntegerField(default=1)
    offered_to = models.CharField("Who was asked", max_length=80)
    offered_at = models.DateTimeField()
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    access_words = models.CharField("Access and induction", max_length=240, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[ServiceOfferQuerySet] = ServiceOfferQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["offered_at", "made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["line", "plan", "nth"],
                name="hire_serviceoffer_in_turn",
                violation_error_message="This service is offered already.",
            ),
            models.CheckConstraint(
                condition=models.Q(ends_at__gt=models.F("starts_at"))
                & models.Q(offered_at__lte=models.F("made_at")),
                name="hire_serviceoffer_times_in_order",
                violation_error_message="An offer is written down once it was made, for a time that ends after it begins.",
            ),
            models.CheckConstraint(
                condition=~models.Q(offered_to=""),
                name="hire_serviceoffer_to_somebody",
                violation_error_message="A service is offered to somebody by name.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.plan.name}, {self.line}"

    @property
    def is_struck(self) -> bool:
        return hasattr(self, "strike")

    @property
    def is_open(self) -> bool:
        return not self.is_struck and not hasattr(self, "answer")


class OfferAnswer(SealedRow):
    """The customer agreed the time, or a named person refused with words."""

    offer = models.OneToOneField(ServiceOffer, on_delete=models.PROTECT, related_name="answer")
    is_agreed = models.BooleanField()
    by_words = models.CharField("Who answered", max_length=80)
    words = models.CharField(max_length=240, blank=True)
    told_at = models.DateTimeField()
    made_at = models.DateTimeField()
    # Null: it came by the customer's link.
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    link = models.ForeignKey(CustomerLink, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=~models.Q(by_words="") & (models.Q(is_agreed=True) | ~models.Q(words="")),
                name="hire_offeranswer_refused_by_name",
                violation_error_message="A service is refused by somebody by name, with words.",
            ),
            models.CheckConstraint(
                condition=models.Q(made_by=None, link__isnull=False)
                | models.Q(made_by__isnull=False, link=None),
                name="hire_offeranswer_told_or_by_link",
                violation_error_message="An answer is told to somebody of the yard, or comes by a customer’s link.",
            ),
            models.CheckConstraint(
                condition=models.Q(told_at__lte=models.F("made_at")),
                name="hire_offeranswer_told_before_written",
                violation_error_message="An answer is written down once it was given.",
            ),
        ]

    def __str__(self) -> str:
        return f"answer to {self.offer_id}"


class OfferStrike(SealedRow):
    """An offer written down by mistake: it counts for nothing from then on."""

    offer = models.OneToOneField(ServiceOffer, on_delete=models.PROTECT, related_name="strike")
    why = models.CharField(max_length=240)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=~models.Q(why=""),
                name="hire_offerstrike_says_why",
                violation_error_message="Say why the offer is struck out.",
            ),
        ]

    def __str__(self) -> str:
        return f"strike of {self.offer_id}"
