"""Move permits: given, used for one trip, withdrawn; and what a held cart's move without one asks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import connection, transaction

from fleet.actions.carts import move_cart
from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.models.carts import Cart
from fleet.models.permits import MovePermit
from fleet.models.photos import Photo
from fleet.move_stops import move_stops
from fleet.moving import FLOAT, GROUND, ROAD, Stop, is_for_an_incident, musts, refusals
from fleet.sentences import past_words
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import EVERYBODY, FLEET_ONLY, MANAGERS, WALKERS
from people.say import say, say_all
from people.yard import yard_day, yard_policy

NUMBER_LOCK = 7_245_320
# Kinds of place where a trip has ended, as against being on the way.
PLACES = frozenset({"yard", "site", "workshop"})


class NothingHolds(Refusal):
    """The cart is not held for a move that way, so it needs no permit."""


class NotToBeMoved(Refusal):
    """Something on the cart is never moved that way, whoever asks."""

    field = "way"


class PermitOpen(Refusal):
    """Another permit of the cart is open."""


class PermitUsed(Refusal):
    """One trip: the cart has left on it already, or the permit was withdrawn."""


class PermitEnded(Refusal):
    """The permit's time is over."""


class NotLeft(Refusal):
    """The cart has not left on this permit, so it has come to no place on it."""


@dataclass(frozen=True)
class MoveDetails:
    """What a permit says. way: of fleet.moving.WAYS. driver: one of the yard's people, or driver_words: a name and firm.
    speed_km_h: the most it is driven at, None on a float. empty_words: who looked that the tank is empty. controls_words: who
    tried brakes, steering and wheels and what they found, "" on a float."""

    way: str
    to_kind: str
    to_words: str
    reason: str
    expires_at: datetime
    is_empty: bool
    empty_words: str
    driver: Staff | None = None
    driver_words: str = ""
    licence_words: str = ""
    speed_km_h: int | None = None
    controls_words: str = ""
    conditions: str = ""


