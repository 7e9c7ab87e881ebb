"""The reading vocabulary of the fleet."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django.apps import apps
from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from fleet.models.carts import Cart  # noqa: F401 - named in a quoted type
    from fleet.models.defects import Defect  # noqa: F401 - as above


class CartQuerySet(models.QuerySet["Cart"]):
    def _related(self, name: str, **facts: object) -> models.QuerySet[models.Model]:
        """Rows of another fleet table that belong to the cart of the outer query. By name: that module imports this one."""
        rows: models.QuerySet[models.Model] = apps.get_model("fleet", name)._base_manager.all()
        return rows.filter(cart=models.OuterRef("pk"), **facts)

    def in_fleet(self, *, on: date) -> CartQuerySet:
        return self.filter(Q(retired_on=None) | Q(retired_on__gt=on))

    def found_by(self, words: str) -> CartQuerySet:
        """Carts whose fleet number or plate holds the words; spaces and hyphens in what was typed do not matter."""
        tight = words.replace(" ", "").replace("-", "")
        return self.annotate(
            tight_number=models.functions.Replace("fleet_number", models.Value("-"), models.Value("")),
            tight_plate=models.functions.Replace(
                models.functions.Replace("plate", models.Value(" "), models.Value("")),
                models.Value("-"),
                models.Value(""),
            ),
        ).filter(Q(tight_number__icontains=tight) | Q(tight_plate__icontains=tight))

    def left_fleet(self, *, on: date) -> CartQuerySet:
        return self.filter(retired_on__lte=on)

    def with_gear(self, kind: str) -> CartQuerySet:
        """Carts with that gear fitted now."""
        return self.filter(fitments__kind=kind, fitments__removed_on=None)

    def told_to_stop(self) -> CartQuerySet:
        """Carts tagged out, or with an open defect that says do not use and is not isolated."""
        not_isolated = ~models.Q(limits__lifted_at=None, limits__isnull=False)
        defects = self._related("Defect", closed_at=None, grade="do_not_use").filter(not_isolated)
        return self.filter(models.Exists(self._related("Hold", lifted_at=None)) | models.Exists(defects))

    def with_open_defects(self) -> CartQuerySet:
        return self.filter(models.Exists(self._related("Defect", closed_at=None)))

    def let_go(self) -> CartQuerySet:
        """Carts that go with a limit, or with something passed by authority."""
        limits, passes = self._related("Limit", lifted_at=None), self._related("Pass", closed_at=None)
        return self.filter(models.Exists(limits) | models.Exists(passes))

    def for_sheets(self) -> CartQuerySet:
        """With everything a check sheet is built from, in a constant number of queries."""
        return self.prefetch_related("axle_groups", "fitments", "wheel_positions", "extinguishers")

    def for_drawing(self) -> CartQuerySet:
        return self.prefetch_related("axle_groups", "fitments", "wheel_positions")


class DefectQuerySet(models.QuerySet["Defect"]):
    def open(self) -> DefectQuerySet:
        return self.filter(closed_at=None)

    def closed(self) -> DefectQuerySet:
        return self.filter(closed_at__isnull=False)

    def in_queue(self, *, on: date) -> DefectQuerySet:
        """Open, and not put off to a day after this one."""
        return self.open().exclude(state="put_off", put_off_until__gt=on)

    def worst_first(self) -> DefectQuerySet:
        rank = models.Case(
            models.When(grade="do_not_use", then=0), models.When(grade="by_date", then=1), default=2,
            output_field=models.IntegerField(),
        )  # fmt: skip
        return self.annotate(grade_rank=rank).order_by(
            "grade_rank", models.F("due_on").asc(nulls_last=True), "told_at", "id"
        )

    def for_list(self) -> DefectQuerySet:
        return self.select_related("cart", "assigned_to", "repaired_by", "verified_by", "put_off_by")
