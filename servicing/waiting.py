"""The order of the workshop's queue: grade first, then time in hand, the least first.

When a cart is next wanted is known by an app above this one, so the order cannot be the database's alone. A light pass
reads the keys of every open defect asked for, one call answers for all their carts, the keys are put in order here, and
only the rows of one page are loaded: the number of queries is the same for three defects and for ten thousand.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from types import MappingProxyType
from typing import NamedTuple
from uuid import UUID

from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.needs import Need, next_need
from fleet.querysets import DefectQuerySet
from fleet.sentences import moment_words

# Until the yard's own repair times are known. Common practice, no source.
REPAIR_PRIOR: Mapping[str, timedelta] = MappingProxyType(
    {"do_not_use": timedelta(hours=2), "by_date": timedelta(hours=1), "watch": timedelta(minutes=30)}
)
_RANK = {"do_not_use": 0, "by_date": 1, "watch": 2}


class Key(NamedTuple):
    """What the order asks of one defect, without loading it."""

    defect_id: UUID
    cart_id: UUID
    grade: str
    state: str
    due_on: date | None
    told_at: datetime
    repaired_by_id: UUID | None


class Place(NamedTuple):
    """A defect's place in the queue. left: until its cart is wanted, negative when that has passed, None when nobody
    waits for it; repair: how long the job is expected to take; out_words: where a cart is that works on with it."""

    key: Key
    left: timedelta | None
    repair: timedelta
    out_words: str


def left_until_wanted(key: Key, need: Need | None, *, at: datetime) -> timedelta | None:
    """Time until the cart is wanted; None when nobody waits for it.

    A cart out on hire that may not be used is missed from the moment the defect was told. One that may go on working
    waits for nothing: its job comes when it is back.
    """
    if need is None:
        return None
    if not need.is_out:
        return need.window.start - at
    return max(need.window.start, key.told_at) - at if key.grade == "do_not_use" else None


def place(key: Key, need: Need | None, *, at: datetime) -> Place:
    """Where a defect stands against its cart's next need (None: it has none)."""
    out = need is not None and need.is_out and key.grade != "do_not_use"
    words = f"At work, expected back {moment_words(need.window.end, at=at)}" if need and out else ""
    return Place(key, left_until_wanted(key, need, at=at), REPAIR_PRIOR[key.grade], words)


def in_order(places: Iterable[Place]) -> list[Place]:
    """Grade, then time in hand; carts nobody waits for follow by their date (one not set yet first), then by telling."""

    def order(one: Place) -> tuple[int, bool, timedelta, date, datetime, UUID]:
        hand = timedelta(0) if one.left is None else one.left - one.repair
        due_on = one.key.due_on or date.min
        return (_RANK[one.key.grade], one.left is None, hand, due_on, one.key.told_at, one.key.defect_id)

    return sorted(places, key=order)


def read_queue(defects: DefectQuerySet, *, at: datetime) -> list[Place]:
    """Every defect of the query in the queue's order, without loading one: three queries."""
    rows = defects.order_by().values_list(
        "pk", "cart_id", "grade", "state", "due_on", "told_at", "repaired_by_id"
    )
    keys = [Key(*row) for row in rows]
    carts = list(Cart.objects.filter(pk__in={key.cart_id for key in keys}).only("pk"))
    needs = next_need(carts, at=at)
    return in_order(place(key, needs.get(key.cart_id), at=at) for key in keys)


def load(places: Sequence[Place]) -> dict[UUID, Defect]:
    """The defects of these places with what a row shows, by id, in one query."""
    return Defect.objects.for_list().in_bulk([one.key.defect_id for one in places])
