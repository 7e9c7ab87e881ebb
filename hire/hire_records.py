"""The records of one hire that an argument about it may rest on. Reads only."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import QuerySet

from fleet.models.defects import Defect
from fleet.sentences import day_words
from hire.charge_facts import dockets_of
from hire.models.agreements import Line
from hire.swaps import lines_together
from inspections.certificates.models import Certificate
from inspections.models import WalkRound

# A pre-hire check is signed days before the cart leaves, and it is walked as returned after it is back.
BEFORE, AFTER = timedelta(days=7), timedelta(days=3)
MOST = 60


def span_of(line: Line) -> tuple[datetime, datetime]:
    """From the checks before it left to those after it came back; while it is out, to the end promised and on."""
    return (line.handed_over_at or line.promised.lower) - BEFORE, (
        line.back_known_at or line.promised.upper
    ) + AFTER


def walks_of(line: Line) -> QuerySet[WalkRound]:
    return WalkRound.objects.filter(cart=line.cart_id, signed_at__range=span_of(line)).order_by("signed_at")


def papers_of(line: Line) -> QuerySet[Certificate]:
    rows = Certificate.objects.filter(subject_kind="hire_line", subject_id=line.pk)
    return rows.select_related("file", "replaced_by", "withdrawal").order_by("issued_at")


def records_of(line: Line, *, at: datetime) -> list[tuple[str, UUID, str]]:
    """(kind, id, words) of what has a page of its own, in the order of the hire; the newest 60 of each kind."""
    found: list[tuple[str, UUID, str]] = [("hire_line", line.pk, f"The hire, {line.agreement.number}")]
    found += [
        ("certificate", paper.pk, f"{paper.get_kind_display()} {paper.number}")
        for paper in papers_of(line)[:MOST]
    ]
    found += [
        (
            "walk_round",
            walk.pk,
            f"{walk.get_purpose_display()}, {day_words(walk.signed_at, at=at)}, {walk.signature_name}",
        )
        for walk in walks_of(line).reverse()[:MOST]
    ]
    found += [
        ("defect", defect.pk, f"Defect: {defect.title}, {day_words(defect.told_at, at=at)}")
        for defect in Defect.objects.filter(cart=line.cart_id, told_at__range=span_of(line)).order_by(
            "-told_at"
        )[:MOST]
    ]
    found += [
        ("docket", docket.pk, f"Docket {docket.number}") for docket in dockets_of(lines_together(line))[:MOST]
    ]
    return found
