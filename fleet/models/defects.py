"""Defects: told by a walk-round, cleared by the workshop. The row says how it stands; the steps say how it got there."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from fleet.models.photos import Photo
from fleet.querysets import DefectQuerySet
from people.rows import Row, SealedRow

GRADES = [("do_not_use", "Do not use"), ("by_date", "Repair by a date"), ("watch", "Watch")]
STATES = [
    ("reported", "Told"),
    ("assessed", "Looked at"),
    ("put_off", "Put off"),
    ("in_repair", "On the job"),
    ("repaired", "Done, waiting for a second look"),
    ("verified", "Second look given"),
    ("no_fault_found", "No fault found"),
    ("same_as", "Same as another"),
]
CLOSED_STATES = ("verified", "no_fault_found", "same_as")
# Put off once and again at most twice; a watch is renewed at most twice.
MOST_PUT_OFF = 3
MOST_RENEWALS = 2
# Kept of one repair. Common practice, no source.
MOST_PHOTOS = 6


class Defect(Row):
    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="defects")
    title = models.CharField(max_length=80)
    words = models.TextField(blank=True)
    # Blank when a person told it outside a walk-round.
    check_key = models.CharField(max_length=80, blank=True)
    station = models.CharField(max_length=24)
    place = models.CharField(max_length=40, blank=True)
    # Gear it belongs to, where one kind of gear is meant; such gear may be isolated so that the cart goes with a limit.
    gear = models.CharField(max_length=24, blank=True)
    # Brakes, steering, wheels, structure, emergency stop, fire: a second person always, and never passed.
    second_look_always = models.BooleanField(default=True)
    may_be_passed = models.BooleanField(default=False)
    grade = models.CharField(max_length=10, choices=GRADES)
    # Set for "repair by a date"; null otherwise or until the manager has looked.
    due_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=14, choices=STATES, default="reported")
    source_kind = models.CharField(max_length=20)
    source_id = models.UUIDField()
    told_at = models.DateTimeField()
    told_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    told_by_words = models.CharField(max_length=120)
    assigned_to = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="jobs"
    )
    repaired_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    repaired_at = models.DateTimeField(null=True)
    repair_words = models.TextField(blank=True)
    verified_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    verified_at = models.DateTimeField(null=True)
    closed_at = models.DateTimeField(null=True)
    # The other defect of the same cart that this one turned out to be.
    same_as = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="same_ones"
    )
    # The day it is back in the queue by itself; the last four are kept when it is back, as what was decided last.
    put_off_until = models.DateField(null=True, blank=True)
    put_off_because = models.CharField(max_length=200, blank=True)
    put_off_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    put_off_times = models.PositiveSmallIntegerField(default=0)
    # For watch: when it is looked at again, and what makes it worth looking before. Null until a manager has looked.
    look_again_on = models.DateField(null=True, blank=True)
    look_again_if = models.CharField(max_length=120, blank=True)
    renewals = models.PositiveSmallIntegerField(default=0)
    # A temporary fix: its last day. Null for a lasting repair.
    fix_ends_on = models.DateField(null=True, blank=True)
    # Counts every change, so that two people on one defect cannot overwrite each other unseen.
    version = models.PositiveIntegerField(default=1)
    photos = models.ManyToManyField(Photo, related_name="defects")

    objects: ClassVar[DefectQuerySet] = DefectQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["told_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["cart"], condition=models.Q(closed_at=None), name="fleet_defect_open_by_cart"
            ),
            models.Index(
                fields=["grade", "told_at"], condition=models.Q(closed_at=None), name="fleet_defect_queue"
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["source_kind", "source_id", "check_key", "place"],
                name="fleet_defect_told_once",
                violation_error_message="This record has told of this already.",
            ),
            models.CheckConstraint(
                condition=models.Q(verified_by=None) | ~models.Q(verified_by=models.F("repaired_by")),
                name="fleet_defect_second_look_by_another",
                violation_error_message="The second look is given by somebody other than the person who did the repair.",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    state="verified",
                    verified_by__isnull=False,
                    verified_at__isnull=False,
                    repaired_by__isnull=False,
                    repaired_at__isnull=False,
                    closed_at__isnull=False,
                )
                | models.Q(state__in=["no_fault_found", "same_as"], closed_at__isnull=False)
                | models.Q(
                    state__in=["reported", "assessed", "put_off", "in_repair", "repaired"],
                    closed_at=None,
                    verified_by=None,
                ),
                name="fleet_defect_closed_as_its_state_says",
                violation_error_message="Only a second look, no fault found, or another defect that is the same closes a defect.",
            ),
            models.CheckConstraint(
                condition=~models.Q(state="repaired")
                | models.Q(repaired_by__isnull=False, repaired_at__isnull=False),
                name="fleet_defect_repair_names_its_person",
                violation_error_message="A finished repair names who did it and when.",
            ),
            models.CheckConstraint(
                condition=~models.Q(
                    state__in=["assessed", "put_off", "in_repair", "repaired"], grade="by_date", due_on=None
                ),
                name="fleet_defect_by_date_has_its_date",
                violation_error_message="Give the date by which this must be repaired.",
            ),
            models.CheckConstraint(
                condition=models.Q(grade__in=[grade for grade, _ in GRADES]),
                name="fleet_defect_grade_known",
                violation_error_message="Choose one of the three grades.",
            ),
            models.CheckConstraint(
                condition=models.Q(state="same_as", same_as__isnull=False)
                | ~models.Q(state="same_as") & models.Q(same_as=None),
                name="fleet_defect_same_as_names_the_other",
                violation_error_message="Name the other defect that this one is the same as.",
            ),
            models.CheckConstraint(
                condition=~models.Q(same_as=models.F("id")),
                name="fleet_defect_same_as_another_than_itself",
                violation_error_message="A defect is the same as another one, not as itself.",
            ),
            models.CheckConstraint(
                condition=~models.Q(state="put_off")
                | models.Q(put_off_until__isnull=False, put_off_by__isnull=False, put_off_times__gte=1)
                & ~models.Q(put_off_because=""),
                name="fleet_defect_put_off_says_until_and_why",
                violation_error_message="What is put off says until when, why and by whom.",
            ),
            models.CheckConstraint(
                condition=~models.Q(state="put_off", grade="do_not_use"),
                name="fleet_defect_do_not_use_never_put_off",
                violation_error_message="“Do not use” is never put off.",
            ),
            models.CheckConstraint(
                condition=models.Q(put_off_times__lte=MOST_PUT_OFF),
                name="fleet_defect_put_off_again_twice_at_most",
                violation_error_message="A defect is put off again at most twice.",
            ),
            models.CheckConstraint(
                condition=~models.Q(state="put_off", grade="by_date")
                | models.Q(put_off_until__lte=models.F("due_on")),
                name="fleet_defect_put_off_within_its_date",
                violation_error_message="A defect is put off no further than the date it is to be repaired by.",
            ),
            models.CheckConstraint(
                condition=models.Q(renewals__lte=MOST_RENEWALS),
                name="fleet_defect_watch_renewed_twice_at_most",
                violation_error_message="A watch is renewed at most twice; then it is repaired by a date.",
            ),
            models.CheckConstraint(
                condition=models.Q(fix_ends_on=None)
                | models.Q(state__in=["repaired", "verified"]) & ~models.Q(grade="do_not_use"),
                name="fleet_defect_temporary_fix_of_a_repair",
                violation_error_message="A temporary fix belongs to a repair, and never to “do not use”.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title} on {self.cart.fleet_number}"

    @property
    def is_open(self) -> bool:
        return self.closed_at is None

    @property
    def stops_the_cart(self) -> bool:
        return self.is_open and self.grade == "do_not_use"


class DefectStep(SealedRow):
    """One step in a defect's life: who, when, what stood before and after, in whose words."""

    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="steps")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    by_words = models.CharField(max_length=120)
    before_state = models.CharField(max_length=14, blank=True)
    after_state = models.CharField(max_length=14)
    before_grade = models.CharField(max_length=10, blank=True)
    after_grade = models.CharField(max_length=10)
    # The journal's word for it; blank for a telling.
    event = models.CharField(max_length=40, blank=True)
    words = models.TextField(blank=True)
    photo = models.ForeignKey(Photo, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["at"]

    def __str__(self) -> str:
        return f"{self.defect_id}: {self.before_state} to {self.after_state}"

    @property
    def photos(self) -> list[Photo]:
        """Its photos in their order; further_photos are loaded with theirs before many are asked."""
        first = [self.photo] if self.photo else []
        return first + [one.photo for one in self.further_photos.all()]


class DefectStepPhoto(SealedRow):
    """A photo of a step after its first."""

    step = models.ForeignKey(DefectStep, on_delete=models.PROTECT, related_name="further_photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="+")
    # Counted from the step's own photo, which is the first.
    place = models.PositiveSmallIntegerField()

    class Meta:
        ordering: ClassVar[list[str]] = ["place"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["step", "place"],
                name="fleet_stepphoto_one_a_place",
                violation_error_message="Two photos of one repair have one place. Send them again.",
            ),
            models.UniqueConstraint(
                fields=["step", "photo"],
                name="fleet_stepphoto_kept_once",
                violation_error_message="This photo is kept of this repair already.",
            ),
            models.CheckConstraint(
                condition=models.Q(place__gte=2, place__lte=MOST_PHOTOS),
                name="fleet_stepphoto_six_at_most",
                violation_error_message="At most six photos are kept of one repair.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.step_id}: photo {self.place}"
