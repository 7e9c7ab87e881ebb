"""What the fleet watches: papers that lapse, carts at work whose meters nobody reads, held carts that did not come."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from uuid import UUID

from django.db.models import Max, Q

from fleet.alerts.rules import Condition
from fleet.models.carts import Cart
from fleet.models.equipment import STOPS_ALWAYS, STOPS_ON_ROAD, Document
from fleet.models.permits import MovePermit
from fleet.needs import next_need
from fleet.sentences import past_words
from people.roles import Role
from people.templatetags.screen import day_year
from people.yard import at_local, yard_day, yard_policy

WEEK = timedelta(days=7)


def _stops(kind: str) -> str:
    if kind in STOPS_ALWAYS:
        return "Once it lapses the cart may not leave the gate."
    if kind in STOPS_ON_ROAD:
        return "Once it lapses the cart may not go on a road."
    return "A site may turn the cart away without it."


def papers_lapse(at: datetime) -> Iterator[Condition]:
    """The newest paper of each kind, of each cart and of the yard, that lapses within the yard's lead time or has lapsed.
    One query."""
    today = yard_day(at)
    newest = (
        Document.objects.filter(Q(cart=None) | Q(cart__retired_on=None))
        .order_by("cart_id", "kind", "-expires_on")
        .distinct("cart_id", "kind")
        .values("pk")
    )
    lapsing = Document.objects.filter(
        pk__in=newest, expires_on__isnull=False, expires_on__lte=today + yard_policy().document_lead
    )
    for paper in lapsing.select_related("cart"):
        last = paper.expires_on
        assert last is not None
        name, left = paper.get_kind_display(), last - today
        whose = f"{paper.cart.fleet_number}: {name.lower()}" if paper.cart else f"The yard’s {name.lower()}"
        yield Condition(
            subject_kind="document",
            subject_id=paper.pk,
            cart_id=paper.cart_id,
            rank="today" if left <= WEEK else "soon",
            for_role=Role.FLEET_MANAGER,
            what=f"{whose} {'lapsed after' if left < timedelta(0) else 'lapses after'} {day_year(last)}.",
            how_we_know=f"The paper on record{f', {paper.number},' if paper.number else ''} is good until that day.",
            if_not=_stops(paper.kind) if paper.cart else "Once it lapses no cart may leave the gate."
            if paper.kind in STOPS_ALWAYS else "It covers every cart of the yard.",
            due_at=at_local(last + timedelta(days=1), time.min),
            act="Renew it and record the paper",
        )  # fmt: skip


def _last_reads(carts: list[UUID]) -> dict[UUID, datetime | None]:
    """When a meter of each cart was last read; None: never."""
    rows = Cart.objects.filter(pk__in=carts, meters__removed_at=None, meters__isnull=False)
    return dict(rows.annotate(last=Max("meters__readings__read_at")).values_list("pk", "last"))


def meters_unread(at: datetime) -> Iterator[Condition]:
    """Carts out on hire with a meter that nobody has read for longer than the yard allows. Three queries."""
    needs = next_need(Cart.objects.filter(retired_on=None), at=at)
    out = {cart_id: need for cart_id, need in needs.items() if need.is_out}
    last_reads = _last_reads(list(out))
    numbers = dict(Cart.objects.filter(pk__in=last_reads).values_list("pk", "fleet_number"))
    for cart_id, last in last_reads.items():
        since = max(filter(None, (last, out[cart_id].window.start)))
        if at - since <= yard_policy().meter_stale:
            continue
        yield Condition(
            subject_kind="cart",
            subject_id=cart_id,
            cart_id=cart_id,
            rank="soon",
            for_role=Role.HIRE_DESK,
            what=f"{numbers[cart_id]}: nobody has read its meters for {(at - since).days} days.",
            how_we_know=f"Last read {past_words(last, at=at)}. It is out for {out[cart_id].label}."
            if last
            else f"None of its meters was ever read. It is out for {out[cart_id].label}.",
            if_not="Its services and tyres are reckoned from old figures, and may fall due unseen.",
            act="Ask the site for a photo of the meters",
            evidence_at=last,
        )


def moves_late(at: datetime) -> Iterator[Condition]:
    """Held carts that left on a move permit and have come to no place by its end. One query."""
    under_way = MovePermit.objects.filter(left_at__isnull=False, came_at=None, expires_at__lte=at)
    for permit in under_way.select_related("cart", "driver"):
        left = permit.left_at
        assert left is not None
        yield Condition(
            subject_kind="move_permit",
            subject_id=permit.pk,
            cart_id=permit.cart_id,
            rank="today",
            for_role=Role.WORKSHOP_MANAGER,
            what=f"{permit.cart.fleet_number} has not come to {permit.to_words} on move permit {permit.number}.",
            how_we_know=f"It left {past_words(left, at=at)} with {permit.driver_named}; the permit ended "
            f"{past_words(permit.expires_at, at=at)}.",
            if_not="A held cart is somewhere on its way, and nobody knows where.",
            due_at=permit.expires_at,
            act="Ring the driver, and record where it is",
            evidence_at=left,
        )
