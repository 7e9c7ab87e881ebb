"""Which hire had a cart at a moment, by its plate. Reads only."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q, QuerySet, Value
from django.db.models.functions import Replace, Upper

from fleet.models.carts import Cart
from fleet.sentences import moment_words, past_words
from hire.models.agreements import Line


def tight(plate: str) -> str:
    return plate.replace(" ", "").replace("-", "").upper()


def carts_of(plate: str) -> QuerySet[Cart]:
    """Carts that carry the plate now or carried it when they left the fleet, spaces and hyphens aside."""
    without = Upper(Replace(Replace("plate", Value(" "), Value("")), Value("-"), Value("")))
    return Cart.objects.exclude(plate="").annotate(tight_plate=without).filter(tight_plate=tight(plate))


def hire_at(carts: QuerySet[Cart], moment: datetime) -> Line | None:
    """The hire that one of the carts was out on: from the handover on, until it was back."""
    out = Line.objects.for_list().filter(cart__in=carts, handed_over_at__lte=moment)
    return out.filter(Q(back_at=None) | Q(back_at__gt=moment)).order_by("-handed_over_at").first()


def nobody_words(cart: Cart, moment: datetime, *, at: datetime) -> str:
    """Where the cart was when it was with nobody: the hires before and after."""
    lines = Line.objects.for_list().filter(cart=cart)
    before = lines.filter(back_at__lte=moment).order_by("-back_at").first()
    after = lines.filter(handed_over_at__gt=moment).order_by("handed_over_at").first()
    words = [f"{cart.fleet_number} was with nobody on hire {past_words(moment, at=at)}."]
    if before is not None and before.back_at is not None:
        words.append(f"It was back from {before.agreement.number} {moment_words(before.back_at, at=at)}.")
    if after is not None and after.handed_over_at is not None:
        words.append(f"It next left on {after.agreement.number} {moment_words(after.handed_over_at, at=at)}.")
    words.append("Check the plate and the time on the notice; if they are right, it is the yard’s own.")
    return " ".join(words)
