"""What the cart page shows of walk-rounds: the newest, each with its record's page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from fleet.models.carts import Cart
from fleet.sentences import moment_words
from inspections.models import WalkRound
from inspections.over_closed import last_moments, rests_on_words
from people.yard import yard_policy


def walk_rounds(cart: Cart, at: datetime) -> Mapping[str, object] | None:
    """The last eight walk-rounds of a cart, newest first, and until when its pre-hire check is good. Two queries."""
    walks = list(WalkRound.objects.for_list().filter(cart=cart, received_at__lte=at)[:8])
    return {"walks": walks, "good_until": _good_until(walks, at=at)}


def _good_until(walks: Sequence[WalkRound], *, at: datetime) -> str:
    """Until when the newest pre-hire check is good, as the hours go; "" where there is none, or it is over."""
    newest = next((walk for walk in walks if walk.purpose == "pre_hire"), None)
    if newest is None:
        return ""
    longer, usual = last_moments([newest])[newest.pk], newest.signed_at + yard_policy().pre_hire_good
    if longer.until <= at:
        return ""
    said = f"Its pre-hire check is good until {moment_words(usual, at=at)}, unless the cart is moved or worked on"
    if longer.until == usual:
        return f"{said}."
    return f"{said}. Over days the yard is closed until {moment_words(longer.until, at=at)}, only {rests_on_words()}."
