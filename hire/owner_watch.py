"""The alert that an owner's clock runs for a cart nobody hires from us."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Prefetch

from fleet.alerts.rules import Condition
from fleet.sentences import moment_words, past_words
from hire.charge_stop import cut_off_words
from hire.models.agreements import Line
from hire.models.off_hire import OffHire
from hire.models.owners import HireIn
from hire.swap_income import ended_at
from people.roles import Role
from people.yard import day_bounds, yard_day

# A cart that leaves again so soon is kept. Common practice, no source.
KEPT_FOR = timedelta(days=1)


def owner_clocks(at: datetime) -> Iterator[Condition]:
    """Carts hired in that no hire of ours has now and none takes by the end of tomorrow, while nobody called the owner off; and
    those the owner expected back. Three queries."""
    rows = list(HireIn.objects.running(at=at).filter(called_at=None).for_list())
    lines = Line.objects.standing().filter(cart__in=[row.cart_id for row in rows]).for_list()
    by_cart: defaultdict[UUID, list[Line]] = defaultdict(list)
    for line in lines.prefetch_related(Prefetch("off_hires", OffHire.objects.standing())).order_by(
        "promised"
    ):
        by_cart[line.cart_id].append(line)
    for row in rows:
        ended = _idle_since(by_cart[row.cart_id], row, at=at)
        late = row.period.upper if row.period.upper <= at else None
        if ended is None and late is None:
            continue
        cart, owner = row.cart.fleet_number, row.owner.name
        stopped = f"its hire from us ended {past_words(ended, at=at)}" if ended else ""
        expected = f"{owner} agreed to it until {moment_words(late, at=at)}" if late else ""
        yield Condition(
            subject_kind="hire_in",
            subject_id=row.pk,
            cart_id=row.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{owner}’s clock for {cart} still runs: {stopped or expected}.",
            how_we_know=f"No call to {owner} is on record. {row.owner.contact_name}, {row.owner.phone}.",
            if_not=f"{owner} charges every day until called off. {cut_off_words(row.cut_off)}",
            due_at=ended or late,
            act="Call the owner off" if ended else "Call the owner off, or agree on longer",
        )


def _idle_since(lines: Sequence[Line], row: HireIn, *, at: datetime) -> datetime | None:
    """Since when no hire of ours has the cart; None while one has, while one takes it soon, and before the first had it."""
    soon = day_bounds(yard_day(at) + KEPT_FOR)[1]
    ends = []
    for line in lines:
        if line.handed_over_at is None:
            if line.promised.lower < soon:
                return None
            continue
        ended = ended_at(line)
        if ended is None or ended > at:
            return None
        if ended > row.period.lower:
            ends.append(ended)
    return max(ends, default=None)
