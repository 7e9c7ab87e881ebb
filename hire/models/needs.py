"""What a cart must be for a hire, as it was asked, kept with the pencil, the booking and the promise that came of it."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models

from fleet.gear import GEAR
from hire.suiting import Needs, needs_words
from people.rows import Row

DRIVES = [(0, "Any"), (1, "One"), (2, "Two")]
NEEDS_FIELDS = ("litres", "road_litres", "gear", "drive_axles")


class CartNeeds(Row):
    # At least; 0: any tank, and any road fill.
    litres = models.PositiveIntegerField(default=0)
    road_litres = models.PositiveIntegerField("Litres on a public road", default=0)
    # Kinds of fleet.gear, in order.
    gear = ArrayField(models.CharField(max_length=40), default=list, blank=True)
    # 0: any.
    drive_axles = models.PositiveSmallIntegerField("Driven axles", choices=DRIVES, default=0)

    class Meta:
        abstract = True
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(drive_axles__in=[number for number, _ in DRIVES]),
                name="%(app_label)s_%(class)s_drive_known",
                violation_error_message="One or two driven axles are asked for, or any.",
            ),
        ]

    @property
    def needs(self) -> Needs:
        return Needs(self.litres, self.road_litres, frozenset(self.gear), self.drive_axles)

    @property
    def asked_words(self) -> str:
        """What the cart must be: "18,000 L, cannon"; "" where nothing was asked."""
        return ", ".join(needs_words(self.needs, names=GEAR))

    def take_needs(self, needs: Needs) -> None:
        self.litres, self.road_litres, self.drive_axles = needs.litres, needs.road_litres, needs.drive_axles
        self.gear = sorted(needs.gear)
