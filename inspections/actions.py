"""Taking in a signed walk-round: kept as signed, judged, its readings derived and its defects told, all or nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.db import connection, transaction

from fleet.actions.readings import derive_meter_reading, derive_tread
from fleet.models.carts import Cart
from fleet.models.photos import Photo
from inspections.cart_sheets import legal_limits, sheet_for
from inspections.clocks import put_right
from inspections.collecting import stand_by_link
from inspections.derived import meter_of, number_or_none
from inspections.editions import checks_of_edition
from inspections.judging import Judged, judge_answers, left_out
from inspections.manifest import Author, Manifest
from inspections.models import (
    SITE_PURPOSES,
    Answer,
    AnswerPhoto,
    Edition,
    NameConfirmation,
    SiteWalker,
    WalkRound,
)
from inspections.sheet import Item
from inspections.site_walkers import plain_name
from inspections.telling import tell_findings
from inspections.verdict import Verdict
from inspections.walkers import Walker, staff_or_none, words_of
from inspections.wording import headline_of, verdict_of
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import NotAllowed, Refusal
from people.roles import WALKERS
from people.say import say

# Two records of one walk-round arriving at once: the second waits here and then finds the first.
LOCK_SPACE = 7_245
NOT_THIS_HIRE = "This record is not of the cart on this hire. Show it to the yard."


class ChangedAfterSigning(Refusal):
    """A record with this id is kept already and says something else."""


class UnknownCart(Refusal):
    """No cart of this yard has that id."""


class NeverPublished(Refusal):
    """The issue of the check sheets named was never published here."""


class NotTheAuthor(NotAllowed):
    """Only whoever signed can say that it was them."""


class AlreadyConfirmed(Refusal):
    """The name under this walk-round stands already."""


class NotForSite(Refusal):
    """A customer's person signs pre-starts, and the checks of a cart that goes from site to site."""


class PhotosMissing(Refusal):
    """Photos the record names have not arrived; `missing` lists their hashes, sorted."""

    def __init__(self, missing: list[str]) -> None:
        super().__init__(
            f"{len(missing)} photos of this record have not arrived yet. Send them, then the record."
        )
        self.missing = missing


def lock_walk_round(walk_id: UUID) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [LOCK_SPACE, walk_id.int % 2**31])


def _edition(manifest: Manifest) -> Edition:
    edition = Edition.objects.filter(number=manifest.edition_number, sha256=manifest.edition_sha256).first()
    if edition is None:
        raise NeverPublished(
            f"Issue {manifest.edition_number} of the check sheets, as this tablet has it, was never published here. "
            "Keep the record and tell the workshop manager."
        )
    return edition


def _photos(manifest: Manifest) -> dict[str, Photo]:
    wanted = manifest.photo_hashes()
    found = {photo.original_sha256: photo for photo in Photo.objects.filter(original_sha256__in=wanted)}
    if missing := sorted(wanted - found.keys()):
        raise PhotosMissing(missing)
    return found


def signed_instant(manifest: Manifest, *, received_at: datetime) -> datetime:
    """When it was signed by the yard's clock: the tablet's time corrected by its last known offset, never later than
    its arrival. Readiness counts by this."""
    offset = timedelta(milliseconds=manifest.clock_offset_ms)
    return put_right(manifest.device_signed_at, offset=offset, not_after=received_at)


def _check(manifest: Manifest, by: Walker) -> None:
    """Whether this person may send this record at all."""
    if isinstance(by, Staff):
        if not by.has_role(WALKERS):
            raise NotAllowed("Walk-rounds are signed by yard hands, fitters and managers.")
        return
    if manifest.cart_id != by.cart_id:
        raise UnknownCart(NOT_THIS_HIRE)
    if by.is_collecting and manifest.purpose not in by.purposes:
        raise NotForSite(
            f"On this link the gate-out check of {by.cart.fleet_number} is signed, and nothing else. Show this record to the yard."
        )
    if manifest.purpose not in SITE_PURPOSES:
        raise NotForSite(
            f"On site the daily pre-start of {by.cart.fleet_number} is signed, and its checks when it goes from site to site. "
            "Show this record to the yard."
        )


def _is_of_hire(walk: WalkRound, by: SiteWalker) -> bool:
    return WalkRound.objects.of_hire((by.subject_kind, by.subject_id)).filter(pk=walk.pk).exists()


