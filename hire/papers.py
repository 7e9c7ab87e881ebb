"""The content of the two papers, from customer, cart and signed record. It is frozen the moment it is numbered."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.conf import settings

from fleet.drawing import lap_svg
from fleet.models.carts import Cart
from fleet.models.photos import Photo
from fleet.road_fill import paper_words, road_fill
from hire import paper_cart, paper_findings
from hire.float_words import told_looks
from hire.late_entries import although_words, late_words
from hire.models.float_looks import FloatLook
from hire.models.gate import Handover
from hire.paper_photos import Photos
from hire.paper_source import Source
from hire.wet_screens import driven_words
from inspections.acceptance import ACCEPTING
from inspections.certificates import parts, words
from inspections.certificates.actions import Numbered
from inspections.certificates.content import CAUTIONS, HandoverReceipt, PreHireCertificate
from inspections.certificates.models import Certificate
from inspections.certificates.wording import said_paper
from inspections.models import WalkRound
from inspections.over_closed import last_moments, rests_on_words
from people.journal.actions import cart_chain
from people.journal.models import ChainHead
from people.models import Staff
from people.yard import yard_day, yard_policy


def certificate_content(source: Source, numbered: Numbered) -> PreHireCertificate:
    """The pre-hire certificate of a line, on the yard's signature alone."""
    photos = Photos(source)
    both = _both(source, numbered, photos)
    conditions = bool(
        both["limits"] or both["passes"] or any(row.grade == "by_date" for row in both["defects"])
    )
    content = PreHireCertificate(
        **both,
        photos=photos.shown,
        outcome="conditions" if conditions else "ready",
        holds_until_at=source.moment(source.walk.signed_at + yard_policy().pre_hire_good),
        documents=paper_cart.documents(source),
        holds_longer=_holds_longer(source),
    )
    return said_paper(content)


def _holds_longer(source: Source) -> str:
    """Until when the certificate holds over days the yard is closed, and on what; "" where none are near."""
    longer = last_moments([source.walk])[source.walk.pk]
    if not longer.days:
        return ""
    until, rests = words.moment(source.moment(longer.until)), rests_on_words()
    return f"Over days the yard is closed at the latest {until}, only {rests}."


def receipt_content(
    source: Source,
    numbered: Numbered,
    *,
    handover: Handover,
    certificate: Certificate,
    pictures: Sequence[Photo],
) -> HandoverReceipt:
    """The handover receipt: names the certificate, says what left and who took it or that nobody was there."""
    photos = Photos(source)
    taken = photos.add(pictures, item="At handover", place=handover.place_words, taken_at=handover.at)
    floated = [
        parts.Condition(place=look.get_kind_display(), words=said, photos=_look_photos(photos, look, shown))
        for look, said, shown in told_looks(source.line)
    ]
    both = _both(source, numbered, photos)
    has_limits, is_left = bool(both["limits"] or both["passes"]), handover.mode == "left"
    if handover.by is None:
        both["issued_by"] = parts.Person(name=yard_policy().name, role="Issued as the driver left with it")
    content = HandoverReceipt(
        **both,
        photos=photos.shown,
        certificate=parts.CertificateReference(
            number=certificate.number,
            revision=certificate.revision,
            issued_at=source.moment(certificate.issued_at),
            record_sha256=certificate.record_sha256,
        ),
        handed_over_at=source.moment(handover.at),
        handed_over_place=handover.place_words,
        how=source.line.agreement.get_leaves_by_display(),
        condition=(
            parts.Condition(place="Whole cart", words=handover.condition_words, photos=taken),
            *floated,
        ),
        items=tuple(
            parts.Item(name=words.strip(), count=1)
            for words in handover.items_words.splitlines()
            if words.strip()
        ),
        notes=(
            *([f"Handed over by {handover.by_words}."] if handover.by is None else []),
            f"Fuel at handover: {handover.fuel_eighths} of 8 eighths.",
            f"Keys: {handover.keys_words}.",
            *(f"Operator: {words}." for words in driven_words(source.line, at=handover.at)),
            *late_words(source.line),
            *although_words(handover),
        ),
        received=None if is_left else _received(source, handover, has_limits=has_limits),
        left=_left(source, handover, taken) if is_left else None,
    )
    return said_paper(content)


