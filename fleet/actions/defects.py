"""Telling a defect. What happens to it afterwards is the workshop's (servicing)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from fleet.actions.locks import check_fields, lock_cart, rules_of
from fleet.lap.stations import STATION_KEYS
from fleet.models.carts import Cart
from fleet.models.defects import GRADES, Defect, DefectStep
from fleet.models.photos import Photo
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.yard import yard_day


class NotTold(Refusal):
    """What was said is not enough to tell a defect by: no title, no place on the cart, no grade, or an odd date."""


def _check(cart: Cart, title: str, station: str, grade: str, *, due_on: date | None, at: datetime) -> None:
    if not title:
        raise NotTold(f"Say in a few words what is wrong with cart {cart.fleet_number}.", field="title")
    if station not in STATION_KEYS:
        raise NotTold(f"Say where on cart {cart.fleet_number} it is.", field="station")
    if grade not in dict(GRADES):
        raise NotTold("Choose how bad it is: do not use, repair by a date, or watch.", field="grade")
    if due_on is not None and (grade != "by_date" or due_on < yard_day(at)):
        raise NotTold("A date goes with “repair by a date” only, and is today or later.", field="due_on")


def _step(defect: Defect, photos: Sequence[Photo]) -> DefectStep:
    return DefectStep(
        defect=defect,
        at=defect.told_at,
        by=defect.told_by,
        by_words=defect.told_by_words,
        after_state="reported",
        after_grade=defect.grade,
        words=defect.words,
        photo=photos[0] if photos else None,
    )


def _facts(defect: Defect, photos: Sequence[Photo]) -> dict[str, object]:
    return {
        "title": defect.title,
        "station": defect.station,
        "place": defect.place,
        "grade": defect.grade,
        "due_on": defect.due_on,
        "source": [defect.source_kind, defect.source_id],
        "photos": [photo.original_sha256 for photo in photos],
    }


def _keep(defect: Defect, photos: Sequence[Photo]) -> None:
    check_fields(defect)
    with rules_of(Defect):
        defect.save(force_insert=True)
    defect.photos.set(photos)
    _step(defect, photos).save(force_insert=True)


@transaction.atomic
def find_again(
    *,
    defect: Defect,
    words: str,
    by: Staff | None,
    by_words: str,
    at: datetime,
    photos: Sequence[Photo] = (),
) -> Defect:
    """A repair that waits for its second look is found wrong at a check: it goes back to the job.

    words: what was found. Anything but a repair that waits stays as it is.
    """
    lock_cart(defect.cart)
    defect = Defect.objects.select_for_update(of=("self",)).get(pk=defect.pk)
    if defect.state != "repaired":
        return defect
    defect.state, defect.fix_ends_on = "in_repair", None
    defect.version += 1
    defect.save(update_fields=["state", "fix_ends_on", "version"])
    found = f"Found again at a check. {words}".strip()
    DefectStep(
        defect=defect,
        at=at,
        by=by,
        by_words=by_words[:120],
        before_state="repaired",
        after_state=defect.state,
        before_grade=defect.grade,
        after_grade=defect.grade,
        event=Event.REPAIR_SENT_BACK,
        words=found,
        photo=photos[0] if photos else None,
    ).save(force_insert=True)
    write_journal(
        event=Event.REPAIR_SENT_BACK,
        subject=("defect", defect.pk),
        chains=[cart_chain(defect.cart_id)],
        by=by,
        by_words=by_words,
        at=at,
        facts={"title": defect.title, "words": found, "photos": [photo.original_sha256 for photo in photos]},
    )
    return defect


@transaction.atomic
def tell_defect(
    *,
    cart: Cart,
    title: str,
    words: str,
    station: str,
    place: str,
    grade: str,
    source: tuple[str, UUID],
    by: Staff | None,
    by_words: str,
    at: datetime,
    check_key: str = "",
    gear: str = "",
    second_look_always: bool,
    may_be_passed: bool,
    photos: Sequence[Photo] = (),
    due_on: date | None = None,
) -> Defect:
    """A defect of a cart, from now in the workshop's queue. Anybody may tell one.

    source: what it was told by, (kind, id), such as ("walk_round", id). The same source, check and place again
    returns the defect first told, so that a repeat tells nothing twice. place: a wheel code, a serial, or "".
    by: None for a customer, who is then named by `by_words`. due_on: only with grade "by_date". NotTold.
    """
    title, place = title.strip()[:80], place.strip()[:40]
    _check(cart, title, station, grade, due_on=due_on, at=at)
    cart = lock_cart(cart)
    told = Defect.objects.filter(
        source_kind=source[0], source_id=source[1], check_key=check_key, place=place
    ).first()
    if told is not None:
        return told
    defect = Defect(
        cart=cart,
        title=title,
        words=words.strip(),
        check_key=check_key,
        station=station,
        place=place,
        gear=gear,
        second_look_always=second_look_always,
        may_be_passed=may_be_passed,
        grade=grade,
        due_on=due_on,
        source_kind=source[0],
        source_id=source[1],
        told_at=at,
        told_by=by,
        told_by_words=(by_words.strip() or (f"{by.full_name}, {by.role_label.lower()}" if by else ""))[:120],
    )
    _keep(defect, photos)
    write_journal(
        event=Event.DEFECT_TOLD,
        subject=("defect", defect.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        by_words=defect.told_by_words,
        at=at,
        facts=_facts(defect, photos),
    )
    return defect
