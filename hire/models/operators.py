"""Who drives a cart on wet hire, with what tickets, and when."""

from __future__ import annotations

from datetime import date, datetime
from typing import ClassVar

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import ArrayField, DateTimeRangeField, RangeOperators
from django.db import models
from django.db.models.functions import Coalesce, Lower

from fleet.models.photos import Photo
from hire.models.agreements import Line
from hire.models.customers import Customer
from hire.shifts import DAY_SHIFT, NIGHT_SHIFT
from people.rows import Row

TICKET_KINDS = [
    ("licence", "Driving licence"),
    ("machine", "Machine ticket"),
    ("high_risk", "High-risk work ticket"),
    ("induction", "Site induction"),
    ("medical", "Medical"),
]
# What a hire may ask of its operator beside the licence.
WANTS = [(kind, words) for kind, words in TICKET_KINDS if kind != "licence"]
KINDS_WANTED = tuple(kind for kind, _ in WANTS)
TURN_SHIFTS = [(DAY_SHIFT, "Day shift"), (NIGHT_SHIFT, "Night shift")]


class OperatorQuerySet(models.QuerySet["Operator"]):
    def working(self) -> OperatorQuerySet:
        return self.filter(ended_at=None)

    def for_list(self) -> OperatorQuerySet:
        named = self.select_related("staff").annotate(shown=Coalesce("staff__full_name", "name"))
        return named.order_by("firm", "shown", "pk")