def _next_number(at: datetime) -> str:
    """The next number of the yard's year; callers take turns until their commit."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NUMBER_LOCK])
    year = yard_day(at).year
    last = MovePermit.objects.filter(number__startswith=f"M{year}-").order_by("-number").first()
    return f"M{year}-{int(last.number.split('-')[1]) + 1 if last else 1:05d}"


def _check_stops(cart: Cart, stops: Sequence[Stop], way: str) -> None:
    if found := refusals(stops, way=way, plate=cart.plate):
        raise NotToBeMoved(f"Cart {cart.fleet_number}: {' '.join(found)}")


def _check_who(cart: Cart, stops: Sequence[Stop], photo: Photo | None, by: Staff) -> None:
    if not is_for_an_incident(stops):
        return
    if not by.has_role(FLEET_ONLY):
        raise NotAllowed(
            f"Cart {cart.fleet_number} is held for an incident: the fleet manager alone lets it be moved."
        )
    if photo is None:
        raise AgainstARule(
            f"Cart {cart.fleet_number} is held for an incident: add a photo of how it stands before it is moved.",
            field="photo",
        )


def _check_details(cart: Cart, details: MoveDetails, at: datetime) -> None:
    policy = yard_policy()
    longest = int(policy.permit_longest.total_seconds() // 3600)
    if not details.is_empty:
        raise AgainstARule(
            f"Cart {cart.fleet_number} moves with an empty tank only. Empty it and look first.",
            field="is_empty",
        )
    if details.expires_at <= at:
        raise AgainstARule("A move permit ends later than now.", field="expires_at")
    if details.expires_at > at + policy.permit_longest:
        raise AgainstARule(f"A move permit lasts {longest} hours at most.", field="expires_at")
    if (details.to_kind, details.to_words.strip()) == (cart.where_kind, cart.where_words):
        raise AgainstARule(
            f"Cart {cart.fleet_number} stands there now. Say where it is to go.", field="to_words"
        )
    if (details.driver is None) == (not details.driver_words.strip()):
        raise AgainstARule(
            "Name one driver: one of the yard’s people, or somebody else with the firm.", field="driver_words"
        )
    if details.driver is not None and not details.driver.is_active:
        raise AgainstARule(f"{details.driver.full_name} has left the yard. Name who drives.", field="driver")
    if details.way != FLOAT:
        _check_driven(details, policy.permit_km_h)


def _check_driven(details: MoveDetails, most_km_h: int) -> None:
    if details.speed_km_h is None or not 1 <= details.speed_km_h <= most_km_h:
        raise AgainstARule(f"Say how fast at most, from 1 to {most_km_h} km/h.", field="speed_km_h")
    if not details.controls_words.strip():
        raise AgainstARule(
            "Say who tried its brakes, steering and wheels for this trip, and what they found.",
            field="controls_words",
        )
    if details.way == ROAD and not details.licence_words.strip():
        raise AgainstARule("Say which class of licence the driver holds.", field="licence_words")


def _make_room(cart: Cart, by: Staff, at: datetime) -> None:
    """A permit nobody used in time is out of the way; an open one is not. PermitOpen."""
    old = cart.move_permits.select_for_update().filter(came_at=None, withdrawn_at=None).first()
    if old is None:
        return
    if old.left_at is not None:
        raise PermitOpen(
            f"Cart {cart.fleet_number} left on move permit {old.number} {past_words(old.left_at, at=at)} and has come to no "
            "place yet. Record where it is first."
        )
    if old.state(at=at) == "ready":
        raise PermitOpen(
            f"Move permit {old.number} of cart {cart.fleet_number} is open. Use it, or withdraw it first."
        )
    old.withdrawn_at, old.withdrawn_by, old.withdrawn_words = at, by, say("Not used before it ended.")
    old.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_words"])


@transaction.atomic
def give_move_permit(
    *, cart: Cart, details: MoveDetails, photo: Photo | None = None, by: Staff, at: datetime
) -> MovePermit:
    """Let a held cart make one trip. A manager gives it; of a cart held for an incident the fleet manager, with a photo.

    It changes nothing in whether the cart is ready. NotAllowed; NothingHolds; NotToBeMoved, each thing named; PermitOpen;
    AgainstARule for what is left out. Hours and speed by the yard's settings: common practice, no source.
    """
    ask_role(by, MANAGERS, "Only the workshop manager or the fleet manager gives a move permit.")
    cart = lock_cart(cart)
    stops = move_stops(cart, way=details.way, at=at)
    if not stops:
        raise NothingHolds(
            f"Nothing holds cart {cart.fleet_number} for such a move: it needs no permit. Record where it is once it is there."
        )
    _check_stops(cart, stops, details.way)
    _check_who(cart, stops, photo, by)
    _check_details(cart, details, at)
    _make_room(cart, by, at)
    is_driven = details.way != FLOAT
    permit = MovePermit(
        cart=cart, number=_next_number(at), way=details.way, from_words=_here(cart), to_kind=details.to_kind,
        to_words=details.to_words.strip(), driver=details.driver, driver_words=details.driver_words.strip(),
        licence_words=details.licence_words.strip(), speed_km_h=details.speed_km_h if is_driven else None,
        is_empty=details.is_empty, empty_words=details.empty_words.strip(),
        controls_words=details.controls_words.strip() if is_driven else "", conditions=details.conditions.strip(),
        reason=details.reason.strip(), held_by=say_all([stop.sentence for stop in stops]),
        musts=say_all(musts(stops, way=details.way)), photo=photo, given_at=at, given_by=by, expires_at=details.expires_at,
    )  # fmt: skip
    check_fields(permit)
    with rules_of(MovePermit):
        permit.save(force_insert=True)
    write_journal(
        event=Event.MOVE_PERMITTED,
        subject=("move_permit", permit.pk),
        chains=[cart_chain(cart.pk), YARD],
        by=by,
        at=at,
        facts=_facts(permit),
    )
    return permit


def _here(cart: Cart) -> str:
    kind = cart.get_where_kind_display()
    return f"{kind}, {cart.where_words}" if cart.where_words else kind


def _facts(permit: MovePermit) -> dict[str, object]:
    return {
        "number": permit.number, "way": permit.way, "from": permit.from_words, "to": [permit.to_kind, permit.to_words],
        "driver": permit.driver_named, "licence": permit.licence_words, "speed_km_h": permit.speed_km_h,
        "empty": permit.empty_words, "controls": permit.controls_words, "conditions": permit.conditions,
        "reason": permit.reason, "held_by": permit.held_by, "expires_at": permit.expires_at,
        "photo": permit.photo.original_sha256 if permit.photo else None,
    }  # fmt: skip


def _locked(permit: MovePermit) -> tuple[Cart, MovePermit]:
    """The cart first, then its permit, as they stand now."""
    cart = lock_cart(permit.cart)
    found = MovePermit.objects.select_for_update(of=("self",)).select_related("driver", "given_by", "left_by")
    return cart, found.get(pk=permit.pk)


def _check_unused(cart: Cart, permit: MovePermit, at: datetime) -> None:
    if permit.left_at is not None:
        raise PermitUsed(
            f"Move permit {permit.number} is for one trip, and cart {cart.fleet_number} left on it "
            f"{past_words(permit.left_at, at=at)}. Another trip wants another permit."
        )
    if permit.withdrawn_at is not None:
        raise PermitUsed(f"Move permit {permit.number} of cart {cart.fleet_number} was withdrawn.")


@transaction.atomic
def leave_on_permit(*, permit: MovePermit, by: Staff, at: datetime) -> MovePermit:
    """The cart leaves on its permit, now: the one trip is begun, and the cart is on its way with its driver.

    What holds the cart is asked again, for something may have been found since. NotAllowed; PermitUsed; PermitEnded;
    NotToBeMoved.
    """
    ask_role(by, WALKERS, "A yard hand, a fitter or a manager lets a cart leave on its move permit.")
    cart, permit = _locked(permit)
    _check_unused(cart, permit, at)
    if at >= permit.expires_at:
        raise PermitEnded(
            f"Move permit {permit.number} ended {past_words(permit.expires_at, at=at)}. Ask a manager for another."
        )
    stops = move_stops(cart, way=permit.way, at=at)
    _check_stops(cart, stops, permit.way)
    _check_who(cart, stops, permit.photo, permit.given_by)
    permit.left_at, permit.left_by = at, by
    permit.save(update_fields=["left_at", "left_by"])
    move_cart(
        cart=cart, where_kind=cart.where_kind if permit.way == GROUND else permit.way,
        where_words=say(f"On its way: {permit.to_words}", most=80)[:80], keys_words=permit.driver_named[:80], by=by, at=at,
    )  # fmt: skip
    write_journal(
        event=Event.MOVE_BEGUN,
        subject=("move_permit", permit.pk),
        chains=[cart_chain(cart.pk), YARD],
        by=by,
        at=at,
        facts={"number": permit.number, "held_by": [stop.sentence for stop in stops]},
    )
    return permit


@transaction.atomic
def come_on_permit(
    *, permit: MovePermit, where_kind: str, where_words: str, keys_words: str, by: Staff, at: datetime
) -> MovePermit:
    """The cart has come to a place, the one it was to go to or another: the trip is over, in time or late. NotAllowed; NotLeft;
    AgainstARule for a place that is none."""
    ask_role(by, EVERYBODY, "Only people of the yard record where a cart is.")
    cart, permit = _locked(permit)
    if permit.left_at is None or permit.came_at is not None:
        what = "has come to its place already" if permit.came_at else "has not left"
        raise NotLeft(f"On move permit {permit.number} cart {cart.fleet_number} {what}.")
    if where_kind not in PLACES:
        raise AgainstARule("A trip ends in a yard, on a site or at a workshop.", field="where_kind")
    cart = move_cart(
        cart=cart, where_kind=where_kind, where_words=where_words, keys_words=keys_words, by=by, at=at
    )
    permit.came_at, permit.came_by, permit.came_to_words = at, by, _here(cart)
    permit.save(update_fields=["came_at", "came_by", "came_to_words"])
    meant = (where_kind, where_words.strip()) == (permit.to_kind, permit.to_words)
    write_journal(
        event=Event.MOVE_ENDED,
        subject=("move_permit", permit.pk),
        chains=[cart_chain(cart.pk), YARD],
        by=by,
        at=at,
        facts={
            "number": permit.number,
            "came_to": permit.came_to_words,
            "as_meant": meant,
            "late": at >= permit.expires_at,
        },
    )
    return permit


@transaction.atomic
def withdraw_move_permit(*, permit: MovePermit, words: str, by: Staff, at: datetime) -> MovePermit:
    """Take a permit back before the cart leaves on it. NotAllowed; PermitUsed; AgainstARule when nobody says why."""
    ask_role(by, MANAGERS, "A move permit is withdrawn by the workshop manager or the fleet manager.")
    cart, permit = _locked(permit)
    _check_unused(cart, permit, at)
    if not words.strip():
        raise AgainstARule("Say why it is withdrawn.", field="words")
    permit.withdrawn_at, permit.withdrawn_by, permit.withdrawn_words = at, by, words.strip()
    check_fields(permit)
    permit.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_words"])
    write_journal(
        event=Event.MOVE_WITHDRAWN,
        subject=("move_permit", permit.pk),
        chains=[cart_chain(cart.pk), YARD],
        by=by,
        at=at,
        facts={"number": permit.number, "why": permit.withdrawn_words},
    )
    return permit


def _under_way(cart: Cart) -> MovePermit | None:
    return cart.move_permits.filter(left_at__isnull=False, came_at=None).first()


@transaction.atomic
def arrive(
    *, cart: Cart, where_kind: str, where_words: str, keys_words: str, by: Staff, at: datetime
) -> Cart:
    """A cart is in a place now (a kind in PLACES): one that left on a move permit has made its trip, any other has moved. Part of
    another action too, where a hire is over. NotAllowed; AgainstARule."""
    if trip := _under_way(cart):
        come_on_permit(
            permit=trip, where_kind=where_kind, where_words=where_words, keys_words=keys_words, by=by, at=at
        )
        cart.refresh_from_db()
        return cart
    return move_cart(
        cart=cart, where_kind=where_kind, where_words=where_words, keys_words=keys_words, by=by, at=at
    )


@transaction.atomic
def record_move(
    *,
    cart: Cart,
    where_kind: str,
    where_words: str,
    keys_words: str,
    without_permit: str = "",
    by: Staff,
    at: datetime,
) -> Cart:
    """Record by hand where a cart now is. One that left on a move permit and is in a place now has made its trip.

    A held cart that is away from the yard in another place than before was moved without a permit: what happened is always
    recorded, but with words why. AgainstARule, those words left out; NotAllowed.
    """
    ask_role(by, EVERYBODY, "Only people of the yard record where a cart is.")
    cart = lock_cart(cart)
    trip = _under_way(cart)
    if trip is not None and where_kind in PLACES:
        return arrive(
            cart=cart, where_kind=where_kind, where_words=where_words, keys_words=keys_words, by=by, at=at
        )
    asks = trip is None and _goes_away(cart, where_kind, where_words)
    if asks and (stops := move_stops(cart, way=ROAD if where_kind == "road" else FLOAT, at=at)):
        if not without_permit.strip():
            raise AgainstARule(
                f"Cart {cart.fleet_number} is held: {stops[0].sentence} Before it is moved, a manager gives it a move permit. "
                "If it was moved already, say why without one.",
                field="without_permit",
            )
    else:
        without_permit = ""
    return move_cart(
        cart=cart, where_kind=where_kind, where_words=where_words, keys_words=keys_words,
        without_permit=without_permit.strip(), by=by, at=at,
    )  # fmt: skip


def _goes_away(cart: Cart, where_kind: str, where_words: str) -> bool:
    """To another place that is not in the yard."""
    return where_kind != "yard" and (where_kind, where_words.strip()) != (cart.where_kind, cart.where_words)
