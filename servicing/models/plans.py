"""Services that come round: the plan, what was done by it, what the sweep reckons falls due, and the day it is booked for."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from people.rows import Row

STATES = [
    ("ok", "Not due"),
    ("soon", "Soon"),
    ("due", "Due"),
    ("overdue", "Past its tolerance"),
    ("unknown", "Cannot be reckoned"),
]
TRIGGERS = [("engine_hours", "Engine hours"), ("km", "Odometer"), ("months", "Calendar")]


class ServicePlan(Row):
    """One kind of service with its interval, for one cart, a make and model, a make, or every cart.

    Of plans with one name the narrowest counts for a cart.
    """

    name = models.CharField(max_length=60)
    # Null: by make and model, where blank stands for any.
    cart = models.ForeignKey(
        Cart, null=True, blank=True, on_delete=models.PROTECT, related_name="service_plans"
    )
    make = models.CharField(max_length=40, blank=True)
    model = models.CharField(max_length=40, blank=True)
    # Whichever comes first; null: does not count.
    engine_hours = models.PositiveIntegerField(null=True, blank=True)
    km = models.PositiveIntegerField(null=True, blank=True)
    months = models.PositiveSmallIntegerField(null=True, blank=True)
    # How far past the interval it may run, in hundredths of it.
    tolerance_pct = models.PositiveSmallIntegerField(default=10)
    # False: a round that is missed is chased, but the cart may go.
    stops = models.BooleanField(default=True)
    set_by = models.CharField(
        max_length=5, choices=[("maker", "The maker"), ("yard", "The yard")], default="maker"
    )
    source_words = models.CharField(max_length=120, blank=True)
    minutes = models.PositiveSmallIntegerField(default=120)
    # A line each.
    tasks = models.TextField(blank=True)
    includes = models.ManyToManyField("self", symmetrical=False, related_name="included_in", blank=True)
    # Null: in force.
    ended_on = models.DateField(null=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["name", "make", "model"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["name", "cart", "make", "model"],
                condition=models.Q(ended_on=None),
                nulls_distinct=False,
                name="servicing_serviceplan_once",
                violation_error_message="There is a service of this name for these carts already. Change that one.",
            ),
            models.CheckConstraint(
                condition=models.Q(engine_hours__isnull=False)
                | models.Q(km__isnull=False)
                | models.Q(months__isnull=False),
                name="servicing_serviceplan_has_interval",
                violation_error_message="Give an interval: engine hours, km or months.",
            ),
            models.CheckConstraint(
                condition=(models.Q(engine_hours=None) | models.Q(engine_hours__gte=1))
                & (models.Q(km=None) | models.Q(km__gte=1))
                & (models.Q(months=None) | models.Q(months__gte=1)),
                name="servicing_serviceplan_intervals_positive",
                violation_error_message="An interval is at least one hour, km or month.",
            ),
            models.CheckConstraint(
                condition=models.Q(cart=None) | models.Q(make="", model=""),
                name="servicing_serviceplan_cart_or_class",
                violation_error_message="A service is for one cart, or for a make and model: not both.",
            ),
            models.CheckConstraint(
                condition=~models.Q(make="") | models.Q(model=""),
                name="servicing_serviceplan_model_has_make",
                violation_error_message="Give the make that the model is of.",
            ),
            models.CheckConstraint(
                condition=models.Q(tolerance_pct__lte=50),
                name="servicing_serviceplan_tolerance_believable",
                violation_error_message="A tolerance is at most half the interval.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def task_list(self) -> list[str]:
        return [line.strip() for line in self.tasks.splitlines() if line.strip()]


class ServiceDone(Row):
    """A service as done. One written down wrongly is struck out and stays; struck, it counts for nothing."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="services_done")
    plan = models.ForeignKey(ServicePlan, on_delete=models.PROTECT, related_name="done")
    done_at = models.DateTimeField()
    # Null: the cart has no such meter, or nobody read it.
    engine_hours = models.DecimalField(max_digits=10, decimal_places=1, null=True)
    km = models.DecimalField(max_digits=10, decimal_places=1, null=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    by_words = models.CharField(max_length=120)
    words = models.TextField(blank=True)
    # Null: not known.
    cost = models.DecimalField(max_digits=10, decimal_places=2, null=True)
    # The larger service that this one was part of.
    within = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="parts")
    recorded_at = models.DateTimeField()
    struck_at = models.DateTimeField(null=True)
    struck_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    struck_words = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-done_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["cart", "plan", "-done_at"],
                condition=models.Q(struck_at=None),
                name="servicing_done_latest",
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "plan", "done_at"],
                condition=models.Q(struck_at=None),
                name="servicing_servicedone_once",
                violation_error_message="This service is on record for that time already.",
            ),
            models.CheckConstraint(
                condition=(models.Q(engine_hours=None) | models.Q(engine_hours__gte=0))
                & (models.Q(km=None) | models.Q(km__gte=0))
                & (models.Q(cost=None) | models.Q(cost__gte=Decimal(0))),
                name="servicing_servicedone_not_negative",
                violation_error_message="Hours, km and cost are never below zero.",
            ),
            models.CheckConstraint(
                condition=models.Q(recorded_at__gte=models.F("done_at")),
                name="servicing_servicedone_has_happened",
                violation_error_message="A service is recorded once it is done.",
            ),
            models.CheckConstraint(
                condition=models.Q(struck_at=None, struck_by=None)
                | models.Q(struck_at__isnull=False, struck_by__isnull=False),
                name="servicing_servicedone_struck_by_somebody",
                violation_error_message="A service is struck out by a named person.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.plan} of {self.done_at:%Y-%m-%d}"


class ServiceDue(Row):
    """What the sweep last reckoned of one service of one cart, with what it reckoned from. Made anew, never edited by hand.

    A meter may have run on since: whether the interval is used up is judged by due_* and stop_* against the meters now.
    """

    cart = models.ForeignKey(Cart, on_delete=models.CASCADE, related_name="services_due")
    plan = models.ForeignKey(ServicePlan, on_delete=models.CASCADE, related_name="dues")
    made_at = models.DateTimeField()
    # What it counts from. Null done: never recorded here, so from the first readings on record.
    done = models.ForeignKey(ServiceDone, null=True, on_delete=models.CASCADE, related_name="+")
    last_on = models.DateField()
    last_engine_hours = models.DecimalField(max_digits=10, decimal_places=1, null=True)
    last_km = models.DecimalField(max_digits=10, decimal_places=1, null=True)
    # The meters as they stood; null: none read.
    now_engine_hours = models.DecimalField(max_digits=10, decimal_places=1, null=True)
    now_km = models.DecimalField(max_digits=10, decimal_places=1, null=True)
    read_at = models.DateTimeField(null=True)
    # A day's use; null: too few readings.
    hours_per_day = models.FloatField(null=True)
    km_per_day = models.FloatField(null=True)
    # The interval used up, and used up past the tolerance. Null: this measure does not count.
    due_engine_hours = models.DecimalField(max_digits=10, decimal_places=1, null=True)
    stop_engine_hours = models.DecimalField(max_digits=10, decimal_places=1, null=True)
    due_km = models.DecimalField(max_digits=10, decimal_places=1, null=True)
    stop_km = models.DecimalField(max_digits=10, decimal_places=1, null=True)
    due_on = models.DateField(null=True)
    stop_on = models.DateField(null=True)
    # The day it falls due as forecast; null: no measure gives a day.
    on = models.DateField(null=True)
    on_low = models.DateField(null=True)
    # Null with a day: no latest, since on some days nothing is used.
    on_high = models.DateField(null=True)
    trigger = models.CharField(max_length=12, choices=TRIGGERS, blank=True)
    state = models.CharField(max_length=7, choices=STATES)

    class Meta:
        ordering: ClassVar[list[str]] = ["on"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["on_low"], name="servicing_due_by_day"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "plan"],
                name="servicing_servicedue_once",
                violation_error_message="This service of this cart is reckoned already.",
            ),
            models.CheckConstraint(
                condition=models.Q(on=None)
                | models.Q(on_low__lte=models.F("on"))
                & (models.Q(on_high=None) | models.Q(on_high__gte=models.F("on"))),
                name="servicing_servicedue_spread_in_order",
                violation_error_message="The earliest day is not after the latest.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.plan} of {self.cart_id}: {self.state}"


class Visit(Row):
    """A day a cart is booked for the workshop, or for a fitter to come to it on site."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="visits")
    on = models.DateField()
    where = models.CharField(
        max_length=4,
        choices=[("yard", "In the workshop"), ("site", "On site, a fitter goes out")],
        default="yard",
    )
    words = models.CharField(max_length=240)
    minutes = models.PositiveSmallIntegerField(default=60)
    booked_at = models.DateTimeField()
    booked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: stands.
    cancelled_at = models.DateTimeField(null=True)
    cancelled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering: ClassVar[list[str]] = ["on"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["cart", "on"],
                condition=models.Q(cancelled_at=None),
                name="servicing_visit_one_a_day",
                violation_error_message="The cart is booked for that day already.",
            ),
            models.CheckConstraint(
                condition=models.Q(cancelled_at=None, cancelled_by=None)
                | models.Q(cancelled_at__gte=models.F("booked_at"), cancelled_by__isnull=False),
                name="servicing_visit_cancelled_by_somebody",
                violation_error_message="A workshop day is cancelled by a named person, after it was booked.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cart_id} on {self.on}"
