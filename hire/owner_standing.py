"""What a cart's owner has to do with its right to go: the owner's period, the owner's insurance, and a cart given back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Prefetch

from fleet.models.carts import Cart
from fleet.readiness import Blocker, Caution, Readiness, Record, Window
from fleet.sentences import moment_words
from hire.models.owners import HireIn, OwnerPaper
from people.roles import DESK
from people.yard import day_bounds, yard_day

Finding = Blocker | Caution
# Begins the code of all that is between the yard and an owner.
OURS_ALONE = "hire.owner_"
OWNER_ENDS = f"{OURS_ALONE}period_ends"
GIVEN_BACK = "hire.back_with_owner"
# What a customer reads of it.
GONE = "The cart is not with the yard; the yard sends another."


def with_us(carts: Sequence[Cart]) -> set[UUID]:
    """Which of these carts are hired in, and not our own to keep. One query."""
    return set(HireIn.objects.standing().filter(cart__in=carts).values_list("cart", flat=True))


def without_owner(answer: Readiness) -> Readiness:
    """The answer as a customer may read it: nothing of the cart's owner."""
    return replace(
        answer,
        blockers=tuple(
            replace(one, sentence=GONE) if one.code == GIVEN_BACK else one
            for one in answer.blockers
            if not one.code.startswith(OURS_ALONE)
        ),
        cautions=tuple(one for one in answer.cautions if not one.code.startswith(OURS_ALONE)),
    )


def owner_findings(
    carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime
) -> dict[UUID, list[Finding]]:
    """By cart id. Two queries however many carts."""
    insurances = OwnerPaper.objects.filter(kind="insurance").order_by("-recorded_at")
    rows = (
        HireIn.objects.filter(cart__in=carts, struck_at=None)
        .select_related("owner", "cart")
        .prefetch_related(Prefetch("owner__papers", insurances))
        .order_by("period")
    )
    by_cart: defaultdict[UUID, list[HireIn]] = defaultdict(list)
    for row in rows:
        by_cart[row.cart_id].append(row)
    return {cart_id: _findings(found, windows[cart_id], at=at) for cart_id, found in by_cart.items()}


def _findings(rows: Sequence[HireIn], window: Window, *, at: datetime) -> list[Finding]:
    standing = [row for row in rows if row.returned_at is None]
    if not standing:
        return [_given_back(rows[-1], at=at)]
    last = standing[-1]
    found: list[Finding] = [*_period(standing, window, at=at)]
    return found + _insurance(last, window)


def _given_back(row: HireIn, *, at: datetime) -> Blocker:
    return Blocker(
        GIVEN_BACK,
        f"Back with its owner, {row.owner.name}, since {moment_words(row.returned_at or at, at=at)}.",
        Record("cart", row.cart_id),
        DESK,
        "Hire desk: hire it in again, or use another cart",
        weight=25,
    )


def _period(rows: Sequence[HireIn], window: Window, *, at: datetime) -> list[Finding]:
    """What of the window the owner has not agreed to. A cart that is not the yard's to send when it would leave stays; one
    that is out already is brought back by people, not by this."""
    first, last = rows[0], rows[-1]
    starts = first.period.lower
    ends = min(last.period.upper, last.stops_at) if last.stops_at else last.period.upper
    owner, record, found = last.owner.name, Record("cart", last.cart_id), list[Finding]()
    if window.start < starts:
        sentence = f"Hired in from {owner} only from {moment_words(starts, at=at)}."
        if window.asks_gate:
            clear = f"Hire desk: agree an earlier start with {owner} and record it, or use another cart"
            return [Blocker("hire.owner_period_starts", sentence, record, DESK, clear, weight=27)]
        found.append(Caution("hire.owner_period_starts", sentence, record, starts, "it comes from its owner"))
    if window.end > ends:
        until = moment_words(ends, at=at)
        why = "called off with" if last.stops_at and last.stops_at <= last.period.upper else "hired in from"
        if window.asks_gate and window.start >= ends:
            clear = f"Hire desk: agree more with {owner} and record it, or use another cart"
            sentence = f"It is {why} {owner}, until {until}."
            return [Blocker(OWNER_ENDS, sentence, record, DESK, clear, weight=27)]
        sentence = f"It is {why} {owner}, until {until}: agree the rest with the owner before it is promised past that."
        found.append(Caution(OWNER_ENDS, sentence, record, ends, "its owner’s period ends"))
    return found


def _insurance(row: HireIn, window: Window) -> list[Finding]:
    owner, record = row.owner.name, Record("cart", row.cart_id)
    paper = next(iter(row.owner.papers.all()), None)
    if paper is None:
        sentence = f"No insurance of its owner, {owner}, is on record. Ask for it."
        return [
            Caution("hire.owner_insurance", sentence, record, None, "its owner’s insurance is not on record")
        ]
    if paper.has_lapsed(on=yard_day(window.start)):
        return [
            Blocker(
                "hire.cart_insurance", f"Its insurance lapsed after {paper.expires_on:%-d %b %Y}.", record, DESK,
                f"Hire desk: get the new insurance of its owner, {owner}, and record it", weight=40,
            )
        ]  # fmt: skip
    if paper.expires_on and paper.has_lapsed(on=yard_day(window.end - timedelta(microseconds=1))):
        sentence = f"The insurance of its owner, {owner}, is good until {paper.expires_on:%-d %b %Y}."
        due = day_bounds(paper.expires_on)[1]
        return [Caution("hire.owner_insurance", sentence, record, due, "its owner’s insurance lapses")]
    return []