class Operator(Row):
    """Somebody of the yard who goes with a cart, or an outside operator with a firm of their own."""

    # Null: from outside, with a name and a firm.
    staff = models.OneToOneField(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="operator"
    )
    name = models.CharField(max_length=80, blank=True)
    firm = models.CharField(max_length=80, blank=True)
    phone = models.CharField(max_length=30, blank=True)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: may be chosen.
    ended_at = models.DateTimeField(null=True)

    objects: ClassVar[OperatorQuerySet] = OperatorQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(staff__isnull=False, name="", firm="")
                | models.Q(staff=None) & ~models.Q(name="") & ~models.Q(firm=""),
                name="hire_operator_yard_or_outside",
                violation_error_message="An operator is one of the yard’s people, or has a name and a firm.",
            ),
            models.UniqueConstraint(
                Lower("name"),
                Lower("firm"),
                condition=models.Q(staff=None),
                name="hire_operator_outside_once",
                violation_error_message="This operator of this firm is in the book already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.firm}" if self.staff is None else self.staff.full_name

    @property
    def own_name(self) -> str:
        return self.name if self.staff is None else self.staff.full_name


class TicketQuerySet(models.QuerySet["Ticket"]):
    def counting(self) -> TicketQuerySet:
        return self.filter(struck_at=None)

    def for_list(self) -> TicketQuerySet:
        return self.select_related("operator__staff", "customer", "photo", "recorded_by")


class Ticket(Row):
    """A licence, ticket, induction or medical. A renewed one is a new row; one written down wrongly is struck."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="tickets")
    kind = models.CharField(max_length=9, choices=TICKET_KINDS)
    # A code of hire.licences; of a licence alone.
    licence_class = models.CharField(max_length=2, blank=True)
    words = models.CharField("What it is for", max_length=80, blank=True)
    number = models.CharField(max_length=40, blank=True)
    # Of an induction alone; no site: all of the customer's.
    customer = models.ForeignKey(
        Customer, null=True, blank=True, on_delete=models.PROTECT, related_name="inductions"
    )
    site = models.CharField(max_length=120, blank=True)
    issued_on = models.DateField(null=True, blank=True)
    # Null: does not lapse. The last day it is good.
    ends_on = models.DateField(null=True, blank=True)
    photo = models.ForeignKey(Photo, null=True, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: counts.
    struck_at = models.DateTimeField(null=True)
    struck_why = models.CharField(max_length=240, blank=True)

    objects: ClassVar[TicketQuerySet] = TicketQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["kind", "-ends_on"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["ends_on"], condition=models.Q(struck_at=None), name="hire_ticket_lapses_next"
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(issued_on=None)
                | models.Q(ends_on=None)
                | models.Q(ends_on__gte=models.F("issued_on")),
                name="hire_ticket_period_in_order",
                violation_error_message="A ticket cannot lapse before it was issued.",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="licence") & ~models.Q(licence_class="")
                | ~models.Q(kind="licence") & models.Q(licence_class=""),
                name="hire_ticket_licence_has_class",
                violation_error_message="A licence has its class, and nothing else has one.",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="induction", customer__isnull=False)
                | ~models.Q(kind="induction") & models.Q(customer=None, site=""),
                name="hire_ticket_induction_has_customer",
                violation_error_message="An induction is for a customer’s site, and nothing else is.",
            ),
            models.CheckConstraint(
                condition=models.Q(struck_at=None, struck_why="")
                | models.Q(struck_at__isnull=False) & ~models.Q(struck_why=""),
                name="hire_ticket_struck_with_why",
                violation_error_message="A ticket is struck out with why.",
            ),
        ]

    def __str__(self) -> str:
        parts = [self.get_kind_display(), self.licence_class, self.words]
        if self.customer is not None:
            parts += [self.customer.name, self.site]
        return " ".join(part for part in parts if part)

    def is_for(self, customer_id: object, place: str) -> bool:
        """Whether this induction is good at a place of work of a customer."""
        site = self.site.strip().casefold()
        return self.customer_id == customer_id and site in ("", place.strip().casefold())

    def has_lapsed(self, *, on: date) -> bool:
        return self.ends_on is not None and self.ends_on < on


class WetHire(Row):
    """The cart of this hire goes with an operator of ours."""

    line = models.OneToOneField(Line, on_delete=models.CASCADE, related_name="wet")
    # What the site asks of the operator beside the licence: kinds of WANTS.
    wants = ArrayField(models.CharField(max_length=9, choices=WANTS), default=list, blank=True)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"wet hire of {self.line_id}"

    @property
    def wants_words(self) -> str:
        words = dict(WANTS)
        return ", ".join(words[kind].lower() for kind in self.wants)


class TurnQuerySet(models.QuerySet["OperatorTurn"]):
    def standing(self) -> TurnQuerySet:
        return self.filter(cancelled_at=None)

    def to_come(self, *, at: datetime) -> TurnQuerySet:
        """Standing, and not over."""
        return self.standing().filter(period__endswith__gt=at)

    def for_list(self) -> TurnQuerySet:
        return self.select_related("operator__staff", "line__cart", "line__agreement__customer", "made_by")


class OperatorTurn(Row):
    """Who goes with the cart, on which shift, and when. One operator is in one place at a time."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="turns")
    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="turns")
    shift = models.PositiveSmallIntegerField(choices=TURN_SHIFTS, default=DAY_SHIFT)
    # Half-open, as a promise is.
    period = DateTimeRangeField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: stands.
    cancelled_at = models.DateTimeField(null=True)
    cancelled_why = models.CharField(max_length=240, blank=True)

    objects: ClassVar[TurnQuerySet] = TurnQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["period", "shift"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            ExclusionConstraint(
                name="hire_turn_one_place_an_operator",
                expressions=[("operator", RangeOperators.EQUAL), ("period", RangeOperators.OVERLAPS)],
                condition=models.Q(cancelled_at=None),
                violation_error_message="This operator is with another cart in that time. Choose another operator or time.",
            ),
            ExclusionConstraint(
                name="hire_turn_one_operator_a_shift",
                expressions=[
                    ("line", RangeOperators.EQUAL),
                    ("shift", RangeOperators.EQUAL),
                    ("period", RangeOperators.OVERLAPS),
                ],
                condition=models.Q(cancelled_at=None),
                violation_error_message="This shift of the hire has its operator in that time.",
            ),
            models.CheckConstraint(
                condition=models.Q(period__isempty=False, period__lower_inf=False, period__upper_inf=False),
                name="hire_turn_period_in_order",
                violation_error_message="An operator’s time with a cart ends after it starts.",
            ),
            models.CheckConstraint(
                condition=models.Q(shift__in=[number for number, _ in TURN_SHIFTS]),
                name="hire_turn_shift_known",
                violation_error_message="An operator works the day shift or the night shift.",
            ),
            models.CheckConstraint(
                condition=models.Q(cancelled_at=None, cancelled_why="")
                | models.Q(cancelled_at__isnull=False) & ~models.Q(cancelled_why=""),
                name="hire_turn_cancelled_with_why",
                violation_error_message="An operator is taken off a hire with why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.operator} with {self.line}"


class OperatorLink(Row):
    """A link that opens an operator's own dockets on their phone, without an account. Only the token's hash is kept."""

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    # Null: good until it expires.
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")),
                name="hire_operatorlink_expires_later",
                violation_error_message="A link expires after it is made.",
            ),
        ]

    def __str__(self) -> str:
        return f"link of {self.operator}"
