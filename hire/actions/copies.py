"""The weekly copy of pre-starts kept in a book or system that is not ours: sent by the customer, or kept by the desk."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from fleet.actions.photos import Outsider, keep_photo
from fleet.models.photos import Photo
from fleet.photos.refusals import PhotoRefused
from hire.actions.off_hire import NotOnHire
from hire.actions.site import count_link_try
from hire.copies import OURS, week_words, weeks_on_hire
from hire.models.agreements import Line
from hire.models.copies import PreStartCopy
from hire.models.links import CustomerLink
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK

# A page a shift, for a week worked day and night.
MOST_PAGES = 14


class KeptWithUs(Refusal):
    """The hire keeps its pre-starts with us, so there is nothing to copy."""


class NotItsWeek(Refusal):
    """The cart was not on this hire in that week."""

    field = "week"


class NoPages(Refusal):
    """No photo came."""

    field = "photos"


class TooManyPages(Refusal):
    """More photos of one week than are kept."""

    field = "photos"


class PageRefused(Refusal):
    """A photo was not taken in."""

    field = "photos"


class CopyIsHere(Refusal):
    """A copy of the week came, or it is written down already that none will."""

    field = "week"


def _locked(line: Line, week_on: date, *, at: datetime) -> Line:
    line = Line.objects.select_for_update(of=("self",)).for_list().get(pk=line.pk)
    if line.agreement.pre_start_book == OURS:
        raise KeptWithUs(f"The pre-starts of {line.cart.fleet_number} are signed with us. No copy is wanted.")
    if line.handed_over_at is None:
        raise NotOnHire(f"{line.cart.fleet_number} has not been handed over yet. No copy is wanted.")
    if week_on not in weeks_on_hire(line, at=at):
        raise NotItsWeek(
            f"{line.cart.fleet_number} was not on this hire in the week of {week_on:%-d %B %Y}. Choose another week."
        )
    return line


@transaction.atomic
def _keep_pages(
    line: Line, week_on: date, photos: Sequence[Photo], *, sent_by_words: str, by: Staff | None, link: CustomerLink | None,
    at: datetime,
) -> list[PreStartCopy]:  # fmt: skip
    line = _locked(line, week_on, at=at)
    here = PreStartCopy.objects.filter(line=line, week_on=week_on)
    known = {page.photo_id for page in here}
    new = [photo for photo in dict.fromkeys(photos) if photo.pk not in known]
    if not photos:
        raise NoPages("Add a photo of the page: the whole of it, so that its dates and names can be read.")
    if len(new) + here.exclude(photo=None).count() > MOST_PAGES:
        raise TooManyPages(f"{MOST_PAGES} photos are kept of one week. Leave some out.")
    pages = [
        PreStartCopy(line=line, week_on=week_on, photo=photo, sent_by_words=sent_by_words, at=at, by=by, link=link)
        for photo in new
    ]  # fmt: skip
    PreStartCopy.objects.bulk_create(pages)
    if pages:
        hashes = [page.photo.original_sha256 for page in pages if page.photo]
        by_words = "" if link is None else f"{sent_by_words}, by the link for {link.for_words}"
        facts = {
            "agreement": line.agreement.number,
            "week_on": week_on,
            "sent_by": sent_by_words,
            "photos": hashes,
        }
        _write(Event.PRE_START_COPY_KEPT, line, facts, by=by, by_words=by_words, at=at)
    return pages


def _write(
    event: Event, line: Line, facts: dict[str, object], *, by: Staff | None, by_words: str, at: datetime
) -> None:
    write_journal(
        event=event, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id)], by=by, by_words=by_words, at=at,
        facts=facts,
    )  # fmt: skip


def _check_desk(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk keeps the weekly copies of pre-starts.")


def keep_copy(
    *, line: Line, week_on: date, photos: Sequence[Photo], sent_by_words: str, by: Staff, at: datetime
) -> list[PreStartCopy]:
    """Keep photos of a week's pages and return the rows that are new; a page that is here already is kept once. week_on: its
    Monday. NotAllowed; KeptWithUs; NotOnHire; NotItsWeek; NoPages; TooManyPages."""
    _check_desk(by)
    return _keep_pages(line, week_on, photos, sent_by_words=sent_by_words, by=by, link=None, at=at)


def send_copy_by_link(
    *, link: CustomerLink, week_on: date, files: Sequence[bytes], name: str, at: datetime
) -> list[PreStartCopy]:
    """The same, sent by the customer's person. TooManyTries; PageRefused; and what keep_copy refuses but NotAllowed."""
    count_link_try("pre-start copy", link, at=at)
    if len(files) > MOST_PAGES:
        raise TooManyPages(f"{MOST_PAGES} photos are kept of one week. Leave some out.")
    # What may not be kept takes no photo in.
    with transaction.atomic():
        _locked(link.line, week_on, at=at)
    sender, photos = Outsider(link.pk, f"{name}, {link.line.agreement.customer.name}"), []
    for number, raw in enumerate(files, start=1):
        try:
            photos.append(keep_photo(raw=raw, expected_sha256=None, by=sender, at=at))
        except PhotoRefused as no:
            raise PageRefused(f"Photo {number} of {len(files)} was not taken in: {no.sentence}") from no
    return _keep_pages(link.line, week_on, photos, sent_by_words=name, by=None, link=link, at=at)


@transaction.atomic
def say_no_copy(
    *, line: Line, week_on: date, why: str, told_by_words: str, by: Staff, at: datetime
) -> PreStartCopy:
    """Write down that no copy of a week will come, so that nobody asks again; one that comes after all is kept.
    NotAllowed; KeptWithUs; NotOnHire; NotItsWeek; CopyIsHere."""
    _check_desk(by)
    line = _locked(line, week_on, at=at)
    if PreStartCopy.objects.filter(line=line, week_on=week_on).exists():
        raise CopyIsHere(
            f"A copy of {week_words(week_on)} is here, or it is written down already that none will come."
        )
    row = PreStartCopy(line=line, week_on=week_on, why_none=why, sent_by_words=told_by_words, at=at, by=by)
    row.save(force_insert=True)
    facts = {"agreement": line.agreement.number, "week_on": week_on, "told_by": told_by_words, "why": why}
    _write(Event.PRE_START_COPY_NONE, line, facts, by=by, by_words="", at=at)
    return row
