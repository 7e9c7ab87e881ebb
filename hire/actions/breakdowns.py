"""A breakdown reported through a customer's link: a defect at once, and a stop for whoever is on call."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from fleet.actions.defects import tell_defect
from fleet.actions.photos import Outsider, keep_photo
from fleet.alerts.actions import sweep
from fleet.lap.stations import STATION_KEYS
from fleet.models.defects import Defect
from fleet.models.photos import Photo
from fleet.photos.refusals import PhotoRefused
from hire.actions.off_hire import NotOnHire
from hire.actions.site import HireOver, count_link_try
from hire.actions.stand_down_claims import propose_breakdown
from hire.models.agreements import Line
from hire.models.breakdowns import Breakdown
from hire.models.links import CustomerLink
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.outbox.actions import enqueue
from people.say import say


class SweepBusy(Exception):
    """Another sweep is at work and may have begun before the report: the outbox asks again."""


@dataclass(frozen=True)
class Report:
    """What was typed. report_id: the form's own. station: "" where nobody could tell. photo: the file as it came, or None."""

    report_id: uuid.UUID
    words: str
    can_be_driven: bool
    phone: str
    station: str = ""
    photo: bytes | None = None


def _words_of(link: CustomerLink) -> str:
    return f"{link.for_words}, {link.line.agreement.customer.name}"


def _take_in(report: Report, link: CustomerLink, *, at: datetime) -> tuple[list[Photo], str]:
    """The photo, and a sentence when it was refused: a report is never lost for its photo."""
    if report.photo is None:
        return [], ""
    try:
        sender = Outsider(link.pk, _words_of(link))
        return [keep_photo(raw=report.photo, expected_sha256=None, by=sender, at=at)], ""
    except PhotoRefused as no:
        return [], no.sentence


def report_breakdown(*, link: CustomerLink, report: Report, at: datetime) -> tuple[Breakdown, str]:
    """Record a breakdown and return it, with a sentence about its photo when that was not taken in, else "".

    The same form again returns the first report and changes nothing. TooManyTries; HireOver; NotOnHire.
    """
    count_link_try("breakdown", link, at=at)
    photos, sentence = _take_in(report, link, at=at)
    return _record(link, report, photos, at=at), sentence


def _tell(
    line: Line, link: CustomerLink, report: Report, key: uuid.UUID, photos: list[Photo], *, at: datetime
) -> Defect:
    told_where = report.station in STATION_KEYS
    place = "" if told_where else say(" Where on the cart was not told.")
    return tell_defect(
        cart=line.cart,
        title=f"Broken down: {report.words}",
        words=f"{report.words.rstrip('. ')}. {'It can be driven.' if report.can_be_driven else 'It cannot be driven.'}{place}",
        station=report.station if told_where else STATION_KEYS[0],
        place="",
        grade="by_date" if report.can_be_driven else "do_not_use",
        source=("breakdown", key),
        by=None,
        by_words=_words_of(link),
        at=at,
        second_look_always=True,
        may_be_passed=False,
        photos=photos,
    )


@transaction.atomic
def _record(link: CustomerLink, report: Report, photos: list[Photo], *, at: datetime) -> Breakdown:
    line = Line.objects.locked(link.line_id)
    key = uuid.uuid5(link.pk, str(report.report_id))
    if known := Breakdown.objects.filter(pk=key).first():
        return known
    if line.back_at is not None or line.cancelled_at is not None:
        raise HireOver(
            f"The hire of {line.cart.fleet_number} is over. Ring the yard if it still stands with you."
        )
    if line.handed_over_at is None:
        raise NotOnHire(f"{line.cart.fleet_number} has not been handed over yet. Ring the yard.")
    defect = _tell(line, link, report, key, photos, at=at)
    breakdown = Breakdown(
        id=key,
        line=line,
        link=link,
        at=at,
        words=report.words,
        can_be_driven=report.can_be_driven,
        phone=report.phone,
        defect=defect,
    )
    breakdown.save(force_insert=True)
    claim = propose_breakdown(
        line=line,
        link=link,
        defect=defect,
        words=f"Broken down: {report.words}",
        by_words=_words_of(link),
        at=at,
    )
    enqueue(kind="hire.breakdown", subject_id=breakdown.pk, at=at)
    write_journal(
        event=Event.BREAKDOWN_REPORTED,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id), YARD],
        by=None,
        by_words=_words_of(link),
        at=at,
        facts={
            "agreement": line.agreement.number,
            "defect": defect.pk,
            "words": report.words,
            "can_be_driven": report.can_be_driven,
            "phone": report.phone,
            "claims": claim.on if claim else None,
        },
    )
    return breakdown


def alert_at_once(breakdown_id: uuid.UUID, at: datetime) -> None:
    """Outbox work: the watch looks now and not in some minutes. SweepBusy when it is looking already."""
    if Breakdown.objects.filter(pk=breakdown_id).exists() and sweep(at=at) is None:
        raise SweepBusy
