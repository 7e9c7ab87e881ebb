"""Flow and evenness tests of a cart's spray heads: what each head gave into the bucket, written once."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from fleet.models.spraying import SprayHead, SpraySheet
from fleet.water import evenness as pure
from people.rows import SealedRow


class EvennessTest(SealedRow):
    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="evenness_tests")
    sheet = models.ForeignKey(SpraySheet, on_delete=models.PROTECT, related_name="tests")
    done_at = models.DateTimeField()
    pressure_kpa = models.DecimalField(max_digits=7, decimal_places=1)
    # The yard's when it was signed: a verdict is not changed by another setting.
    tolerance_pct = models.DecimalField(max_digits=4, decimal_places=1)
    words = models.CharField(max_length=160, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["-done_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "done_at"],
                name="fleet_evennesstest_once_a_time",
                violation_error_message="A test of this cart's heads is on record for that time.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    pressure_kpa__gt=0, tolerance_pct__gt=0, tolerance_pct__lt=Decimal(100), recorded_at__gte=models.F("done_at")
                ),
                name="fleet_evennesstest_in_order",
                violation_error_message="A test is signed once it is done, at a pressure above zero.",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"evenness of {self.cart.fleet_number}"

    def result(self) -> pure.Evenness:
        """Reckoned from the catches and their heads, loaded with it by `querysets` that show many."""
        return pure.judge(
            [row.catch() for row in self.catches.all()],
            pressure_kpa=self.pressure_kpa,
            head_kpa=self.sheet.head_kpa,
            tolerance_pct=self.tolerance_pct,
        )

    def later_figures(self) -> str:
        """A sentence where spray figures were recorded between the test and its arrival; "" else. One query."""
        later = self.cart.spray_sheets.filter(
            version__gt=self.sheet.version, recorded_at__lte=self.recorded_at
        ).first()
        if later is None:
            return ""
        return f"Judged against spray figures {self.sheet.version}, as caught: figures {later.version} came before it arrived."


class HeadCatch(SealedRow):
    """What one head gave: litres caught in so many seconds."""

    test = models.ForeignKey(EvennessTest, on_delete=models.PROTECT, related_name="catches")
    head = models.ForeignKey(SprayHead, on_delete=models.PROTECT, related_name="catches")
    caught_l = models.DecimalField(max_digits=6, decimal_places=2)
    seconds = models.DecimalField(max_digits=5, decimal_places=1)

    class Meta:
        ordering: ClassVar[list[str]] = ["head__position"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["test", "head"],
                name="fleet_headcatch_once_a_head",
                violation_error_message="A head is caught once in a test.",
            ),
            models.CheckConstraint(
                condition=models.Q(caught_l__gte=0, seconds__gt=0),
                name="fleet_headcatch_in_order",
                violation_error_message="A catch is not below zero, and takes some seconds.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.head}: {self.caught_l} L"

    def catch(self) -> pure.Catch:
        head = self.head
        return pure.Catch(head.name, head.nozzle, head.nominal_l_min, self.caught_l, self.seconds)


class EvennessSignature(SealedRow):
    """How a test was signed on a tablet, under the id the tablet gave it; one typed at the desk has none."""

    test = models.OneToOneField(EvennessTest, on_delete=models.PROTECT, related_name="signature")
    # The canonical text the signature is bound to.
    record = models.TextField()
    record_sha256 = models.CharField(max_length=64)
    # By the yard's clock; clock_offset_ms is the yard's less the tablet's, as the tablet last knew it.
    signed_at = models.DateTimeField()
    clock_offset_ms = models.BigIntegerField()
    author_words = models.CharField(max_length=120)
    # Whoever signed had taken the tablet by name alone, with no signal for a PIN.
    is_by_name = models.BooleanField()
    sent_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=5, choices=[("drawn", "Drawn"), ("typed", "Typed")])
    name = models.CharField(max_length=120)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(kind__in=["drawn", "typed"]),
                name="fleet_evennesssignature_kind_known",
                violation_error_message="A test is signed by a drawn or a typed name.",
            ),
        ]

    def __str__(self) -> str:
        return f"signature of {self.test_id}"

    @property
    def is_own_sign_in(self) -> bool:
        """Whether whoever signed had the tablet by their own sign-in, and sent it in themselves."""
        return self.sent_by_id == self.test.recorded_by_id and not self.is_by_name
