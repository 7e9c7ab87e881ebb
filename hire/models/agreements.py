"""Hire agreements and their carts, and the days a cart stood."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import ClassVar
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.db import models
from django.db.models import Deferrable, Func
from django.db.models.functions import Least

from fleet.models.carts import Cart
from fleet.models.weights import RULE_SETS
from hire.models.customers import Customer
from hire.models.needs import CartNeeds
from hire.querysets import LineQuerySet
from hire.shifts import WORKED
from people.clock import shown_by, zone_mark
from people.rows import Row
from people.yard import yard_policy

LEAVES_BY = [("road", "Driven on the road"), ("float", "Carried on a float"), ("site", "From site to site")]
WORKS_ON = [("road", "Road and site"), ("site", "Site only")]
PRE_START_BOOKS = [
    ("ours", "Ours, on our link"),
    ("theirs", "Their own book; a photo of the page each week"),
    ("system", "Their own system; a weekly copy"),
]
STAND_DOWN_KINDS = [("rain", "Rain"), ("breakdown", "Breakdown")]
BREAKDOWN_CAUSES = [("", "Ours: wear, or a part that failed"), ("tyres", "Tyres"), ("misuse", "Misuse")]
GOES = [("dry", "Dry: the customer’s operator"), ("wet", "Wet: with an operator of ours")]
WATERS = [("any", "Any water"), ("potable", "Potable only")]
SHIFTS_A_DAY = [(1, "One shift"), (2, "Day and night")]
# A handover or a return written down later than this after it happened shows both times. Common practice, no source.
LATE_AFTER = timedelta(minutes=10)
WEEKS = [(5, "5, Monday to Friday"), (6, "6, Monday to Saturday"), (7, "7, every day")]
WORKS_BY = [("day", "Day"), ("night", "Night"), ("both", "Day and night")]


def shifts_said(shift: str) -> dict[str, int | bool]:
    """How a hire is worked (a key of WORKED) as its columns keep it."""
    return {"shifts_a_day": len(WORKED[shift]), "is_night": shift == "night"}


class Work(Row):
    """What is said of a hire's work, before its cart is chosen and after."""

    order_number = models.CharField(max_length=40, blank=True)
    place_of_work = models.CharField(max_length=120)
    leaves_by = models.CharField(max_length=5, choices=LEAVES_BY, default="road")
    works_on = models.CharField(max_length=4, choices=WORKS_ON, default="road")
    pre_start_book = models.CharField(
        "Whose pre-start", max_length=6, choices=PRE_START_BOOKS, default="ours"
    )
    shifts_a_day = models.PositiveSmallIntegerField("Shifts a day", choices=SHIFTS_A_DAY, default=1)
    # True: its one shift is the night's.
    is_night = models.BooleanField("By night alone", default=False)
    # Null: nobody said. What the terms of a cart agree on counts before this.
    days_in_week = models.PositiveSmallIntegerField(
        "Days worked in a week", choices=WEEKS, null=True, blank=True
    )
    water = models.CharField("Water carried", max_length=7, choices=WATERS, default="any")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(shifts_a_day__in=[number for number, _ in SHIFTS_A_DAY]),
                name="%(app_label)s_%(class)s_shifts_known",
                violation_error_message="A cart works one shift a day, or day and night.",
            ),
            models.CheckConstraint(
                condition=models.Q(is_night=False) | models.Q(shifts_a_day=1),
                name="%(app_label)s_%(class)s_night_is_one_shift",
                violation_error_message="A cart works by day, by night, or day and night.",
            ),
            models.CheckConstraint(
                condition=models.Q(days_in_week=None)
                | models.Q(days_in_week__in=[days for days, _ in WEEKS]),
                name="%(app_label)s_%(class)s_week_known",
                violation_error_message="A hire works 5, 6 or 7 days in a week.",
            ),
            models.CheckConstraint(
                condition=models.Q(water__in=[water for water, _ in WATERS]),
                name="%(app_label)s_%(class)s_water_known",
                violation_error_message="A hire carries any water, or potable water only.",
            ),
        ]

    @property
    def shift(self) -> str:
        """How it is worked: a key of WORKED."""
        if self.shifts_a_day > 1:
            return "both"
        return "night" if self.is_night else "day"

    @property
    def shift_words(self) -> str:
        return dict(WORKS_BY)[self.shift]

    @property
    def shifts(self) -> tuple[int, ...]:
        """The shifts of its day by their numbers."""
        return WORKED[self.shift]


