"""A floated cart is looked at as it is loaded, often the evening before, and again as it is unloaded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db import transaction

from fleet.actions.carts import move_cart
from fleet.actions.defects import tell_defect
from fleet.actions.locks import check_fields
from fleet.lap.stations import STATION_KEYS
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.models.photos import Photo
from fleet.readiness import readiness
from hire.actions.gate_given import PhotosWanted
from hire.float_words import points_of
from hire.models.agreements import Line
from hire.models.float_looks import FloatLook, FloatLookPhoto
from hire.promises import gate_window
from hire.receipt_anew import with_look
from inspections.certificates.actions import issue_paper, paper_of
from inspections.certificates.content import HandoverReceipt
from inspections.certificates.models import Certificate
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import AT_THE_GATE

# What was forgotten longer than that is told to the desk, not entered. Common practice, no source.
LOOK_BACK = timedelta(hours=24)
WHY_ANEW = "The cart was looked at as it was unloaded."


class NotFloated(Refusal):
    """The cart does not go on a float, or is not where the look would be."""


class NotGoodToLoad(Refusal):
    """Its checks do not hold at loading: on the float nobody can walk it round."""


class TravelState(Refusal):
    """A point of its travel state was not looked at, or is not right."""

    field = "travel"


class NotThen(Refusal):
    """The look cannot have been at that time."""

    field = "happened_at"


class LookedAtAlready(Refusal):
    """Somebody has looked at it as it was unloaded."""


@dataclass(frozen=True)
class Eyes:
    """Who looked: eyes, a key of models.float_looks.EYES, and their name. happened_at: when, None for this moment."""

    eyes: str
    name: str
    photos: tuple[Photo, ...] = ()
    happened_at: datetime | None = None


@transaction.atomic
def look_at_loading(
    *,
    line: Line,
    seen: Eyes,
    float_words: str,
    tied_by_words: str,
    travel: Sequence[str],
    by: Staff,
    at: datetime,
) -> FloatLook:
    """Record a look at a cart loaded on its float: from then until the yard's hours for it are over, its checks are judged for that
    moment. May be looked at again as long as it has not left; the newest counts.

    travel: the points of its travel state that are right, all of this cart's (hire.float_words). NotAllowed; NotFloated; NotThen;
    NotGoodToLoad; TravelState; PhotosWanted.
    """
    _ask(by)
    line, cart = _locked(line)
    if line.agreement.leaves_by != "float" or line.cancelled_at or line.handed_over_at:
        raise NotFloated(
            f"{cart.fleet_number} does not wait for a float on {line.agreement.number}: see how it leaves, and whether it has left."
        )
    happened = _happened(cart, seen, since=line.loaded_at, at=at)
    _check_walked(line, cart, happened)
    missing = [words for key, words in points_of(cart).items() if key not in travel]
    if missing:
        raise TravelState(
            f"{cart.fleet_number} is loaded in its travel state. Still to see to: {', '.join(missing)}."
        )
    if not seen.photos:
        raise PhotosWanted(f"Photograph {cart.fleet_number} on the float, tied down.")
    look = _look(line, "loading", seen, happened, by=by, at=at)
    look.float_words, look.tied_by_words = float_words.strip(), tied_by_words.strip()
    look.travel = [key for key in points_of(cart) if key in travel]
    _keep(look, seen)
    line.loaded_at = happened
    line.save(update_fields=["loaded_at"])
    _write(Event.FLOAT_LOADED, look, by=by, at=at)
    return look


@transaction.atomic
def look_at_unloading(
    *, line: Line, seen: Eyes, new_words: str, station: str, grade: str, by: Staff, at: datetime
) -> FloatLook:
    """Record a look at a cart taken off its float on site. What is new becomes a defect at once; the receipt is issued anew with
    both looks, and the cart stands on site.

    new_words: "" for nothing new; station, grade: of what is new. NotAllowed; NotFloated; LookedAtAlready; NotThen; NotTold.
    """
    _ask(by)
    line, cart = _locked(line)
    if line.agreement.leaves_by != "float" or line.handed_over_at is None or line.back_at is not None:
        raise NotFloated(f"{cart.fleet_number} is not out by float on {line.agreement.number}.")
    if line.float_looks.filter(kind="unloading").exists():
        raise LookedAtAlready(
            f"Somebody has looked at {cart.fleet_number} since it was unloaded; see the hire’s page."
        )
    happened = _happened(cart, seen, since=line.handed_over_at, at=at)
    look = _look(line, "unloading", seen, happened, by=by, at=at)
    look.new_words = new_words.strip()
    if look.new_words:
        look.defect = _tell(look, seen, station, grade, by=by, at=at)
    _keep(look, seen)
    _receipt_anew(look, seen, by=by, at=at)
    move_cart(
        cart=cart, where_kind="site", where_words=line.agreement.place_of_work[:80], keys_words=cart.keys_words, by=by, at=at
    )  # fmt: skip
    _write(Event.FLOAT_UNLOADED, look, by=by, at=at)
    return look


def _ask(by: Staff) -> None:
    if not by.has_role(AT_THE_GATE):
        raise NotAllowed(
            "Looks at a floated cart are written down by the hire desk, a yard hand or a manager."
        )


def _locked(line: Line) -> tuple[Line, Cart]:
    line = Line.objects.locked(line.pk)
    Cart.objects.select_for_update(of=("self",)).get(pk=line.cart_id)
    return line, Cart.objects.for_sheets().get(pk=line.cart_id)


def _happened(cart: Cart, seen: Eyes, *, since: datetime | None, at: datetime) -> datetime:
    told = seen.happened_at or at
    if told > at:
        raise NotThen(f"{cart.fleet_number} cannot have been looked at in time to come.")
    if told < at - LOOK_BACK:
        raise NotThen(
            "A look is entered within a day of it. Write a later one down in words, with the hire desk."
        )
    if since is not None and told < since:
        raise NotThen(f"{cart.fleet_number} was not on that float yet, or was looked at again since.")
    return told


def _check_walked(line: Line, cart: Cart, happened: datetime) -> None:
    """Its pre-hire and gate-out checks hold at loading. What else stops it stops it at the gate."""
    window = replace(gate_window(line, at=happened), as_then=True, loaded_at=None)
    stops = [
        one.sentence
        for one in readiness(cart, window=window, at=happened).blockers
        if one.code.startswith("walk_round.")
    ]
    if stops:
        raise NotGoodToLoad(
            f"{cart.fleet_number} is not loaded yet: {stops[0]} On the float nobody can walk it round."
        )


def _look(line: Line, kind: str, seen: Eyes, happened: datetime, *, by: Staff, at: datetime) -> FloatLook:
    return FloatLook(
        line=line, cart_id=line.cart_id, kind=kind, happened_at=happened, entered_at=at, by=by, eyes=seen.eyes,
        eyes_words=seen.name.strip(),
    )  # fmt: skip


def _tell(look: FloatLook, seen: Eyes, station: str, grade: str, *, by: Staff, at: datetime) -> Defect:
    told_where = station in STATION_KEYS
    return tell_defect(
        cart=look.cart,
        title=f"New at unloading: {look.new_words}",
        words=look.new_words
        if told_where
        else f"{look.new_words.rstrip('. ')}. Where on the cart was not told.",
        station=station if told_where else STATION_KEYS[0],
        place="",
        grade=grade,
        source=("float_look", look.pk),
        by=by,
        by_words=look.eyes_words if look.eyes != "ours" else "",
        at=at,
        second_look_always=False,
        may_be_passed=False,
        photos=seen.photos,
    )


def _keep(look: FloatLook, seen: Eyes) -> None:
    check_fields(look)
    look.save(force_insert=True)
    FloatLookPhoto.objects.bulk_create(
        FloatLookPhoto(look=look, photo=photo) for photo in dict.fromkeys(seen.photos)
    )


def _receipt_anew(look: FloatLook, seen: Eyes, *, by: Staff, at: datetime) -> None:
    """The receipt's successor, with the look that came since. Nothing where it left without one."""
    papers = Certificate.objects.filter(kind="receipt", subject_kind="hire_line", subject_id=look.line_id)
    old = papers.filter(withdrawal=None, replaced_by=None).order_by("-issued_at").first()
    said = paper_of(old) if old else None
    if old is None or not isinstance(said, HandoverReceipt):
        return
    issue_paper(
        kind="receipt",
        subject=("hire_line", look.line_id),
        write=lambda numbered: with_look(said, numbered, look, seen.photos, by=by, at=at),
        lap_svg=old.lap_svg,
        chains=[cart_chain(look.cart_id)],
        by=by,
        at=at,
        replaces=old,
        why=WHY_ANEW,
    )


def _write(event: Event, look: FloatLook, *, by: Staff, at: datetime) -> None:
    write_journal(
        event=event,
        subject=("hire_line", look.line_id),
        chains=[cart_chain(look.cart_id), YARD],
        by=by,
        at=at,
        facts={
            "agreement": look.line.agreement.number,
            "happened_at": look.happened_at,
            "eyes": [look.eyes, look.eyes_words],
            "float": look.float_words,
            "tied_by": look.tied_by_words,
            "travel": look.travel,
            "new": look.new_words,
            "defect": look.defect_id,
        },
    )