@transaction.atomic
def sign_walk_round(*, manifest: Manifest, by: Walker, at: datetime) -> tuple[WalkRound, bool]:
    """Keep a signed walk-round. Returns it and whether it is new; the same record again returns the first.

    NotAllowed, UnknownCart, NeverPublished, PhotosMissing, ManifestRefused; NotForSite; ChangedAfterSigning when the id is
    kept with another hash. Never refused for its values, nor because the hire it was signed on is over.
    """
    _check(manifest, by)
    lock_walk_round(manifest.id)
    kept = WalkRound.objects.filter(pk=manifest.id).first()
    if kept is not None:
        if isinstance(by, SiteWalker) and not _is_of_hire(kept, by):
            raise UnknownCart(NOT_THIS_HIRE)
        if kept.manifest_sha256 != manifest.sha256:
            raise ChangedAfterSigning(
                "This walk-round was signed and kept already, and this copy says something else. The signed one stands; "
                "walk the cart again to correct it."
            )
        return kept, False
    cart = Cart.objects.for_sheets().filter(pk=manifest.cart_id).first()
    if cart is None:
        raise UnknownCart("This record is for a cart that is not in this yard's fleet.")
    # Locked so that two walk-rounds of one cart derive their readings one after the other.
    Cart.objects.select_for_update(of=("self",)).get(pk=cart.pk)
    edition, photos = _edition(manifest), _photos(manifest)
    checks = checks_of_edition(edition)
    sheet = sheet_for(cart, purpose=manifest.purpose, checks=checks)
    judged = judge_answers(manifest.answers, sheet=sheet, checks=checks, legal=legal_limits(cart))
    walk = _keep(manifest, cart, edition, judged, left_out(manifest.answers, sheet), by=by, at=at)
    _keep_answers(walk, judged, photos)
    _derive(walk, cart, judged)
    tell_findings(walk, cart, judged, photos, by=by)
    stands = stand_by_link(walk, manifest, judged, sheet, by=by, at=at)
    # Whoever issues papers listens for this; the certificate follows the signature by itself.
    enqueue(kind="walk_round.signed", subject_id=walk.pk, at=at)
    write_journal(
        event=Event.WALK_ROUND_SIGNED,
        subject=("walk_round", walk.pk),
        chains=[cart_chain(cart.pk)],
        by=staff_or_none(by),
        by_words=_journal_words(walk, by),
        at=at,
        facts={
            "purpose": walk.purpose,
            "author": walk.author_id,
            **({"site_walker": walk.site_walker_id} if walk.is_from_site else {}),
            **({"stands_by_link_of": stands.by_id} if stands else {}),
            "outcome": walk.outcome,
            "manifest_sha256": walk.manifest_sha256,
            "issue": edition.number,
            "signed_at": walk.signed_at,
        },
    )
    return walk, True


def _journal_words(walk: WalkRound, by: Walker) -> str:
    if isinstance(by, SiteWalker):
        return walk.author_words
    return "" if walk.author == by else f"{walk.author_name}, sent by {by.full_name}"[:120]


def _author(manifest: Manifest, *, sender: Walker) -> tuple[Staff | None, str]:
    """Who signed, whatever they may do here now, and the words for it. A name this yard does not know is told as it was
    given, and the sender answers for it."""
    if isinstance(sender, SiteWalker):
        return None, _site_author(manifest, sender)
    return staff_author(manifest.author, sender=sender)


def staff_author(given: Author | None, *, sender: Staff) -> tuple[Staff, str]:
    """Of the yard's own people: who signed, and the words for it."""
    if given is None:
        return sender, words_of(sender)
    known = Staff.objects.filter(pk=given.id).first()
    if known is None:
        return sender, f"{given.name[:60]}, not on this yard’s list; sent by {sender.full_name}"[:120]
    return known, words_of(known)


def _site_author(manifest: Manifest, sender: SiteWalker) -> str:
    """A phone may be handed on, or opened anew, between signing and sending: whoever signed is named, and the sender too
    when that is another."""
    if manifest.author is None or manifest.author.id == sender.pk:
        return sender.words
    name = plain_name(manifest.author.name)
    if name.casefold() == sender.name.casefold():
        return sender.words
    return f"{name}, {sender.for_words}, sent by {sender.name}"[:120]


