"""Check sheets by issue, and signed walk-rounds with their answers. Everything signed is written once."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import ClassVar

from django.conf import settings
from django.db import models

from fleet.models.carts import Cart
from fleet.models.photos import Photo
from inspections.clocks import put_right
from inspections.querysets import WalkRoundQuerySet
from people.rows import Row, SealedRow

PURPOSES = [
    ("daily", "Daily pre-start"),
    ("weekly", "Weekly round"),
    ("monthly", "Monthly round"),
    ("pre_hire", "Pre-hire check"),
    ("gate_out", "Gate-out check"),
    ("as_returned", "As returned"),
    ("after_wash", "After wash"),
]
ANSWERS = [
    ("good", "Good"),
    ("wrong", "Something's wrong"),
    ("not_on_cart", "Not on this cart"),
    ("could_not_check", "Couldn't check"),
]
# A customer's person signs these and no others; the last two count once a manager has accepted them.
SITE_PURPOSES = ("daily", "pre_hire", "gate_out")
TO_ACCEPT = ("pre_hire", "gate_out")
# The last is a driver's who collects the cart: it opens the gate-out check and nothing else.
OPENED_HOW = [
    ("link", "through a customer link"),
    ("code", "with the site code"),
    ("gate", "through a collection link"),
]
OUTCOMES = [("ready", "Ready"), ("conditions", "Goes with conditions"), ("held", "Held")]


class Edition(SealedRow):
    """One published issue of the yard's check sheets: the whole content, canonical, with its hash."""

    number = models.PositiveIntegerField(unique=True)
    content = models.TextField()
    sha256 = models.CharField(max_length=64, unique=True)
    published_at = models.DateTimeField()
    # Null: the library as it came with this version of Slake.
    published_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    why = models.CharField(max_length=240)

    class Meta:
        ordering: ClassVar[list[str]] = ["-number"]

    def __str__(self) -> str:
        return f"issue {self.number}"


class YardCheck(Row):
    """The yard's own change to the library, waiting for the next issue: a check added, reworded, or retired."""

    key = models.CharField(max_length=80, unique=True)
    # Null: a library check is retired and nothing stands in its place.
    body = models.JSONField(null=True)
    is_retired = models.BooleanField(default=False)
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["key"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(is_retired=True) | models.Q(body__isnull=False),
                name="inspections_yardcheck_says_something",
                violation_error_message="A yard check has a body, or retires one of the library's.",
            ),
        ]

    def __str__(self) -> str:
        return self.key


class SiteWalker(Row):
    """A customer's person on one hire, without an account: what their phone's cookie opens. Only the token's hash is kept."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="site_walkers")
    # The hire, by kind and id: hires are the business of an upper app.
    subject_kind = models.CharField(max_length=40)
    subject_id = models.UUIDField()
    name = models.CharField(max_length=60)
    # The customer's name.
    for_words = models.CharField(max_length=80)
    token_sha256 = models.CharField(max_length=64, unique=True)
    opened_at = models.DateTimeField()
    opened_how = models.CharField(max_length=4, choices=OPENED_HOW)
    # The link it was opened through; null: through the site code.
    opened_through = models.UUIDField(null=True)
    # Who of the yard gave a driver the collection link; null: none was.
    given_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    expires_at = models.DateTimeField()
    # Null: not ended by the yard.
    revoked_at = models.DateTimeField(null=True)
    # Null: the hire runs. Over: what was signed may still be sent, and no cart is shown any more.
    over_at = models.DateTimeField(null=True)
    last_seen_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar[list[str]] = ["-opened_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["subject_kind", "subject_id"], name="inspections_sitewalker_subject"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(name__regex=r"\S", for_words__regex=r"\S"),
                name="inspections_sitewalker_named",
                violation_error_message="Whoever walks on site has a name, and a customer they walk for.",
            ),
            models.CheckConstraint(
                condition=models.Q(opened_how="link", opened_through__isnull=False, given_by=None)
                | models.Q(opened_how="code", opened_through=None, given_by=None)
                | models.Q(opened_how="gate", opened_through__isnull=False, given_by__isnull=False),
                name="inspections_sitewalker_how_known",
                violation_error_message="A phone is opened through a customer link, with the site code, or through a link "
                "that somebody of the yard gave a driver.",
            ),
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("opened_at")),
                name="inspections_sitewalker_expires_later",
                violation_error_message="A phone’s use on a hire ends after it begins.",
            ),
        ]

    def __str__(self) -> str:
        return self.words

    @property
    def words(self) -> str:
        """Who they are: "Jo Field, Callabar Quarries"."""
        return f"{self.name}, {self.for_words}"[:120]

    @property
    def is_collecting(self) -> bool:
        """Whether it is a driver's who collects the cart."""
        return self.opened_how == "gate"

    @property
    def purposes(self) -> tuple[str, ...]:
        """What may be signed on it."""
        return ("gate_out",) if self.is_collecting else SITE_PURPOSES


