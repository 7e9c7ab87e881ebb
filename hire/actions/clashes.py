"""What stands in the way of a cart's period: another hire's promise, or another caller's pencil. Parts of actions."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.models.carts import Cart
from fleet.sentences import moment_words
from hire.models.agreements import Line
from hire.models.pencils import Pencil
from hire.tank_order import met_by
from people.refusals import Refusal

OTHERWISE = "Choose another cart or period."


class EndsBeforeItStarts(Refusal):
    """A hire ends after it starts."""

    field = "ends_at"


class CartPromised(Refusal):
    """The cart is promised to another hire in that time; the sentence names it."""

    field = "cart"


class TankSpoilt(Refusal):
    """Any water of one hire would leave the cart's tank unfit for drinking water of another; the sentence names that one."""

    field = "cart"


class AlreadyPencilled(Refusal):
    """Another caller has the cart pencilled in that time; the sentence says who and until when."""

    field = "cart"


class PencilOver(Refusal):
    """The pencil has ended: it lapsed, was let go or became a hire."""


def clash_sentence(
    cart: Cart, starts_at: datetime, ends_at: datetime, *, at: datetime, but: Collection[UUID] = ()
) -> str:
    """Names the promise that stands in the way of a period; "" when none does. but: lines that count for none."""
    span = DateTimeTZRange(starts_at, ends_at)
    lines = Line.objects.unfinished().filter(cart=cart, kept__overlap=span).exclude(pk__in=but)
    other = lines.for_list().order_by("promised").first()
    if other is None:
        return ""
    return (
        f"{cart.fleet_number} is promised to {other.agreement.customer.name} on {other.agreement.number}, "
        f"{moment_words(other.promised.lower, at=at)} to {moment_words(other.expected_back, at=at)}. "
        f"{OTHERWISE}"
    )


def check_tank(
    cart: Cart,
    water: str,
    starts_at: datetime,
    ends_at: datetime,
    *,
    at: datetime,
    but: Collection[UUID] = (),
    field: str = "cart",
) -> None:
    """Whether a hire of that water ("any", "potable") may be promised in a period, for the water of the hires before and after it.
    but: lines that count for none. Part of another action, the cart locked. TankSpoilt."""
    met = met_by([cart], water, starts_at, ends_at, at=at, but=but).get(cart.pk, ())
    if bad := next((one for one in met if not one.is_apart), None):
        raise TankSpoilt(bad.refusal(at=at), field=field)


def end_lapsed(cart: Cart, *, at: datetime) -> None:
    """Part of another action, the cart locked: what has lapsed makes room."""
    Pencil.objects.filter(cart=cart, ended_at=None, expires_at__lte=at).update(
        ended_at=at, ended_how="lapsed"
    )


def pencil_sentence(cart: Cart, starts_at: datetime, ends_at: datetime, *, at: datetime) -> str:
    """Names the caller who has the cart pencilled in a period; "" when nobody has."""
    span = DateTimeTZRange(starts_at, ends_at)
    other = Pencil.objects.standing(at=at).filter(cart=cart, period__overlap=span).for_list().first()
    if other is None:
        return ""
    return (
        f"{cart.fleet_number} is pencilled for {other.caller_words} until {moment_words(other.expires_at, at=at)}, by "
        f"{other.made_by.full_name}. Let that go first, or choose another cart."
    )


def standing_pencil(pencil: Pencil, *, at: datetime) -> Pencil:
    """The pencil, locked. Part of another action. PencilOver."""
    pencil = Pencil.objects.select_for_update(of=("self",)).for_list().get(pk=pencil.pk)
    if pencil.ended_at is not None or pencil.expires_at <= at:
        how = {"let_go": "was let go", "promised": "became a hire", "booked": "became a booking"}.get(
            pencil.ended_how, "lapsed"
        )
        raise PencilOver(
            f"{pencil.cart.fleet_number} is no longer pencilled for {pencil.caller_words}: it {how}."
        )
    return pencil


def end_pencil(pencil: Pencil, *, how: str, at: datetime) -> None:
    """Part of another action, the pencil locked."""
    pencil.ended_at, pencil.ended_how = at, how
    pencil.save(update_fields=["ended_at", "ended_how"])