def _keep(
    manifest: Manifest,
    cart: Cart,
    edition: Edition,
    judged: Sequence[Judged],
    skipped: Sequence[Item],
    *,
    by: Walker,
    at: datetime,
) -> WalkRound:
    verdict: Verdict = verdict_of(judged, skipped)
    author, author_words = _author(manifest, sender=by)
    walk = WalkRound(
        id=manifest.id,
        cart=cart,
        purpose=manifest.purpose,
        edition=edition,
        rule_set=manifest.rule_set,
        manifest=manifest.text,
        manifest_sha256=manifest.sha256,
        started_at=manifest.started_at,
        device_signed_at=manifest.device_signed_at,
        signed_at=signed_instant(manifest, received_at=at),
        received_at=at,
        clock_offset_ms=manifest.clock_offset_ms,
        author=author,
        author_words=author_words,
        sent_by=staff_or_none(by),
        is_by_name=manifest.author is not None and manifest.author.by_name,
        site_walker=by if isinstance(by, SiteWalker) else None,
        signature_kind=manifest.signature.kind,
        signature_name=manifest.signature.name,
        outcome=verdict.outcome,
        headline=say(headline_of(verdict, cart=cart, purpose=manifest.purpose), most=240),
        reasons=[{"grade": reason.grade, "sentence": say(reason.sentence)} for reason in verdict.reasons],
        not_done=sum(item.is_undone for item in judged) + len(skipped),
    )
    walk.save(force_insert=True)
    return walk


def _keep_answers(walk: WalkRound, judged: Sequence[Judged], photos: Mapping[str, Photo]) -> None:
    answers = [
        Answer(
            walk_round=walk,
            number=item.given.number,
            check_key=item.check.key,
            # As it was read on the tablet.
            title=say(item.check.title, most=80),
            station=item.check.station,
            place=item.given.place,
            answer=item.given.answer,
            value=item.given.value or item.given.choice,
            unit=item.given.unit,
            limit=item.limit.as_content() if item.limit else None,
            grade=item.grade,
            words=item.given.words,
            why=item.given.why,
            answered_at=item.given.answered_at,
        )
        for item in judged
    ]
    Answer.objects.bulk_create(answers)
    AnswerPhoto.objects.bulk_create(
        AnswerPhoto(answer=answer, photo=photos[sha256], number=n)
        for answer, item in zip(answers, judged, strict=True)
        for n, sha256 in enumerate(item.given.photos, start=1)
    )


def _derive(walk: WalkRound, cart: Cart, judged: Sequence[Judged]) -> None:
    """Readings that fit their neighbours become rows; what does not fit is kept as a question."""
    source = ("walk_round", walk.pk)
    for item in judged:
        number = number_or_none(item.given.value)
        if number is None:
            continue
        meter = meter_of(item.check)
        if meter:
            derive_meter_reading(cart=cart, kind=meter, value=number, read_at=walk.signed_at, source=source)
        elif item.check.limit_from == "tread":
            derive_tread(
                cart=cart,
                position_code=item.given.place,
                depth_mm=number,
                read_at=walk.signed_at,
                source=source,
            )


@transaction.atomic
def confirm_name(*, walk: WalkRound, by: Staff, at: datetime, how: str) -> NameConfirmation:
    """Whoever signed a walk-round that came in under another's sign-in says that it was them. how: "session" or "pin".

    NotTheAuthor; AlreadyConfirmed, also when they sent it in themselves. The certificate waiting for it is looked at again.
    """
    lock_walk_round(walk.pk)
    walk = WalkRound.objects.select_related("cart", "name_confirmation").get(pk=walk.pk)
    if walk.author_id != by.pk or not by.is_active:
        raise NotTheAuthor(
            f"This walk-round of {walk.cart.fleet_number} was signed by {walk.author_name}. Only they can say that it was them."
        )
    if walk.is_name_confirmed:
        raise AlreadyConfirmed(
            f"The name under this walk-round of {walk.cart.fleet_number} is confirmed already. There is nothing left to do."
        )
    confirmation = NameConfirmation(walk_round=walk, by=by, at=at, how=how)
    confirmation.save(force_insert=True)
    enqueue(kind="walk_round.signed", subject_id=walk.pk, at=at)
    write_journal(
        event=Event.NAME_CONFIRMED,
        subject=("walk_round", walk.pk),
        chains=[cart_chain(walk.cart_id)],
        by=by,
        at=at,
        facts={"how": how, "sent_by": walk.sent_by_id, "manifest_sha256": walk.manifest_sha256},
    )
    return confirmation