def _look_photos(photos: Photos, look: FloatLook, shown: Sequence[Photo]) -> tuple[int, ...]:
    place = look.line.agreement.place_of_work if look.kind == "unloading" else "On the float"
    return photos.add(shown, item=look.get_kind_display(), place=place, taken_at=look.happened_at)


def accept_words(has_limits: bool) -> str:  # noqa: FBT001 - the one thing the words turn on
    """What a customer states by signing for a cart."""
    words = "I take over this cart with its certificate and the condition written here."
    return f"{words} I accept the limits printed at the top." if has_limits else words


def lap_of(cart: Cart) -> str:
    """The lap drawing that goes on the paper, with the open defects pinned."""
    return lap_svg(cart, self_contained=True)


def _on_road(source: Source) -> tuple[str, ...]:
    rules = source.line.agreement.rule_set
    return paper_words(road_fill(source.cart, on=yard_day(source.at), rule_set=rules))


def _both(source: Source, numbered: Numbered, photos: Photos) -> dict[str, Any]:
    """What both papers carry, as keyword arguments. Stations and defects are read first: they number the photos."""
    stations, defects = paper_findings.stations(source, photos), paper_findings.defects(source, photos)
    replaces = numbered.replaces
    return {
        "number": numbered.number,
        "revision": numbered.revision,
        "replaces": parts.Replaces(number=replaces.number, why=numbered.why) if replaces else None,
        "issued_at": source.moment(source.at),
        "issued_by": _person(source.by)
        if source.by
        else parts.Person(name=yard_policy().name, role=f"Issued when the check was {_settled(source)}"),
        "time_zone": source.line.agreement.time_zone,
        "rule_set": source.walk.rule_set,
        "issuer": _issuer(),
        "customer": _customer(source),
        "hire": _hire(source),
        "cart": paper_cart.build(source),
        "limits": paper_findings.limits(source),
        "passes": paper_findings.passes(source),
        "stations": stations,
        "defects": defects,
        "readings": paper_cart.readings(source),
        "tyres": paper_cart.tyres(source),
        "extinguishers": paper_cart.extinguishers(source),
        # What could not be checked stands with the results; nothing else departs from the sheet.
        "deviations": (),
        "cautions": (*_on_road(source), *CAUTIONS),
        "outside": paper_cart.outside(source),
        "signatures": (_walked(source), *_accepted(source)),
        "journal": journal_head(source.cart.pk),
        "verify": verify_of(numbered),
        "method": _method(source),
    }


def _settled(source: Source) -> str:
    return "accepted" if source.walk.is_from_site else "signed"


def _person(staff: Staff) -> parts.Person:
    return parts.Person(name=staff.full_name, role=staff.role_label)


def _issuer() -> parts.Issuer:
    return parts.Issuer(
        name=yard_policy().name,
        address=tuple(part.strip() for part in settings.YARD_ADDRESS.split(",")),
        contact=tuple(part.strip() for part in settings.YARD_CONTACT.split(",")),
    )


def _customer(source: Source) -> parts.Customer:
    customer = source.line.agreement.customer
    return parts.Customer(
        name=customer.name,
        contact_name=customer.contact_name,
        phone=customer.phone,
        email=customer.email,
        address=tuple(part.strip() for part in customer.address.split(",") if part.strip()),
    )


def _hire(source: Source) -> parts.Hire:
    line, agreement = source.line, source.line.agreement
    return parts.Hire(
        agreement=agreement.number,
        place_of_work=agreement.place_of_work,
        starts_at=source.moment(line.promised.lower),
        ends_at=source.moment(line.promised.upper),
        order_number=agreement.order_number,
        leaves=agreement.get_leaves_by_display().lower(),
        works=agreement.get_works_on_display().lower(),
    )


def _walked(source: Source) -> parts.Signature:
    walk = source.walk
    signed = json.loads(walk.manifest)["signature"]
    return parts.Signature(
        kind=walk.signature_kind,
        name=walk.signature_name,
        role=_walker_role(walk),
        part=f"Walked the cart and signed the {walk.get_purpose_display().lower()}",
        statement=signed["statement"],
        signed_at=source.moment(walk.signed_at),
        organisation=walk.author_role if walk.is_from_site else yard_policy().name,
        how=_signed_how(walk),
        strokes=_drawn(signed["strokes"]),
    )