class Agreement(Work):
    number = models.CharField(max_length=16, unique=True)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="agreements")
    # What the order number is good for, before tax. Null: nobody said.
    order_value = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    # When the pre-start book or the shifts were changed last; null: never. Before it worked so, in our book or not.
    owed_since = models.DateTimeField(null=True, blank=True)
    shift_before = models.CharField(max_length=5, choices=WORKS_BY, default="day")
    ours_before = models.BooleanField(default=False)
    # Whose clock and calendar its days go by, and under whose road rules it works; changed until its first cart has left.
    time_zone = models.CharField(max_length=40)
    rule_set = models.CharField(max_length=2, choices=RULE_SETS)
    # Blank: the yard's own; of another rule set than the yard's, its country's alone. What the terms of a cart say counts before.
    holiday_region = models.CharField("Holidays of", max_length=8, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            *Work.Meta.constraints,
            models.CheckConstraint(
                condition=models.Q(order_value=None)
                | models.Q(order_value__gt=0) & ~models.Q(order_number=""),
                name="hire_agreement_order_value_of_an_order",
                violation_error_message="A value above zero is of an order number.",
            ),
            models.CheckConstraint(
                condition=models.Q(rule_set__in=[key for key, _ in RULE_SETS]),
                name="hire_agreement_rule_set_known",
                violation_error_message="A hire works under Australian, United States or United Kingdom rules.",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def zone(self) -> ZoneInfo:
        """Its clock: days, cut-offs and times of the hire go by it."""
        return ZoneInfo(self.time_zone)

    def mark(self, at: datetime) -> str:
        """What stands after a time of it on a paper, " AWST"; "" where its clock is the yard's."""
        with shown_by(self.zone):
            return zone_mark(at)

    def day(self, at: datetime) -> date:
        """The site's calendar day at an instant."""
        return at.astimezone(self.zone).date()

    def day_bounds(self, on: date) -> tuple[datetime, datetime]:
        """Half-open [start, end) of the site's calendar day, in UTC."""
        start, end = (datetime.combine(day, time.min, self.zone) for day in (on, on + timedelta(days=1)))
        return start.astimezone(UTC), end.astimezone(UTC)


class Line(CartNeeds):
    """One cart on an agreement, and what was asked of it. `promised` is half-open; `kept`, which is that or what a call left of it,
    may not overlap what the same cart is kept for on another hire, until it is back. What really happened (handed_over_at,
    back_at) is apart from both and is always recordable."""

    agreement = models.ForeignKey(Agreement, on_delete=models.PROTECT, related_name="lines")
    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="lines")
    promised = DateTimeRangeField()
    # Off-hired: when it is to be in the yard again; past the promised end too. Null: not called off.
    kept_until = models.DateTimeField(null=True)
    kept = models.GeneratedField(
        expression=Func(
            Func(models.F("promised"), function="lower", output_field=models.DateTimeField()),
            Least(
                Func(models.F("promised"), function="upper", output_field=models.DateTimeField()),
                models.F("kept_until"),
            ),
            function="tstzrange",
        ),
        output_field=DateTimeRangeField(),
        db_persist=True,
    )
    # True: the customer asked for this very cart. No other is proposed for it.
    is_this_cart = models.BooleanField("This very cart was promised", default=False)
    # Null: stands.
    cancelled_at = models.DateTimeField(null=True)
    cancelled_why = models.CharField(max_length=240, blank=True)
    # When it was last looked at on its float, by hire.actions.float_looks; null: it was not, or another cart goes.
    loaded_at = models.DateTimeField(null=True)
    # Null: has not left.
    handed_over_at = models.DateTimeField(null=True)
    # Null: not back.
    back_at = models.DateTimeField(null=True)
    # When each was written down; null: not yet, or before that was kept.
    left_entered_at = models.DateTimeField(null=True)
    back_entered_at = models.DateTimeField(null=True)
    # Another cart was chosen then, or the work changed: what was sent before says what is no longer so. Null: never.
    changed_at = models.DateTimeField(null=True)

    objects: ClassVar[LineQuerySet] = LineQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["promised"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["cart"],
                condition=models.Q(handed_over_at__isnull=False, back_at=None),
                name="hire_line_out_now",
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            *CartNeeds.Meta.constraints,
            ExclusionConstraint(
                name="hire_line_one_promise_a_cart",
                expressions=[("cart", RangeOperators.EQUAL), ("kept", RangeOperators.OVERLAPS)],
                condition=models.Q(cancelled_at=None, back_at=None),
                # Two hires exchange their carts in one transaction: hire.actions.accept_carts puts the look off to its end.
                deferrable=Deferrable.IMMEDIATE,
                violation_error_message="This cart is promised to another hire in that time. Choose another cart or period.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    promised__isempty=False, promised__lower_inf=False, promised__upper_inf=False
                ),
                name="hire_line_promise_in_order",
                violation_error_message="A hire ends after it starts.",
            ),
            models.CheckConstraint(
                condition=models.Q(back_at=None) | models.Q(back_at__gte=models.F("handed_over_at")),
                name="hire_line_back_after_leaving",
                violation_error_message="A cart comes back after it was handed over.",
            ),
            models.CheckConstraint(
                condition=models.Q(back_at=None) | models.Q(handed_over_at__isnull=False),
                name="hire_line_back_was_out",
                violation_error_message="A cart that never left cannot come back.",
            ),
            models.CheckConstraint(
                condition=(
                    models.Q(left_entered_at=None) | models.Q(handed_over_at__lte=models.F("left_entered_at"))
                )
                & (models.Q(back_entered_at=None) | models.Q(back_at__lte=models.F("back_entered_at"))),
                name="hire_line_entered_after_it_happened",
                violation_error_message="A handover and a return are written down once they happened.",
            ),
            models.CheckConstraint(
                condition=models.Q(cancelled_at=None) | models.Q(handed_over_at=None),
                name="hire_line_cancelled_never_left",
                violation_error_message="A hire that has left the gate is ended by its return, not cancelled.",
            ),
            models.UniqueConstraint(
                fields=["cart"],
                condition=models.Q(handed_over_at__isnull=False, back_at=None),
                name="hire_line_one_out_a_cart",
                violation_error_message="This cart is still out on another hire.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.agreement.number} {self.cart.fleet_number}"

    @property
    def is_out(self) -> bool:
        return self.handed_over_at is not None and self.back_at is None

    def loaded_for(self, leaves_at: datetime) -> datetime | None:
        """When it was loaded on the float it leaves on at that moment; None where it does not, or that is too long before."""
        loaded = self.loaded_at if self.agreement.leaves_by == "float" else None
        if loaded is None or not loaded <= leaves_at < loaded + yard_policy().loaded_good:
            return None
        return loaded

    @property
    def expected_back(self) -> datetime:
        """When it is to be in the yard again."""
        expected: datetime = self.kept_until or self.promised.upper
        return expected

    @property
    def kept_to(self) -> datetime:
        """The end of `kept`: its cart may be another hire's from then."""
        ends: datetime = min(self.promised.upper, self.expected_back)
        return ends

    def is_overdue(self, *, at: datetime) -> bool:
        """Out, and should be back by now."""
        return self.is_out and self.expected_back <= at

    @property
    def left_entered_late_at(self) -> datetime | None:
        """When the handover was written down, where that was later than it happened."""
        return _later(self.handed_over_at, self.left_entered_at)

    @property
    def back_entered_late_at(self) -> datetime | None:
        return _later(self.back_at, self.back_entered_at)

    @property
    def back_known_at(self) -> datetime | None:
        """When the yard knew it was back: what is done after a return is done after that."""
        return self.back_entered_at or self.back_at


def _later(happened: datetime | None, entered: datetime | None) -> datetime | None:
    return entered if happened and entered and entered - happened > LATE_AFTER else None


class StandDownQuerySet(models.QuerySet["StandDown"]):
    def standing(self, *, at: datetime | None = None) -> StandDownQuerySet:
        """Those that count: not struck out. at: as it was known at that moment."""
        if at is None:
            return self.filter(strike=None)
        return self.filter(
            models.Q(made_at=None) | models.Q(made_at__lte=at), models.Q(strike=None) | models.Q(strike__made_at__gt=at)
        )  # fmt: skip


class StandDown(Row):
    """A day on which the cart was not worked, told and agreed: no pre-start is owed for it."""

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="stand_downs")
    on = models.DateField()
    # Which row of its day this is: another one follows once the one before is struck out.
    nth = models.PositiveSmallIntegerField(default=1)
    # What it means for the charge is the agreement's affair.
    kind = models.CharField(max_length=9, choices=STAND_DOWN_KINDS, default="rain")
    why = models.CharField(max_length=120)
    told_at = models.DateTimeField()
    told_by_words = models.CharField(max_length=120)
    # Null: nobody read the clock that day.
    worked_hours = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    # Of a breakdown. Null: the whole day.
    lost_hours = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    cause = models.CharField(max_length=6, choices=BREAKDOWN_CAUSES, blank=True)
    customer_words = models.CharField("What the customer says", max_length=240, blank=True)
    yard_words = models.CharField("What the yard says", max_length=240, blank=True)
    # When it was written down, and by whom; null: before that was kept.
    made_at = models.DateTimeField(null=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    objects: ClassVar[StandDownQuerySet] = StandDownQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["on"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["line", "on", "nth"],
                name="hire_standdown_once_a_day",
                violation_error_message="This day is already stood down.",
            ),
            models.CheckConstraint(
                condition=(models.Q(worked_hours=None) | models.Q(worked_hours__range=(0, 24)))
                & (models.Q(lost_hours=None) | models.Q(lost_hours__range=(0, 24))),
                name="hire_standdown_hours_of_a_day",
                violation_error_message="A day has from 0 to 24 hours.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.on}"
