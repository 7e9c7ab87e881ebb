"""A receipt's successor: all that it said of the cart as it left, word for word, with a look that came since."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from fleet.models.photos import Photo
from hire.float_words import look_words
from hire.models.float_looks import FloatLook
from hire.paper_photos import PHOTO_MOST
from hire.papers import journal_head, verify_of
from inspections.certificates import parts
from inspections.certificates.actions import Numbered
from inspections.certificates.content import HandoverReceipt
from people.models import Staff
from people.say import say


def with_look(
    old: HandoverReceipt,
    numbered: Numbered,
    look: FloatLook,
    pictures: Sequence[Photo],
    *,
    by: Staff,
    at: datetime,
) -> HandoverReceipt:
    """The receipt with one more look among its conditions, and its pictures as far as a paper holds them."""
    place, zone = look.get_kind_display(), look.line.agreement.zone
    shown = tuple(_shown(old, look, pictures))
    seen = parts.Condition(
        place=say(place), words=say(look_words(look)), photos=tuple(one.number for one in shown)
    )
    assert numbered.replaces is not None
    return replace(
        old,
        number=numbered.number,
        revision=numbered.revision,
        replaces=parts.Replaces(number=numbered.replaces.number, why=say(numbered.why)),
        issued_at=at.astimezone(zone).isoformat(timespec="seconds"),
        issued_by=parts.Person(name=by.full_name, role=by.role_label),
        photos=(*old.photos, *shown),
        condition=(*old.condition, seen),
        journal=journal_head(look.cart_id),
        verify=verify_of(numbered),
    )


def _shown(old: HandoverReceipt, look: FloatLook, pictures: Sequence[Photo]) -> Iterator[parts.Photo]:
    known, about = {photo.sha256 for photo in old.photos}, look.line.agreement
    new = [photo for photo in pictures if photo.original_sha256 not in known]
    for number, photo in enumerate(new[: PHOTO_MOST - len(old.photos)], start=len(old.photos) + 1):
        yield parts.Photo(
            number=number,
            sha256=photo.original_sha256,
            print_sha256=photo.print_name.rsplit("/", 1)[-1].removesuffix(".jpg"),
            item=say(look.get_kind_display()),
            place=about.place_of_work,
            taken_at=look.happened_at.astimezone(about.zone).isoformat(timespec="seconds"),
            width_px=photo.width_px,
            height_px=photo.height_px,
        )
