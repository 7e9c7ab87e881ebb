"""What a hire costs: rate cards, the terms agreed for one cart, what is charged beside the hire, and the dockets made of it."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from fleet.models.carts import Cart
from hire.charges import Terms
from hire.models.agreements import Line
from hire.terms_text import terms_from
from people.rows import Row, SealedRow

# The last two are no meter of ours: their hours are agreed by both sides (hire.models.agreed_hours).
CLOCKS = [
    ("engine", "Engine hours"),
    ("pump", "Pump hours"),
    ("key", "Key hours"),
    ("docket", "Docket hours"),
]
POOLS = [
    ("day", "Each day"), ("week", "Each week"), ("bill period", "Each docket"), ("whole hire", "The whole hire"),
]  # fmt: skip
DAYS_IN_WEEK = [(5, "5 days"), (6, "6 days"), (7, "7 days")]


class RateCard(Row):
    """Prices for one cart, or for carts from so many litres up. A new price is a new card: what was agreed by the old stands."""

    name = models.CharField(max_length=60)
    # Null: by litres.
    cart = models.ForeignKey(Cart, null=True, blank=True, on_delete=models.PROTECT, related_name="rate_cards")
    litres_from = models.PositiveIntegerField("For carts from, litres", default=0)
    # The terms in plain text values, as hire.terms_text reads them; the rate rule is agreed hire by hire.
    body = models.JSONField(encoder=DjangoJSONEncoder)
    starts_on = models.DateField()
    # Null: in force. The first day it no longer is.
    ends_on = models.DateField(null=True, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["name", "-starts_on"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "litres_from"],
                condition=models.Q(ends_on=None),
                nulls_distinct=False,
                name="hire_ratecard_one_in_force",
                violation_error_message="There is a card for these carts already. Change its prices instead.",
            ),
            models.CheckConstraint(
                condition=models.Q(ends_on=None) | models.Q(ends_on__gte=models.F("starts_on")),
                name="hire_ratecard_in_order",
                violation_error_message="A card ends on or after the day it starts.",
            ),
            models.CheckConstraint(
                condition=models.Q(cart=None) | models.Q(litres_from=0),
                name="hire_ratecard_cart_or_litres",
                violation_error_message="A card is for one cart, or for carts from so many litres.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def terms(self, rule: str) -> Terms:
        return terms_from(self.body, rule=rule)


class AgreedTerms(SealedRow):
    """The money side of one cart's hire as it was agreed; agreed again, the newest counts."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="agreed_terms")
    rule = models.CharField(max_length=14)
    body = models.JSONField(encoder=DjangoJSONEncoder)
    card_name = models.CharField(max_length=60, blank=True)
    words = models.CharField(max_length=240, blank=True)
    agreed_at = models.DateTimeField()
    agreed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["-agreed_at"]

    def __str__(self) -> str:
        return f"terms of {self.line_id}"

    def terms(self) -> Terms:
        return terms_from(self.body, rule=self.rule)


class BesideCharge(Row):
    """Something charged beside the hire: delivery, washing, fuel, damage a person decided to charge."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="beside")
    what = models.CharField(max_length=80)
    quantity = models.DecimalField(max_digits=9, decimal_places=3)
    unit = models.CharField(max_length=12)
    unit_price = models.DecimalField(max_digits=9, decimal_places=2)
    # False: no tax falls on it, as on a fine passed on.
    is_taxed = models.BooleanField(default=True)
    words = models.CharField("How we know", max_length=240, blank=True)
    # What was found when the cart came back, where this charges one such thing; blank: anything else.
    thing = models.CharField(max_length=60, blank=True)
    told_at = models.DateTimeField()
    told_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: is charged.
    struck_at = models.DateTimeField(null=True)
    struck_why = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["told_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(quantity__gt=0, unit_price__gte=0),
                name="hire_besidecharge_not_below_zero",
                violation_error_message="A charge has a quantity above zero and a price of zero or more.",
            ),
            models.UniqueConstraint(
                fields=["thing"],
                condition=models.Q(struck_at=None) & ~models.Q(thing=""),
                name="hire_besidecharge_thing_once",
                violation_error_message="This is charged already. Strike that out first.",
            ),
        ]

    def __str__(self) -> str:
        return self.what


class Docket(SealedRow):
    """A hire docket: the charges of one hire up to a day, written once. What was wrong in it comes right in the next one."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="dockets")
    number = models.CharField(max_length=16, unique=True)
    through = models.DateField()
    # Lines and notes with their working, as they were read out.
    body = models.JSONField(encoder=DjangoJSONEncoder)
    net = models.DecimalField(max_digits=12, decimal_places=2)
    tax = models.DecimalField(max_digits=12, decimal_places=2)
    total = models.DecimalField(max_digits=12, decimal_places=2)
    is_last = models.BooleanField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(total=models.F("net") + models.F("tax")),
                name="hire_docket_adds_up",
                violation_error_message="A docket’s total is its net and its tax.",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class DocketFile(SealedRow):
    """The docket as a PDF: rendered once, kept by its own hash."""

    docket = models.OneToOneField(Docket, on_delete=models.PROTECT, related_name="file")
    sha256 = models.CharField(max_length=64)
    stored_name = models.CharField(max_length=120)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"file of {self.docket_id}"
