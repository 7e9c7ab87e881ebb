"""What carts hired in cost us, hire by hire. For the desk and the fleet manager alone: no customer's paper or page asks here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.db.models import Prefetch, Q, Sum

from hire.cross_hire import OwnerCost, Share, Shares, Span, last_charged, owner_cost, shared
from hire.models.agreements import Line
from hire.models.money import Docket
from hire.models.off_hire import OffHire
from hire.models.owners import HireIn
from hire.swap_income import DocketPart, docket_parts, ended_at
from people.yard import yard_day, yard_policy

NOTHING = Share(0, Decimal("0.00"))


@dataclass(frozen=True)
class LineCost:
    """One hire of ours with what it bears of the owner's charge. charged: its dockets before tax; parts: where a cart was swapped,
    the lines of the hire's dockets, of which `charged` is this cart's."""

    line: Line
    share: Share
    charged: Decimal
    parts: Sequence[DocketPart]

    @property
    def margin(self) -> Decimal:
        return self.charged - self.share.amount


@dataclass(frozen=True)
class HireInCost:
    """cost: the owner's charge to now, or to the call; idle: what no hire of ours bears."""

    cost: OwnerCost
    lines: Sequence[LineCost]
    idle: Share

    @property
    def charged(self) -> Decimal:
        return sum((one.charged for one in self.lines), Decimal(0))

    @property
    def margin(self) -> Decimal:
        return self.charged - self.cost.total

    @property
    def shared(self) -> list[LineCost]:
        """The hires on which a cart was swapped."""
        return [one for one in self.lines if one.parts]


def cost_now(hire_in: HireIn, *, at: datetime) -> OwnerCost | None:
    """The owner's charge to now, or to the call; None before the period begins, and for what is struck out."""
    if hire_in.struck_at is not None or hire_in.period.lower > at:
        return None
    first = yard_day(hire_in.period.lower)
    stopped = hire_in.stops_at is not None and hire_in.stops_at <= at
    last = (
        last_charged(hire_in.stops_at, zone=yard_policy().zone)
        if stopped and hire_in.stops_at
        else yard_day(at)
    )
    return owner_cost(
        first=first, last=max(first, last), rates=hire_in.rates, minimum_days=hire_in.minimum_days
    )


def _lines(hire_in: HireIn, *, at: datetime) -> list[Line]:
    """Hires of the cart that left while it was with us, in the order they left. Two queries."""
    until = hire_in.stops_at or at
    lines = Line.objects.standing().filter(
        Q(back_at=None) | Q(back_at__gt=hire_in.period.lower), cart=hire_in.cart_id, handed_over_at__lt=until
    )
    return list(
        lines.for_list()
        .prefetch_related(Prefetch("off_hires", OffHire.objects.standing()))
        .order_by("handed_over_at")
    )


def _span(line: Line, *, at: datetime) -> Span:
    zone, ends = yard_policy().zone, ended_at(line)
    left_on = yard_day(line.handed_over_at or at)
    return Span(str(line.pk), left_on, last_charged(ends, zone=zone) if ends and ends <= at else yard_day(at))


def _shares(hire_in: HireIn, cost: OwnerCost, lines: Sequence[Line], *, at: datetime) -> Shares:
    return shared(cost, [_span(line, at=at) for line in lines])


def cost_of(hire_in: HireIn, *, at: datetime) -> HireInCost | None:
    """What a cart hired in costs, and what each hire of it bears and earned. As many queries for one hire as for many."""
    cost = cost_now(hire_in, at=at)
    if cost is None:
        return None
    lines = _lines(hire_in, at=at)
    found = _shares(hire_in, cost, lines, at=at)
    parts = docket_parts(lines)
    charged = _charged(lines) | {key: sum((one.share for one in of), Decimal(0)) for key, of in parts.items()}
    rows = [
        LineCost(
            line,
            found.by_hire.get(str(line.pk), NOTHING),
            charged.get(line.pk, Decimal(0)),
            parts.get(line.pk, ()),
        )
        for line in lines
    ]
    return HireInCost(cost, rows, found.idle)


def _charged(lines: Sequence[Line]) -> dict[UUID, Decimal]:
    rows = Docket.objects.filter(line__in=lines).order_by().values("line").annotate(net_sum=Sum("net"))
    return {row["line"]: row["net_sum"] for row in rows}


@dataclass(frozen=True)
class OwnersPart:
    """What one hire of ours bears of one owner's charge."""

    hire_in: HireIn
    cost: OwnerCost
    share: Share


def owners_parts(line: Line, *, at: datetime) -> list[OwnersPart]:
    """What a hire bears of what its cart's owner charges; empty for a cart of our own. Queries by the hires of the cart from its
    owner, of which there is one, or a few."""
    if line.handed_over_at is None:
        return []
    ends = line.back_at or at
    rows = HireIn.objects.filter(
        Q(stops_at=None) | Q(stops_at__gt=line.handed_over_at), cart=line.cart_id, struck_at=None,
        period__startswith__lte=max(ends, line.handed_over_at + timedelta(minutes=1)),
    )  # fmt: skip
    parts = []
    for hire_in in rows.for_list().order_by("period"):
        if cost := cost_now(hire_in, at=at):
            found = _shares(hire_in, cost, _lines(hire_in, at=at), at=at)
            parts.append(OwnersPart(hire_in, cost, found.by_hire.get(str(line.pk), NOTHING)))
    return parts