def _walker_role(walk: WalkRound) -> str:
    if walk.site_walker is None:
        return walk.author_role
    return f"Driver of {walk.author_role}" if walk.site_walker.is_collecting else "On site for the customer"


def _accepted(source: Source) -> tuple[parts.Signature, ...]:
    """The manager who took a check signed on site as the yard's own; nobody for the yard's own checks."""
    walk = source.walk
    # A driver's own check is nobody's acceptance: how it was signed says who gave the link.
    if (
        not walk.is_from_site
        or not hasattr(walk, "name_confirmation")
        or walk.name_confirmation.how == "given"
    ):
        return ()
    accepted = walk.name_confirmation
    signature = parts.Signature(
        kind="typed",
        name=accepted.by.full_name,
        role=accepted.by.role_label,
        part=f"Accepted the {walk.get_purpose_display().lower()} signed on site",
        statement=ACCEPTING,
        signed_at=source.moment(accepted.at),
        organisation=yard_policy().name,
        how="signed in at the yard",
    )
    return (signature,)


def _signed_how(walk: WalkRound) -> str:
    if walk.site_walker is not None and walk.site_walker.given_by is not None:
        return f"signed on their own phone, on a link given by {walk.site_walker.given_by.full_name}"
    if walk.is_from_site:
        return "signed on site, on their own phone"
    if walk.is_own_sign_in:
        return "signed in on the yard’s tablet"
    if walk.is_name_confirmed:
        return f"signed on the yard’s tablet, and confirmed {walk.name_confirmation.get_how_display()}"
    return "signed on the yard’s tablet, name not confirmed"


def _received(source: Source, handover: Handover, *, has_limits: bool) -> parts.Signature:
    return parts.Signature(
        kind=handover.signature_kind,
        name=handover.taken_by_name,
        role="For the customer",
        part="Took the cart over",
        statement=accept_words(has_limits),
        signed_at=source.moment(handover.at),
        organisation=source.line.agreement.customer.name,
        how="signed on the yard’s screen" if handover.by else "signed on their own phone",
        strokes=_drawn(json.loads(handover.signature_strokes or "[]")),
    )


def _drawn(strokes: list[list[list[int]]]) -> tuple[tuple[tuple[int, ...], ...], ...]:
    return tuple(tuple(tuple(point) for point in stroke) for stroke in strokes)


def _hander(handover: Handover) -> parts.Person:
    """Who handed it over: a person of the yard, or the driver who collected it."""
    if handover.by is not None:
        return _person(handover.by)
    name, _, role = handover.by_words.partition(", ")
    return parts.Person(name=name, role=role[:1].upper() + role[1:])


def _left(source: Source, handover: Handover, photos: tuple[int, ...]) -> parts.LeftUnattended:
    return parts.LeftUnattended(
        by=_hander(handover),
        place=handover.place_words,
        left_at=source.moment(handover.at),
        keys=handover.keys_words,
        words="Left with nobody present to sign.",
        photos=photos,
    )


def journal_head(cart_id: UUID) -> parts.JournalHead:
    """Where the cart's chain of the journal stands as a paper is written."""
    chain = cart_chain(cart_id)
    head = ChainHead.objects.filter(chain=chain).first()
    return parts.JournalHead(
        chain=chain, position=head.position if head else 0, sha256=head.hash if head else "0" * 64
    )


def verify_of(numbered: Numbered) -> parts.Verify:
    """Where a paper of that number is checked."""
    url = f"{settings.PUBLIC_ADDRESS}/v/{numbered.code}/"
    return parts.Verify(url=url, address=url.split("://", 1)[1].rstrip("/"), code=numbered.code)


def _method(source: Source) -> parts.Method:
    walk = source.walk
    return parts.Method(
        walk_round_id=str(walk.pk),
        walk_round_sha256=walk.manifest_sha256,
        sheet=walk.get_purpose_display(),
        edition=walk.edition.number,
        edition_sha256=walk.edition.sha256,
        place=source.cart.where_words or "On site" if walk.is_from_site else source.cart.home_yard,
        started_at=source.moment(walk.begun_at),
        signed_at=source.moment(walk.signed_at),
    )
