"""The cart itself: joining the fleet, its details, where it is, and what is fitted to it."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.actions.put_away import end_put_away
from fleet.gear import GEAR
from fleet.models.carts import AxleGroup, Cart, Fitment
from fleet.models.wheels import WheelPosition
from fleet.needs import next_need
from fleet.wheel_places import GroupPlan, planned_positions
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import EVERYBODY, MANAGERS, WORKSHOP
from people.yard import yard_day

# Without look-alikes: it is printed on the cart's plate and may have to be typed.
PLATE_ALPHABET = "23456789abcdefghjkmnpqrstuvwxyz"
PLATE_LENGTH = 14


class TyresThere(Refusal):
    """The new axle layout leaves no place for a position that has, or had, a tyre."""


class StillWanted(Refusal):
    """The cart is on a hire, or promised to one, so it does not leave the fleet."""


class GearOff(Refusal):
    """The gear is not fitted, or came off already."""


@dataclass(frozen=True)
class CartDetails:
    """What is written down of a cart. Lengths in metres, masses in kilograms, the tanks' content in litres."""

    fleet_number: str
    make: str
    model: str
    build_year: int
    tank_length_m: Decimal
    tank_width_m: Decimal
    tank_height_m: Decimal
    tank_capacity_l: int
    gross_limit_kg: int
    plate: str = ""
    vin: str = ""
    steering_side: str = "right"
    tank_shape: str = "ellipse"
    tank_material: str = "steel"
    fuel_tank_l: int | None = None
    home_yard: str = "Home yard"
    retired_on: date | None = None

    def tidy(self) -> dict[str, object]:
        """The fields as they are kept: numbers and plates in capitals, no stray spaces."""
        kept = {
            name: value.strip() if isinstance(value, str) else value for name, value in asdict(self).items()
        }
        for name in ("fleet_number", "plate", "vin"):
            kept[name] = " ".join(str(kept[name]).upper().split())
        return kept


def new_plate_code() -> str:
    """A code nobody can guess, for the cart's QR plate; it opens nothing for somebody not signed in."""
    return "".join(secrets.choice(PLATE_ALPHABET) for _ in range(PLATE_LENGTH))


def _set_groups(cart: Cart, groups: Sequence[GroupPlan]) -> None:
    """Make the cart's axle groups and wheel positions what the plan says, keeping positions that stay."""
    cart.axle_groups.all().delete()
    rows = [
        AxleGroup(cart=cart, position=number, **asdict(plan)) for number, plan in enumerate(groups, start=1)
    ]
    for row in rows:
        check_fields(row)
    AxleGroup.objects.bulk_create(rows)
    wanted = {place.code: place for place in planned_positions(groups)}
    standing = {row.code: row for row in cart.wheel_positions.all()}
    gone = [row for code, row in standing.items() if code not in wanted]
    used = sorted(row.code for row in gone if row.fittings.exists())
    if used:
        raise TyresThere(
            f"Cart {cart.fleet_number} has tyres on record at {', '.join(used)}, and this layout has no such place. "
            "Their history is kept, so the layout cannot lose them."
        )
    WheelPosition.objects.filter(pk__in=[row.pk for row in gone]).delete()
    for code, place in wanted.items():
        WheelPosition.objects.update_or_create(cart=cart, code=code, defaults=asdict(place))


