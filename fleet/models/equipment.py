"""Extinguishers with their services, and the papers a cart must carry."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from people.rows import Row

AGENTS = [
    ("dry_chemical", "Dry powder"),
    ("co2", "CO2"),
    ("water", "Water"),
    ("foam", "Foam"),
    ("wet_chemical", "Wet chemical"),
]
DOCUMENT_KINDS = [
    ("registration", "Registration"),
    ("inspection", "Periodic inspection"),
    ("insurance", "Insurance"),
    ("rops_plate", "Rollover frame record"),
    ("plant_risk", "Plant risk assessment"),
    ("manual", "Maker's handbook"),
    ("noise", "Noise figure"),
    ("backflow", "Backflow test"),
    ("wash_down", "Weed-and-seed wash-down"),
    ("modification", "Modification plate"),
    ("work_method", "Work method statement"),
    ("safety_data", "Safety data of additives"),
    ("suppression", "Fire suppression"),
    ("hygiene", "Tank hygiene"),
]
# A lapsed one stops the cart: always, or only on a public road.
STOPS_ALWAYS = frozenset({"insurance", "rops_plate"})
STOPS_ON_ROAD = frozenset({"registration", "inspection"})


class Extinguisher(Row):
    serial = models.CharField(max_length=30, unique=True)
    agent = models.CharField(max_length=12, choices=AGENTS, default="dry_chemical")
    size_kg = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal(9))
    made_on = models.DateField()
    # Null: on the shelf.
    cart = models.ForeignKey(
        Cart, null=True, blank=True, on_delete=models.PROTECT, related_name="extinguishers"
    )
    bracket = models.CharField(max_length=60, blank=True)
    # True: discharged, gauge out of the green, or found unfit; stops the cart until it is serviced or swapped.
    is_discharged = models.BooleanField(default=False)
    # At the end of its life: kept on record, never again on a cart.
    condemned_at = models.DateTimeField(null=True, blank=True)
    condemned_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    condemned_words = models.CharField(max_length=160, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["serial"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(size_kg__gt=Decimal(0)),
                name="fleet_extinguisher_size_positive",
                violation_error_message="An extinguisher weighs more than nothing.",
            ),
            models.CheckConstraint(
                condition=models.Q(condemned_at=None) | models.Q(cart=None),
                name="fleet_extinguisher_condemned_on_no_cart",
                violation_error_message="A condemned extinguisher never goes on a cart again.",
            ),
            models.CheckConstraint(
                condition=models.Q(condemned_at=None, condemned_by=None, condemned_words="")
                | models.Q(condemned_at__isnull=False, condemned_by__isnull=False)
                & ~models.Q(condemned_words=""),
                name="fleet_extinguisher_condemned_by_somebody",
                violation_error_message="A condemned extinguisher says by whom and why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.size_kg.normalize():f} kg {self.get_agent_display().lower()} {self.serial}"


class ExtinguisherService(Row):
    """A service as stamped on the tag. `kind` is a word of servicing.extinguishers for the yard's rule set."""

    extinguisher = models.ForeignKey(Extinguisher, on_delete=models.CASCADE, related_name="services")
    kind = models.CharField(max_length=30)
    on = models.DateField()
    by_words = models.CharField(max_length=80)

    class Meta:
        ordering: ClassVar[list[str]] = ["-on"]

    def __str__(self) -> str:
        return f"{self.kind} on {self.on}"


class Document(Row):
    """A paper with dates. No cart: it covers the whole yard, so one lapse is one alert."""

    cart = models.ForeignKey(Cart, null=True, blank=True, on_delete=models.CASCADE, related_name="documents")
    kind = models.CharField(max_length=14, choices=DOCUMENT_KINDS)
    number = models.CharField(max_length=40, blank=True)
    issued_on = models.DateField(null=True, blank=True)
    # Null: does not lapse. The last day it is good.
    expires_on = models.DateField(null=True, blank=True)
    # What it holds only with, such as a conditional registration: the cart goes with that.
    conditions = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering: ClassVar[list[str]] = ["kind", "-expires_on"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(issued_on=None)
                | models.Q(expires_on=None)
                | models.Q(expires_on__gte=models.F("issued_on")),
                name="fleet_document_period_in_order",
                violation_error_message="A document cannot lapse before it was issued.",
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
