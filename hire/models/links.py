"""How a customer gets in without an account."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from hire.models.agreements import Line
from hire.rights import ANYBODY, RIGHT_NAMES, RIGHTS, SUPERVISOR
from people.rows import Row


class CustomerLink(Row):
    """A link that opens one hire without an account. Only the token's hash is kept: a stolen table opens nothing."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    for_words = models.CharField(max_length=80)
    rights = models.CharField("What it shows", max_length=10, choices=RIGHTS, default=SUPERVISOR)
    made_at = models.DateTimeField()
    # Null: the yard made it by itself, with a letter.
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    expires_at = models.DateTimeField()
    # Null: good until it expires.
    revoked_at = models.DateTimeField(null=True)
    last_used_at = models.DateTimeField(null=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")),
                name="hire_customerlink_expires_later",
                violation_error_message="A link expires after it is made.",
            ),
            models.CheckConstraint(
                condition=models.Q(rights__in=sorted(ANYBODY)),
                name="hire_customerlink_rights_known",
                violation_error_message="A link is for a supervisor, an operator or accounts.",
            ),
        ]

    def __str__(self) -> str:
        return f"link for {self.for_words}"

    @property
    def rights_name(self) -> str:
        return RIGHT_NAMES[self.rights]

    @property
    def is_revoked(self) -> bool:
        return self.revoked_at is not None


class SiteCode(Row):
    """The code that opens the pre-start of one hire at its cart's plate, for whoever is at work with it. Only its password
    hash is kept; a new code takes the old one's place."""

    line = models.OneToOneField(Line, on_delete=models.CASCADE, related_name="site_code")
    code_hash = models.CharField(max_length=128)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"site code of {self.line_id}"


DRIVES_FOR = [
    ("customer", "The customer"),
    ("float", "A float firm"),
    ("casual", "Us, as a casual driver"),
]


class CollectionLinkQuerySet(models.QuerySet["CollectionLink"]):
    def for_page(self) -> CollectionLinkQuerySet:
        """With its hire, cart, customer, and who gave it."""
        return self.select_related("line__cart", "line__agreement__customer", "cart", "made_by")


class CollectionLink(Row):
    """A link by which one named driver who collects one cart does its gate-out check on a phone, and leaves with it. Only the
    token's hash is kept. Whatever becomes of the hire, it is good for this cart alone."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="collection_links")
    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="+")
    token_sha256 = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=60)
    drives_for = models.CharField("Drives for", max_length=8, choices=DRIVES_FOR)
    # Its name as it was then: the customer's, the float firm's, the yard's own.
    firm = models.CharField(max_length=80)
    phone = models.CharField(max_length=40)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    # Null: good until it expires, or the cart has left.
    revoked_at = models.DateTimeField(null=True)
    # Null: never opened.
    last_used_at = models.DateTimeField(null=True)

    objects: ClassVar[CollectionLinkQuerySet] = CollectionLinkQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")),
                name="hire_collectionlink_expires_later",
                violation_error_message="A link expires after it is made.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    name__regex=r"\S",
                    firm__regex=r"\S",
                    phone__regex=r"\S",
                    drives_for__in=[key for key, _ in DRIVES_FOR],
                ),
                name="hire_collectionlink_of_somebody",
                violation_error_message="A driver has a name, a phone, and somebody they drive for.",
            ),
            models.UniqueConstraint(
                fields=["line"],
                condition=models.Q(revoked_at=None),
                name="hire_collectionlink_one_a_hire",
                violation_error_message="One driver collects the cart: the link given before is ended first.",
            ),
        ]

    def __str__(self) -> str:
        return f"collection link of {self.words}"

    @property
    def words(self) -> str:
        """Who they are: "Jo Field, Merrin Civil"."""
        return f"{self.name}, {self.firm}"

    @property
    def is_of_the_customer(self) -> bool:
        """Whether they take the cart for the customer: they sign for it, and accept its limits."""
        return self.drives_for == "customer"

    def is_open(self, *, at: datetime) -> bool:
        """Whether it opens anything (its line loaded): neither ended nor run out, and the cart still to leave on this hire."""
        line = self.line
        is_to_leave = (
            line.handed_over_at is None and line.cancelled_at is None and line.cart_id == self.cart_id
        )
        return self.revoked_at is None and self.made_at <= at < self.expires_at and is_to_leave
