"""How much of an order number's value a hire has used: what is on dockets, and about what is not on one yet. Reads only."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Max, Sum

from hire.charge_facts import estimate
from hire.charges import Docket as DaysDocket
from hire.charges import Hire, Terms
from hire.charging.days import ONE_DAY, days_of
from hire.charging.wet import docket_lines, foreseen
from hire.daily_facts import as_charged
from hire.models.agreements import Agreement, Line
from hire.models.daily import DailyDocket
from hire.models.money import AgreedTerms, Docket
from hire.models.off_hire import OffHire

MOMENT = timedelta(microseconds=1)


@dataclass(frozen=True)
class OrderUse:
    """Of one agreement, before tax. line: the first cart on it. about: hire days not on a docket yet, dry by the agreed rates as if
    they were a hire of their own, wet by their daily dockets, and a shift without one by the least it costs; hours over, washing
    and the like come on top."""

    agreement: Agreement
    line: Line
    on_dockets: Decimal
    about: Decimal

    @property
    def used(self) -> Decimal:
        return self.on_dockets + self.about

    @property
    def pct(self) -> Decimal:
        assert self.agreement.order_value is not None
        return self.used * 100 / self.agreement.order_value


@dataclass(frozen=True)
class _Records:
    """What is on record of many lines, by their ids."""

    terms: Mapping[UUID, AgreedTerms]
    docketed: Mapping[UUID, tuple[Decimal, date]]
    stops: Mapping[UUID, datetime]
    daily: Mapping[UUID, Sequence[DaysDocket]]


def _days(lines: Sequence[Line], found: _Records, *, at: datetime) -> list[date]:
    """The days of a hire that no docket has, in order: those on which one of its carts was out."""
    zone = ZoneInfo(lines[0].agreement.time_zone)
    billed_to = max((found.docketed[line.pk][1] for line in lines if line.pk in found.docketed), default=None)
    days = set()
    for line in lines:
        if line.handed_over_at is None:
            continue
        end = min(filter(None, (at, line.back_at, found.stops.get(line.pk)))) - MOMENT
        on, last = line.handed_over_at.astimezone(zone).date(), end.astimezone(zone).date()
        while on <= last:
            if billed_to is None or on > billed_to:
                days.add(on)
            on += ONE_DAY
    return sorted(days)


def _about(lines: Sequence[Line], found: _Records, *, at: datetime) -> Decimal:
    """What the days of a hire that no docket has come to. lines: charged as one, the cart on it now last."""
    agreed = next((found.terms[line.pk] for line in reversed(lines) if line.pk in found.terms), None)
    days = _days(lines, found, at=at)
    if agreed is None or not days:
        return Decimal(0)
    terms = agreed.terms()
    if terms.wet is not None:
        dockets = [one for line in lines for one in found.daily.get(line.pk, ())]
        return _about_wet(days, terms, dockets, lines[-1].agreement)
    count = sum(on.weekday() < terms.days_in_week for on in days)
    return estimate(count, agreed.body, start=days[0]) if count else Decimal(0)


def _about_wet(
    days: Sequence[date], terms: Terms, dockets: Sequence[DaysDocket], agreement: Agreement
) -> Decimal:
    """By the daily dockets of these days, signed or not, and for each shift without one the least that is charged."""
    assert terms.wet is not None
    zone, first, last = ZoneInfo(agreement.time_zone), days[0], days[-1]
    opens = datetime(first.year, first.month, first.day, tzinfo=zone)
    inside = [replace(one, is_signed=True) for one in dockets if first <= one.on <= last]
    hire = Hire(opens, None, zone, dockets=inside)
    lines, _ = docket_lines(hire, terms.wet, days_of(hire, terms, last))
    have = Counter(one.on for one in inside)
    without = [
        on for on in days if on.weekday() < terms.days_in_week
        for _ in range(agreement.shifts_a_day - have[on])
    ]  # fmt: skip
    return sum((line.amount for line in lines), foreseen(without, hours=Decimal(0), terms=terms.wet).total)


def _records(lines: Sequence[Line]) -> _Records:
    """Four queries."""
    terms = AgreedTerms.objects.filter(line__in=lines).order_by("line_id", "-agreed_at").distinct("line_id")
    docketed = Docket.objects.filter(line__in=lines).values("line").order_by()
    daily: defaultdict[UUID, list[DaysDocket]] = defaultdict(list)
    for one in DailyDocket.objects.standing().filter(line__in=lines).select_related("signature"):
        daily[one.line_id].append(as_charged(one))
    return _Records(
        {one.line_id: one for one in terms},
        {
            line_id: (net, through)
            for line_id, net, through in docketed.annotate(net_sum=Sum("net"), last=Max("through"))
            .values_list("line", "net_sum", "last")
        },
        dict(OffHire.objects.standing().filter(line__in=lines).values_list("line", "stops_at")),
        daily,
    )  # fmt: skip


def _hires(lines: Sequence[Line]) -> list[list[Line]]:
    """The lines that are charged as one, in the order their carts came: a cart and those it was swapped for. One query."""
    took = dict(OffHire.objects.swaps().filter(line__in=lines).values_list("replaced_by", "line"))
    by_id, hires = {line.pk: line for line in lines}, []
    for last in (line for line in lines if line.pk not in took.values()):
        hire, before = [last], took.get(last.pk)
        while before in by_id:
            hire.insert(0, by_id[before])
            before = took.get(before)
        hires.append(hire)
    return hires


def order_uses(*, at: datetime) -> list[OrderUse]:
    """Agreements whose order number has a value and that still have a cart promised or out. Six queries."""
    open_ones = Line.objects.unfinished().filter(agreement__order_value__isnull=False)
    lines = list(
        Line.objects.standing()
        .filter(agreement__in=open_ones.values("agreement"))
        .for_list()
        .order_by("promised", "pk")
    )
    found = _records(lines)
    of_agreement: defaultdict[UUID, list[list[Line]]] = defaultdict(list)
    for hire in _hires(lines):
        of_agreement[hire[0].agreement_id].append(hire)
    return [
        OrderUse(
            hires[0][0].agreement,
            hires[0][0],
            sum((found.docketed[line.pk][0] for hire in hires for line in hire if line.pk in found.docketed), Decimal(0)),
            sum((_about(hire, found, at=at) for hire in hires), Decimal(0)),
        )
        for hires in of_agreement.values()
    ]  # fmt: skip