class WalkRound(SealedRow):
    """A signed walk-round, as it was signed. `manifest` is the canonical text the signature is bound to."""

    cart = models.ForeignKey(Cart, on_delete=models.PROTECT, related_name="walk_rounds")
    purpose = models.CharField(max_length=12, choices=PURPOSES)
    edition = models.ForeignKey(Edition, on_delete=models.PROTECT, related_name="+")
    rule_set = models.CharField(max_length=2)
    manifest = models.TextField()
    manifest_sha256 = models.CharField(max_length=64)
    started_at = models.DateTimeField()
    # By the tablet's clock, and by ours when it arrived; offset as the tablet last knew it.
    device_signed_at = models.DateTimeField()
    signed_at = models.DateTimeField()
    received_at = models.DateTimeField()
    clock_offset_ms = models.BigIntegerField(default=0)
    # Null: a customer's person walked it; then site_walker says who sent it, and author_words who signed.
    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    site_walker = models.ForeignKey(
        SiteWalker, null=True, on_delete=models.PROTECT, related_name="walk_rounds"
    )
    author_words = models.CharField(max_length=120)
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    # Whoever signed had taken the tablet by name alone, with no signal for a PIN.
    is_by_name = models.BooleanField(default=False)
    signature_kind = models.CharField(max_length=5, choices=[("drawn", "Drawn"), ("typed", "Typed")])
    signature_name = models.CharField(max_length=120)
    outcome = models.CharField(max_length=10, choices=OUTCOMES)
    headline = models.CharField(max_length=240)
    reasons = models.JSONField()
    # Required checks answered "couldn't check": such a walk-round never makes a cart fit, whatever is repaired.
    not_done = models.PositiveSmallIntegerField(default=0)

    objects: ClassVar[WalkRoundQuerySet] = WalkRoundQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["-signed_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["cart", "purpose", "-signed_at"], name="inspections_walkround_latest"),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(purpose__in=[key for key, _ in PURPOSES]),
                name="inspections_walkround_purpose_known",
                violation_error_message="A walk-round has one of the known purposes.",
            ),
            models.CheckConstraint(
                condition=models.Q(author__isnull=False, sent_by__isnull=False, site_walker=None)
                | models.Q(author=None, sent_by=None, site_walker__isnull=False, purpose__in=SITE_PURPOSES),
                name="inspections_walkround_yard_or_site",
                violation_error_message="A walk-round is signed by a person of the yard, or by a customer’s person on a hire.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_purpose_display()} of {self.cart.fleet_number}"

    @property
    def author_name(self) -> str:
        """Who signed, by name alone, as it was known when the record came."""
        return self._author_parts()[0]

    @property
    def author_role(self) -> str:
        """What they are here: "Yard hand", or the customer they walked for."""
        role = self._author_parts()[1]
        return role[:1].upper() + role[1:]

    def _author_parts(self) -> tuple[str, str]:
        # A customer's name may hold a comma, their person's does not.
        name, _, role = (self.author_words.partition if self.is_from_site else self.author_words.rpartition)(
            ", "
        )
        return name, role

    @property
    def is_from_site(self) -> bool:
        """Whether a customer's person signed it."""
        return self.site_walker_id is not None

    @property
    def asks_acceptance(self) -> bool:
        """Whether it counts for nothing until a manager has accepted it."""
        return self.is_from_site and self.purpose in TO_ACCEPT and not hasattr(self, "name_confirmation")

    @property
    def is_name_confirmed(self) -> bool:
        """Whether whoever signed has been here under their own sign-in, with the record or since; for a check from site,
        whether a manager has accepted it."""
        if self.is_from_site:
            return not self.asks_acceptance
        return self.is_own_sign_in or hasattr(self, "name_confirmation")

    @property
    def is_own_sign_in(self) -> bool:
        """Whether whoever signed had the tablet by their own sign-in, and sent it in themselves."""
        return self.author_id == self.sent_by_id and not self.is_by_name

    @property
    def clock_offset(self) -> timedelta:
        return timedelta(milliseconds=self.clock_offset_ms)

    @property
    def begun_at(self) -> datetime:
        """When it was begun, by the yard's clock; `started_at` is the tablet's own."""
        return put_right(self.started_at, offset=self.clock_offset, not_after=self.signed_at)


class NameConfirmation(SealedRow):
    """Whoever a walk-round says signed it says so too: one row when it was sent in under another's sign-in. For a check
    from site, the manager who accepted it; for a driver's sound gate-out check, whoever gave them the collection link."""

    walk_round = models.OneToOneField(WalkRound, on_delete=models.PROTECT, related_name="name_confirmation")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    how = models.CharField(
        max_length=8,
        choices=[
            ("session", "by signing in"),
            ("pin", "by PIN"),
            ("accepted", "by accepting the check"),
            ("given", "by giving the driver the collection link"),
        ],
    )

    class Meta:
        ordering: ClassVar[list[str]] = ["at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(how__in=["session", "pin", "accepted", "given"]),
                name="inspections_nameconfirmation_how_known",
                violation_error_message="A name is confirmed by signing in, by PIN, by a manager’s accepting the check, or by the "
                "collection link that a driver was given.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.by.full_name} {self.get_how_display()}"


class Answer(SealedRow):
    """One answer, with the wording it was asked in. Derived from the manifest in the same transaction."""

    walk_round = models.ForeignKey(WalkRound, on_delete=models.PROTECT, related_name="answers")
    number = models.PositiveSmallIntegerField()
    check_key = models.CharField(max_length=80)
    title = models.CharField(max_length=80)
    station = models.CharField(max_length=24)
    place = models.CharField(max_length=40, blank=True)
    answer = models.CharField(max_length=16, choices=ANSWERS)
    # Exactly as entered; numbers are text so that the record and its hash agree to the digit.
    value = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    limit = models.JSONField(null=True)
    grade = models.CharField(max_length=10, blank=True)
    words = models.TextField(blank=True)
    why = models.CharField(max_length=12, blank=True)
    answered_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar[list[str]] = ["walk_round", "number"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["walk_round", "number"],
                name="inspections_answer_number_once",
                violation_error_message="A walk-round has one answer at each number.",
            ),
            models.UniqueConstraint(
                fields=["walk_round", "check_key", "place"],
                name="inspections_answer_once_a_place",
                violation_error_message="A check is answered once at each place.",
            ),
            models.CheckConstraint(
                condition=models.Q(answer__in=[key for key, _ in ANSWERS]),
                name="inspections_answer_known",
                violation_error_message="An answer is one of the four.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}: {self.get_answer_display()}"


class AnswerPhoto(SealedRow):
    answer = models.ForeignKey(Answer, on_delete=models.PROTECT, related_name="photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="answers")
    number = models.PositiveSmallIntegerField()

    class Meta:
        ordering: ClassVar[list[str]] = ["answer", "number"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["answer", "number"],
                name="inspections_answerphoto_number_once",
                violation_error_message="An answer has one photo at each number.",
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.number} of {self.answer_id}"


class RestedQuestion(SealedRow):
    """A question about a walk-round put to rest by a manager, in words. What was signed stays as it is."""

    walk_round = models.ForeignKey(WalkRound, on_delete=models.PROTECT, related_name="rested_questions")
    # The sign's code (inspections.truthfulness), and the question as it was asked then.
    code = models.CharField(max_length=12)
    question = models.TextField()
    words = models.CharField(max_length=400)
    rested_at = models.DateTimeField()
    rested_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar[list[str]] = ["rested_at"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["walk_round", "code"],
                name="inspections_restedquestion_once",
                violation_error_message="This question was put to rest already.",
            ),
            models.CheckConstraint(
                condition=models.Q(words__regex=r"\S"),
                name="inspections_restedquestion_in_words",
                violation_error_message="Say what you found out.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} of {self.walk_round_id}"