@transaction.atomic
def add_cart(*, details: CartDetails, axle_groups: Sequence[GroupPlan], by: Staff, at: datetime) -> Cart:
    """Take a cart into the fleet, with its axle groups from the front and a wheel position for every tyre they carry.

    NotAllowed; AgainstARule for a value or a number that cannot stand (`field` says which).
    """
    ask_role(by, MANAGERS, "Only the workshop manager or the fleet manager adds a cart.")
    if not axle_groups:
        raise AgainstARule("Give the cart at least one axle group.")
    cart = Cart(plate_code=new_plate_code(), **details.tidy())
    check_fields(cart)
    with rules_of(Cart):
        cart.save(force_insert=True)
    _set_groups(cart, axle_groups)
    write_journal(
        event=Event.CART_ADDED,
        subject=("cart", cart.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts=details.tidy() | {"axle_groups": [asdict(plan) for plan in axle_groups]},
    )
    return cart


def _check_retiring(cart: Cart, details: CartDetails, at: datetime) -> None:
    if details.retired_on is None or cart.retired_on is not None:
        return
    need = next_need([cart], at=at).get(cart.pk)
    if need is not None:
        raise StillWanted(
            f"Cart {cart.fleet_number} is {'out on' if need.is_out else 'promised to'} {need.label}. "
            "End or move that hire first.",
            field="retired_on",
        )


@transaction.atomic
def change_cart(*, cart: Cart, details: CartDetails, by: Staff, at: datetime) -> Cart:
    """Correct what is written down of a cart, or take it out of the fleet (`retired_on`). Only what changed is journalled;
    when nothing did, nothing is written. NotAllowed, StillWanted, AgainstARule."""
    ask_role(by, MANAGERS, "Only the workshop manager or the fleet manager changes a cart’s details.")
    cart = lock_cart(cart)
    _check_retiring(cart, details, at)
    before: dict[str, object] = {}
    after: dict[str, object] = {}
    for name, value in details.tidy().items():
        if getattr(cart, name) != value:
            before[name], after[name] = getattr(cart, name), value
            setattr(cart, name, value)
    if not after:
        return cart
    check_fields(cart)
    with rules_of(Cart):
        cart.save(update_fields=list(after))
    write_journal(
        event=Event.CART_CHANGED,
        subject=("cart", cart.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={"before": before, "after": after},
    )
    return cart


@transaction.atomic
def change_axle_groups(*, cart: Cart, axle_groups: Sequence[GroupPlan], by: Staff, at: datetime) -> Cart:
    """Correct a cart's axle groups; its wheel positions follow. TyresThere when a position with tyres on record would go;
    NotAllowed, AgainstARule."""
    ask_role(by, MANAGERS, "Only the workshop manager or the fleet manager changes a cart’s axles.")
    if not axle_groups:
        raise AgainstARule("Give the cart at least one axle group.")
    cart = lock_cart(cart)
    _set_groups(cart, axle_groups)
    write_journal(
        event=Event.CART_CHANGED,
        subject=("cart", cart.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={"axle_groups": [asdict(plan) for plan in axle_groups]},
    )
    return cart


@transaction.atomic
def move_cart(
    *,
    cart: Cart,
    where_kind: str,
    where_words: str,
    keys_words: str,
    without_permit: str = "",
    by: Staff | None,
    by_words: str = "",
    at: datetime,
) -> Cart:
    """Record where the cart now is and who has the keys. Anybody of the yard may. by: null for the driver who left with it, by
    an action that let them; by_words says who.

    without_permit: why a held cart was moved with no move permit; the journal tells that move by its own name.
    A cart in another place has moved, so its pre-hire check no longer holds (`last_moved_at`); keys that change hands in the same
    place move nothing. Either way it is put away no more. The same again changes nothing. AgainstARule for an unknown kind.
    """
    if by is not None:
        ask_role(by, EVERYBODY, "Only people of the yard record where a cart is.")
    cart = lock_cart(cart)
    was = (cart.where_kind, cart.where_words, cart.keys_words)
    cart.where_kind, cart.where_words, cart.keys_words = where_kind, where_words.strip(), keys_words.strip()
    now = (cart.where_kind, cart.where_words, cart.keys_words)
    if now == was:
        return cart
    if now[:2] != was[:2]:
        cart.last_moved_at = at
    end_put_away(cart, at=at)
    check_fields(cart)
    cart.save(update_fields=["where_kind", "where_words", "keys_words", "last_moved_at"])
    write_journal(
        event=Event.MOVED_WITHOUT if without_permit else Event.CART_MOVED,
        subject=("cart", cart.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        by_words=by_words,
        at=at,
        facts={"before": was, "after": now} | ({"without_permit": without_permit} if without_permit else {}),
    )
    return cart


@transaction.atomic
def fit_gear(
    *, cart: Cart, kind: str, count: int = 1, details: str = "", fitted_on: date, by: Staff, at: datetime
) -> Fitment:
    """Record gear as fitted from a day on. AgainstARule when the kind is fitted already or the count is under one."""
    ask_role(by, WORKSHOP, "Gear is recorded by a fitter or a manager.")
    if fitted_on > yard_day(at):
        raise AgainstARule(
            "Gear is recorded once it is fitted: give today or an earlier day.", field="fitted_on"
        )
    cart = lock_cart(cart)
    fitment = Fitment(cart=cart, kind=kind, count=count, details=details.strip(), fitted_on=fitted_on)
    check_fields(fitment)
    with rules_of(Fitment):
        fitment.save(force_insert=True)
    write_journal(
        event=Event.GEAR_FITTED,
        subject=("fitment", fitment.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={"gear": kind, "count": count, "details": fitment.details, "fitted_on": fitted_on},
    )
    return fitment


@transaction.atomic
def remove_gear(*, fitment: Fitment, removed_on: date, by: Staff, at: datetime) -> Fitment:
    """Record gear as taken off. GearOff when it came off already; AgainstARule for a day before it was fitted or to come."""
    ask_role(by, WORKSHOP, "Gear is recorded by a fitter or a manager.")
    cart = lock_cart(fitment.cart)
    fitment = Fitment.objects.select_for_update(of=("self",)).get(pk=fitment.pk)
    name = GEAR.get(fitment.kind, fitment.kind)
    if fitment.removed_on is not None:
        raise GearOff(
            f"{name} of cart {cart.fleet_number} came off on {fitment.removed_on:%-d %b %Y} already."
        )
    if removed_on > yard_day(at):
        raise AgainstARule(
            "Gear comes off the records once it is off: give today or an earlier day.", field="removed_on"
        )
    fitment.removed_on = removed_on
    check_fields(fitment)
    fitment.save(update_fields=["removed_on"])
    write_journal(
        event=Event.GEAR_REMOVED,
        subject=("fitment", fitment.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={"gear": fitment.kind, "removed_on": removed_on},
    )
    return fitment
