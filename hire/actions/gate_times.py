"""When a cart really left or came back, which may be entered later: never to come, and never out of turn."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Max

from fleet.sentences import moment_words, past_words
from hire.models.agreements import Line
from people.refusals import Refusal

# A time is typed to the minute: what it may not be before may lie within that minute.
MINUTE = timedelta(minutes=1)


class NotThatTime(Refusal):
    """The cart cannot have left, or come back, at that time."""

    field = "happened_at"


def left_at(line: Line, told: datetime | None, *, signed: Iterable[datetime], at: datetime) -> datetime:
    """When the line's cart left: told, or this moment. signed: when the checks it leaves on were signed; none where it is judged
    by what was signed then. NotThatTime for one to come, before those checks, or before the cart's last hire was over."""
    cart = line.cart.fleet_number
    back = Line.objects.filter(cart=line.cart_id).exclude(pk=line.pk).aggregate(last=Max("back_at"))["last"]
    return _settled(
        told,
        [
            (max(signed, default=None), f"The last check {cart} leaves on was signed {{}}"),
            (back, f"{cart} came back from its last hire {{}}"),
        ],
        at=at,
    )


def came_at(line: Line, told: datetime | None, *, at: datetime) -> datetime:
    """When a cart that is out came back: told, or this moment. NotThatTime for one to come, before it was handed over (and so
    into another of its hires), or before it left the site."""
    cart = line.cart.fleet_number
    left_site = line.off_hires.standing().values_list("left_site_at", flat=True).first()
    return _settled(
        told,
        [(line.handed_over_at, f"{cart} was handed over {{}}"), (left_site, f"{cart} left the site {{}}")],
        at=at,
    )


def _settled(
    told: datetime | None, after: Iterable[tuple[datetime | None, str]], *, at: datetime
) -> datetime:
    """The time that counts. after: each moment it may not be before, with what happened then."""
    if told is None:
        return at
    if told > at:
        raise NotThatTime(
            f"That is still to come: {moment_words(told, at=at)}. Give a time that has passed; empty is now."
        )
    for moment, words in after:
        if moment is None:
            continue
        if told + MINUTE <= moment:
            raise NotThatTime(f"{words.format(past_words(moment, at=at))}. Give that time or a later one.")
        told = max(told, moment)
    return told
