"""Quotes: what the yard offered a caller, for how much and on which terms, each written once."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from typing import ClassVar
from uuid import UUID

from django.conf import settings
from django.contrib.postgres.fields import DateTimeRangeField
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from fleet.models.carts import Cart
from hire.models.agreements import WORKS_BY, Line
from hire.models.bookings import Booking
from hire.models.customers import Customer
from hire.models.money import RateCard
from hire.models.pencils import Pencil
from people.rows import Row, SealedRow


class QuoteQuerySet(models.QuerySet["Quote"]):
    def for_list(self) -> QuoteQuerySet:
        taken = QuoteTaken.objects.select_related("line__agreement", "line__cart", "booking__customer")
        return self.select_related(
            "cart", "customer", "pencil", "booking", "made_by", "file"
        ).prefetch_related(models.Prefetch("taken", taken))

    def named(self, text: str) -> Quote | None:
        """The quote an address names; none where it names none."""
        with suppress(ValueError):
            return self.filter(pk=UUID(text)).first()
        return None

    def of_pencil(self, pencil: Pencil | None) -> Quote | None:
        """The newest written for a pencilled cart."""
        return self.filter(pencil=pencil).order_by("-made_at").first() if pencil else None

    def of_booking(self, booking: Booking) -> Quote | None:
        """The newest written for a booking, or the one it came from."""
        of_it = models.Q(booking=booking) | models.Q(taken__booking=booking)
        return self.filter(of_it).order_by("-made_at").first()


class Quote(SealedRow):
    """What was offered. A change is another quote; a later rate card changes nothing of it."""

    number = models.CharField(max_length=16, unique=True)
    # Of the form it was written with: one form sent twice is one quote.
    form_id = models.UUIDField(unique=True)
    # Null: the cart is chosen later.
    cart = models.ForeignKey(Cart, null=True, on_delete=models.PROTECT, related_name="quotes")
    # Null: a caller who is no customer yet.
    customer = models.ForeignKey(Customer, null=True, on_delete=models.PROTECT, related_name="quotes")
    pencil = models.ForeignKey(Pencil, null=True, on_delete=models.PROTECT, related_name="quotes")
    booking = models.ForeignKey(Booking, null=True, on_delete=models.PROTECT, related_name="quotes")
    # Null: no card has prices for such a cart.
    card = models.ForeignKey(RateCard, null=True, on_delete=models.PROTECT, related_name="+")
    to_name = models.CharField(max_length=80)
    phone = models.CharField(max_length=30, blank=True)
    email = models.EmailField(blank=True)
    place_of_work = models.CharField(max_length=120, blank=True)
    # Half-open, as a promise is.
    period = DateTimeRangeField()
    is_wet = models.BooleanField("Wet hire")
    shift = models.CharField("Works by", max_length=5, choices=WORKS_BY)
    rule = models.CharField(max_length=14)
    # As hire.terms_text reads them.
    terms = models.JSONField(encoder=DjangoJSONEncoder)
    # Lines and words as they were printed, and what was asked, by the names of the forms it goes on into.
    body = models.JSONField(encoder=DjangoJSONEncoder)
    net = models.DecimalField(max_digits=12, decimal_places=2)
    tax = models.DecimalField(max_digits=12, decimal_places=2)
    total = models.DecimalField(max_digits=12, decimal_places=2)
    # The last day on which it stands.
    valid_until = models.DateField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[QuoteQuerySet] = QuoteQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at", "-number"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(total=models.F("net") + models.F("tax")),
                name="hire_quote_adds_up",
                violation_error_message="A quote’s total is its net and its tax.",
            ),
            models.CheckConstraint(
                condition=~models.Q(rule="") & ~models.Q(to_name=""),
                name="hire_quote_says_rule_and_whom",
                violation_error_message="A quote says for whom it is and by which rule its price is.",
            ),
            models.CheckConstraint(
                condition=models.Q(period__isempty=False, period__lower_inf=False, period__upper_inf=False),
                name="hire_quote_period_in_order",
                violation_error_message="A hire ends after it starts.",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    def has_run_out(self, *, on: date) -> bool:
        return on > self.valid_until

    def asked(self) -> dict[str, object]:
        """What was asked, by the names of the forms it goes on into."""
        found: dict[str, object] = {"starts_at": self.period.lower, "ends_at": self.period.upper}
        found |= {"cart": self.cart_id, "customer": self.customer_id} | self.body["asked"]
        # Litres and axles of 0 are any: nobody said them.
        return {name: value for name, value in found.items() if value}

    @property
    def for_words(self) -> str:
        """Whom it is for, as it is spoken of."""
        return f"{self.to_name}, {self.customer.name}" if self.customer else self.to_name


class QuoteFile(SealedRow):
    """The quote as a PDF: rendered once, kept by its own hash."""

    quote = models.OneToOneField(Quote, on_delete=models.PROTECT, related_name="file")
    sha256 = models.CharField(max_length=64)
    stored_name = models.CharField(max_length=120)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"file of {self.quote_id}"


class QuoteTaken(SealedRow):
    """A booking or a hire that came of a quote."""

    quote = models.ForeignKey(Quote, on_delete=models.PROTECT, related_name="taken")
    booking = models.OneToOneField(Booking, null=True, on_delete=models.PROTECT, related_name="quoted")
    line = models.OneToOneField(Line, null=True, on_delete=models.PROTECT, related_name="quoted")
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["taken_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(booking=None, line__isnull=False)
                | models.Q(booking__isnull=False, line=None),
                name="hire_quotetaken_by_one",
                violation_error_message="A quote is taken by a booking or by a hire.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quote_id} taken"


class QuoteLetter(Row):
    """A quote sent to the caller by email, its file with it. The worker sends it once."""

    quote = models.ForeignKey(Quote, on_delete=models.PROTECT, related_name="letters")
    to_name = models.CharField(max_length=80)
    to_address = models.EmailField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: not sent yet.
    sent_at = models.DateTimeField(null=True)
    file_sha256 = models.CharField(max_length=64, blank=True)
    # Null: did not come back. Told by the mail server.
    came_back_at = models.DateTimeField(null=True)
    came_back_words = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(sent_at=None, file_sha256="")
                | models.Q(sent_at__isnull=False) & ~models.Q(file_sha256=""),
                name="hire_quoteletter_sent_names_its_file",
                violation_error_message="A letter that was sent says which file went with it.",
            ),
            models.CheckConstraint(
                condition=models.Q(came_back_at=None, came_back_words="")
                | models.Q(came_back_at__isnull=False) & ~models.Q(came_back_words=""),
                name="hire_quoteletter_came_back_says_why",
                violation_error_message="A letter that came back says what the answer was.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quote_id} to {self.to_name}"
