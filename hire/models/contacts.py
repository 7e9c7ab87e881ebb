"""The customer's people: who they are, what each may see, and the letters sent to them."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from hire.models.agreements import Line
from hire.models.customers import Customer
from hire.models.links import CustomerLink
from hire.models.packs import SitePack
from hire.rights import ANYBODY, RIGHTS, SUPERVISOR
from inspections.certificates.models import Certificate
from people.rows import Row


class ContactQuerySet(models.QuerySet["Contact"]):
    def current(self) -> ContactQuerySet:
        return self.filter(ended_at=None)

    def to_mail(self) -> ContactQuerySet:
        """Supervisors who want a hire's papers by email."""
        return self.current().filter(rights=SUPERVISOR, gets_papers=True).exclude(email="")


class Contact(Row):
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="contacts")
    name = models.CharField(max_length=80)
    phone = models.CharField(max_length=30, blank=True)
    email = models.EmailField(blank=True)
    rights = models.CharField("What they may see", max_length=10, choices=RIGHTS, default=SUPERVISOR)
    gets_papers = models.BooleanField("Gets certificates by email as they are issued", default=False)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Null: still theirs.
    ended_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[ContactQuerySet] = ContactQuerySet.as_manager()  # type: ignore[assignment]

    class Meta:
        ordering: ClassVar[list[str]] = ["name"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                models.functions.Lower("name"),
                "customer",
                condition=models.Q(ended_at=None),
                name="hire_contact_name_once",
                violation_error_message="This customer has a contact of that name already.",
            ),
            models.CheckConstraint(
                condition=models.Q(rights__in=sorted(ANYBODY)),
                name="hire_contact_rights_known",
                violation_error_message="A contact is a supervisor, an operator or accounts.",
            ),
            models.CheckConstraint(
                condition=models.Q(gets_papers=False) | models.Q(rights=SUPERVISOR) & ~models.Q(email=""),
                name="hire_contact_papers_need_email",
                violation_error_message="Papers go by email to supervisors: give an email address, or do not tick it.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Letter(Row):
    """A certificate or a pack sent to one person by email, with a link of their own. The worker sends it once."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="letters")
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="letters")
    # As they were when it was written.
    to_name = models.CharField(max_length=80)
    to_address = models.EmailField()
    certificate = models.ForeignKey(Certificate, null=True, on_delete=models.PROTECT, related_name="+")
    pack = models.ForeignKey(SitePack, null=True, on_delete=models.PROTECT, related_name="letters")
    link = models.ForeignKey(CustomerLink, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    # Null: the yard wrote it by itself, when a certificate was issued.
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    # Null: not sent yet.
    sent_at = models.DateTimeField(null=True)
    # Of the file it named, once it is sent.
    file_sha256 = models.CharField(max_length=64, blank=True)
    # Null: did not come back. Told by the mail server, or by whoever read its answer.
    came_back_at = models.DateTimeField(null=True)
    came_back_words = models.CharField(max_length=240, blank=True)
    # Null: nobody has seen to it.
    settled_at = models.DateTimeField(null=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["-made_at"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(
                fields=["made_at"],
                condition=models.Q(settled_at=None)
                & (models.Q(sent_at=None) | models.Q(came_back_at__isnull=False)),
                name="hire_letter_wants_a_look",
            ),
        ]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=models.Q(certificate=None, pack__isnull=False)
                | models.Q(certificate__isnull=False, pack=None),
                name="hire_letter_of_one_paper",
                violation_error_message="A letter sends a certificate or a pack.",
            ),
            models.CheckConstraint(
                condition=models.Q(sent_at=None, file_sha256="")
                | models.Q(sent_at__isnull=False) & ~models.Q(file_sha256=""),
                name="hire_letter_sent_names_its_file",
                violation_error_message="A letter that was sent says which file it named.",
            ),
            models.CheckConstraint(
                condition=models.Q(came_back_at=None, came_back_words="")
                | models.Q(came_back_at__isnull=False) & ~models.Q(came_back_words=""),
                name="hire_letter_came_back_says_why",
                violation_error_message="A letter that came back says what the answer was.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.paper_number} to {self.to_name}"

    @property
    def paper_number(self) -> str:
        paper = self.certificate or self.pack
        return paper.number if paper else ""
